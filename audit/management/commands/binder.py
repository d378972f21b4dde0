"""The binder of one clinic as a PDF file: everything an inspector may ask for, with where each answer comes from."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path

from audit.binder.pdf.page import SIZES
from audit.binder.sections import EXTENTS, INSPECTOR, Binder
from audit.issue.files import NotWritten, write_whole
from audit.issue.make import Made, TooBusy, contents, make
from audit.issue.seal.manifest import contents_json
from audit.issue.wish import Wish
from audit.management import all_clinics
from audit.management import options as o
from records import clock


def _where_to(options) -> None:
    """Raises BadInput where the result would go nowhere, or many results to one place."""
    if options["out"] is None and not options["json"]:
        raise o.BadInput("--out is missing. Name the file to write, or take --json to have the contents printed.")
    if options["json"] and options["all_of"]:
        raise o.BadInput("--json is for one clinic. Leave out --all and name the clinic.")


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", nargs="?", help="short name of the clinic")
        parser.add_argument("--from", dest="from_on", required=True, help="first day of the period, inclusive")
        parser.add_argument("--to", dest="to_on", required=True, help="last day of the period, inclusive")
        parser.add_argument("--as-of", help="the day to judge (year-month-day); today when left out")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")
        parser.add_argument("--out", type=Path, help="the file to write; with --all, a folder; optional with --json")
        parser.add_argument(
            "--json", action="store_true", help="the contents as JSON, as attached to the PDF: printed, or to --out"
        )
        parser.add_argument("--page", choices=sorted(SIZES), default="letter", help="size of paper")
        parser.add_argument(
            "--extent", choices=EXTENTS, default=INSPECTOR,
            help="what an inspector reads (of loads the last weeks and what is not plain), or everything on record",
        )  # fmt: skip
        parser.add_argument("--unsigned", action="store_true", help="leave the signature off, though there is a key")
        all_clinics.add_arguments(parser)

    def handle(self, *args, **options):
        try:
            _where_to(options)
        except o.BadInput as error:
            o.refuse(self, error)
        if options["all_of"]:
            all_clinics.run(self, options)
        started = time.monotonic()
        try:
            all_clinics.refuse_alone(options)
            wish = Wish(*o.binder_days(options), options["page"], options["extent"])
            clinic = o.clinic_by_slug(options["clinic"])
            if options["json"]:
                self._json(contents(clinic, wish)[0], options["out"])
            made, content, how = _made(clinic, wish, options["unsigned"])
            write_whole(options["out"], content, o.OUT_NOT_WRITTEN)
        except (o.BadInput, NotWritten, TooBusy) as error:
            o.refuse(self, error)
        seconds, binder = time.monotonic() - started, made.binder
        self.stdout.write(f"{options['out']}: {binder.clinic}, {binder.period}, as of {binder.as_of}")
        self.stdout.write(f"{made.pages} pages, {len(content)} bytes, {seconds:.2f} seconds; {how}")
        self.stdout.write(f"SHA-256 {hashlib.sha256(content).hexdigest()}")
        if content is not made.body:
            self.stdout.write(f"SHA-256 before signing {hashlib.sha256(made.body).hexdigest()}")
        if binder.forbidding:
            self.stdout.write(
                f"Forbids use: {binder.forbidding} (units out of service and open items; see the binder)"
            )
        o.end(self, 1 if binder.forbidding else 0)

    def _json(self, binder: Binder, out: Path | None) -> None:
        """Print the contents, or write them; then end as with a PDF."""
        content = contents_json(binder)
        if out is None:
            self.stdout.write(content.decode(), ending="")
        else:
            write_whole(out, content, o.OUT_NOT_WRITTEN)
            self.stdout.write(f"{out}: contents as JSON, {len(content)} bytes")
        o.end(self, 1 if binder.forbidding else 0)


def _made(clinic, wish: Wish, unsigned: bool) -> tuple[Made, bytes, str]:
    """What was made, the file to write, signed where there is a key, and in words which of the two it is."""
    from audit.issue.seal.keys import NoKey, load_key
    from audit.issue.seal.sign import reason_of, refuse_outside_validity, sealing_of, sign

    if unsigned:
        made = make(clinic, wish)
        return made, made.body, "not signed, as asked"
    try:
        seal = load_key()
        sealing = sealing_of(seal, "", clock.now())
        refuse_outside_validity(seal, sealing.at)
    except NoKey as problem:
        made = make(clinic, wish)
        return made, made.body, f"not signed: {problem}"
    made = make(clinic, wish, sealing=sealing)
    return made, sign(made.body, by=sealing.by, reason=reason_of(made), at=sealing.at, seal=seal), "signed"
