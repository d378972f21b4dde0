"""Labels with a square to scan for the units of a clinic, twenty to a sheet, as a PDF file."""

from __future__ import annotations

import hashlib
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings

from audit.binder.pdf.page import SIZES
from audit.issue.files import NotWritten, write_whole
from audit.issue.unit_labels import print_labels
from audit.management import options as o
from records import access, clock
from records.log.may_be_logged import zone_of

LOCAL = {"localhost", "127.0.0.1", "::1", "0.0.0.0"}  # noqa: S104 (names to warn of, nothing listens there)


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", help="short name of the clinic")
        parser.add_argument(
            "--unit", action="append", default=[], help="the clinic's own label of a unit; all when left out"
        )
        parser.add_argument("--skip", type=int, default=0, help="places of the first sheet that are used already")
        parser.add_argument("--address", help="address of this site, such as https://standing.example")
        parser.add_argument("--out", required=True, type=Path, help="the file to write")
        parser.add_argument("--page", choices=sorted(SIZES), default="letter", help="size of paper")

    def handle(self, *args, **options):
        try:
            body, sheets, count = self._printed(options)
            write_whole(options["out"], body, o.OUT_NOT_WRITTEN)
        except (o.BadInput, NotWritten) as error:
            o.refuse(self, error)
        self.stdout.write(f"{options['out']}: {count} label(s) on {sheets} sheet(s)")
        self.stdout.write(f"SHA-256 {hashlib.sha256(body).hexdigest()}")
        o.end(self, 0)

    def _printed(self, options):
        clinic = o.clinic_by_slug(options["clinic"])
        units = _chosen(access.as_corrected(access.units_of_clinic(clinic)), options["unit"])
        today = clock.today(zone_of(clinic))
        try:
            body, sheets = print_labels(
                clinic, units, _site(options["address"]), today, skip=options["skip"], page=options["page"]
            )
        except ValueError as error:
            raise o.BadInput(str(error)) from None
        return body, sheets, len(units)


def _site(given: str | None) -> str:
    """The address of the site. Raises BadInput for one that leads to this machine only, unless it was given."""
    address = given or getattr(settings, "SITE_ADDRESS", "")
    parts = urlsplit(address)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise o.BadInput(f"--address “{address}” is not the address of a site. Write it as https://standing.example.")
    if not given and parts.hostname in LOCAL:
        raise o.BadInput(
            f"The labels would lead to {address}, which is this machine only: no telephone finds it. Give --address, "
            "or set STANDING_ADDRESS to the address at which the site is reached."
        )
    return address


def _chosen(units: list, labels: list[str]) -> list:
    """The units of those labels, all without one. Raises BadInput for a label that no unit has."""
    known = {unit.label for unit in units}
    if unknown := [label for label in labels if label not in known]:
        names = ", ".join(sorted(known)) or "none"
        raise o.BadInput(f"The clinic has no unit labelled “{unknown[0]}”. Its units: {names}.")
    return [unit for unit in units if not labels or unit.label in labels]
