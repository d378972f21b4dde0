"""A small binder with every kind of element, as the program writes it: what the defects are put into."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

from audit.binder.pdf import render
from audit.binder.pdf.finish import finished
from audit.binder.sections import (
    Binder,
    CaseTimeline,
    Cell,
    Column,
    KeyValues,
    Links,
    Paragraph,
    Section,
    Strip,
    StripWeek,
    Table,
    TimelineStep,
    Title,
)
from audit.issue.seal.embed import File, embed

AS_OF = date(2026, 5, 31)
FILE = File("contents.json", b'{"kind": "Binder"}', "application/json", "Data", "The contents as data")


def _weeks() -> tuple[StripWeek, ...]:
    start = date(2026, 1, 5)
    marks = (("P", "passed"), ("M", "missed"), ("P", "passed"))
    return tuple(
        StripWeek(start + timedelta(weeks=n), start + timedelta(weeks=n, days=6), *marks[n % 3]) for n in range(6)
    )


def binder(rows: int = 70) -> Binder:
    """Two chapters; the table of `rows` rows goes over the edge of a page, and one cell of its first row is blank."""
    columns = (Column("Day", 20), Column("Result", 30), Column("Note", 50))
    lines = tuple((Cell(f"day {n}"), Cell("passed"), Cell("" if n == 0 else f"note {n}")) for n in range(rows))
    cover = Section("cover", "Cover", 1, (Title("Sterilizer record", "Żółć Dental", ("May 2026",)),))
    pairs = KeyValues("The unit", (("Serial", Cell("0091")), ("Tests", Cell("see the tests", to="tests"))))
    steps = (
        TimelineStep("done", "4 May 2026", "Withdrawn", ("by Ida Lund",)),
        TimelineStep("open", "", "Repeat", ()),
    )
    unit = Section(
        "unit", "Unit S1", 1, (Paragraph("May be used. " * 40), pairs, CaseTimeline("What was done", steps))
    )
    strip = Strip("Weeks", _weeks(), (("P", "passed", "a test that passed"), ("M", "missed", "no test")))
    tests = Section("tests", "Spore tests", 2, (Table("Tests", columns, lines), strip))
    back = Section("more", "By the month", 3, (Links("Answers", (Cell("1", to="unit"), Cell("2", to="tests"))),))
    last = Section("method", "Method", 1, (Paragraph("قياس الضغط"),))
    sections = (cover, unit, tests, back, last)
    return Binder(
        "Record of Żółć Dental", "Żółć Dental", "May 2026", date(2026, 5, 1), AS_OF, AS_OF, None, 0, sections
    )


@cache
def good() -> bytes:
    return finished(render(binder()), lambda pdf: embed(pdf, (FILE,), AS_OF))
