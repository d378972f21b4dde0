"""Blank forms for use without power: a sheet for a day, a week or a service visit, a unit on each, as a PDF file."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

from audit.binder.pdf.page import SIZES
from audit.facts import ClinicFacts
from audit.gather.read import clinic_facts, day_at
from audit.issue.blank_forms import AHEAD, KINDS, NoUnit, print_sheets
from audit.issue.files import NotWritten, write_whole
from audit.management import options as o
from records import clock


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", help="short name of the clinic")
        parser.add_argument("--kind", choices=sorted(KINDS), required=True, help="which sheet")
        parser.add_argument("--unit", help="the clinic's own label of one unit; all units in use when left out")
        parser.add_argument(
            "--on", help="the day it is for, or a day of the week (year-month-day); today if left out"
        )
        parser.add_argument("--undated", action="store_true", help="leave the day blank, for a stock of sheets")
        parser.add_argument("--out", required=True, type=Path, help="the file to write")
        parser.add_argument("--page", choices=sorted(SIZES), default="letter", help="size of paper")

    def handle(self, *args, **options):
        try:
            printed = self._printed(options)
            write_whole(options["out"], printed.body, o.OUT_NOT_WRITTEN)
        except (o.BadInput, NotWritten) as error:
            o.refuse(self, error)
        self.stdout.write(f"{options['out']}: {printed.sheets} sheet(s), {printed.pages} pages")
        self.stdout.write(f"SHA-256 {hashlib.sha256(printed.body).hexdigest()}")
        o.end(self, 0)

    def _printed(self, options):
        facts = clinic_facts(o.clinic_by_slug(options["clinic"]))
        today = day_at(facts, clock.now())
        on = None if options["undated"] else o.parse_day(options["on"], "--on") or today
        if options["undated"] and options["on"]:
            raise o.BadInput("--on and --undated contradict each other: give the day, or leave it blank, not both.")
        if on and on > today + timedelta(days=AHEAD):
            raise o.BadInput(f"--on {on} lies more than a year ahead. Choose a nearer day, or --undated.")
        unit = _origin(facts, options["unit"]) if options["unit"] else ""
        try:
            return print_sheets(facts, options["kind"], today=today, on=on, unit=unit, page=options["page"])
        except NoUnit as error:
            raise o.BadInput(str(error)) from None


def _origin(facts: ClinicFacts, label: str) -> str:
    """The unit of that label. Raises BadInput when none or several have it."""
    found = [unit.ref for unit in facts.units if unit.label == label]
    if len(found) == 1:
        return found[0]
    known = ", ".join(sorted(unit.label for unit in facts.units)) or "none"
    what = "has no unit" if not found else "has several units"
    raise o.BadInput(f"The clinic {what} labelled “{label}”. Its units: {known}.")
