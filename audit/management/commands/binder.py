"""The binder of one clinic as a PDF file: everything an inspector may ask for, with where each answer comes from."""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
from pathlib import Path

from django.core.management.base import BaseCommand

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out
from audit.binder.pdf.draw import draw
from audit.binder.pdf.page import SIZES, sheet
from audit.evaluate import coverage_over, evaluate
from audit.gather import clinic_facts, day_at
from audit.management import options as o
from records import clock


def write_whole(path: Path, content: bytes) -> None:
    """Write beside the file, then rename: whoever reads `path` finds the old file or the new one, never a part.

    Raises BadInput when the file cannot be written.
    """
    temporary = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".binder-", delete=False) as file:
            temporary = file.name
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise o.BadInput(
            f"--out “{path}” cannot be written: {error.strerror}. "
            "Name a file in a folder that exists and that you may write to."
        ) from None


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", help="short name of the clinic")
        parser.add_argument("--from", dest="from_on", required=True, help="first day of the period, inclusive")
        parser.add_argument("--to", dest="to_on", required=True, help="last day of the period, inclusive")
        parser.add_argument("--as-of", help="the day to judge (year-month-day); today when left out")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")
        parser.add_argument("--out", required=True, type=Path, help="the file to write")
        parser.add_argument("--page", choices=sorted(SIZES), default="letter", help="size of paper")

    def handle(self, *args, **options):
        started = time.monotonic()
        try:
            binder = self._contents(options)
            pages = lay_out(binder, sheet(options["page"]))
            content = draw(binder, pages, sheet(options["page"]))
            write_whole(options["out"], content)
        except o.BadInput as error:
            o.refuse(self, error)
        seconds = time.monotonic() - started
        self.stdout.write(f"{options['out']}: {binder.clinic}, {binder.period}, as of {binder.as_of}")
        self.stdout.write(f"{len(pages)} pages, {len(content)} bytes, {seconds:.2f} seconds")
        self.stdout.write(f"SHA-256 {hashlib.sha256(content).hexdigest()}")
        if binder.forbidding:
            self.stdout.write(
                f"Forbids use: {binder.forbidding} (units out of service and open items; see the binder)"
            )
        o.end(self, 1 if binder.forbidding else 0)

    def _contents(self, options):
        from_on = o.parse_day(options["from_on"], "--from")
        to_on = o.parse_day(options["to_on"], "--to")
        as_of = o.not_ahead(o.parse_day(options["as_of"], "--as-of"), "--as-of")
        known_at = o.parse_moment(options["known_at"], "--known-at")
        if from_on > to_on:
            raise o.BadInput(f"--from {from_on} is after --to {to_on}: the period would hold no day. Swap the two.")
        facts = clinic_facts(o.clinic_by_slug(options["clinic"]), known_at=known_at)
        as_of = as_of or day_at(facts, known_at or clock.now())
        kept = coverage_over(facts, as_of, from_on, to_on)
        return binder_contents(facts, evaluate(facts, as_of), from_on=from_on, to_on=to_on, coverage=kept)
