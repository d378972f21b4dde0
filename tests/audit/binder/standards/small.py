"""A small binder with every kind of element, as the program writes it: what the defects are put into."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import cache

from audit.binder.pdf import render
from audit.binder.pdf.finish import finished
from audit.binder.pictures.values import Charts, ReadingChart, Sample
from audit.binder.sections import (
    Binder,
    CaseTimeline,
    Cell,
    Column,
    KeyValues,
    Links,
    Paragraph,
    Section,
    Table,
    TimelineStep,
    Title,
)
from audit.issue.seal.embed import File, embed

AS_OF = date(2026, 5, 31)
FILE = File("contents.json", b'{"kind": "Binder"}', "application/json", "Data", "The contents as data")


def _chart() -> Charts:
    """A figure with its words: one quantity, read twice."""
    first, last = date(2026, 1, 5), date(2026, 5, 4)
    samples = tuple(
        Sample(on, None, Decimal(value), None, Decimal("0.13"), "9")
        for on, value in ((first, "0.03"), (last, "0.04"))
    )
    alt = "Air leakage test in kPa/min: 2 readings, 0.03 and 0.04; limit ≤ 0.13."
    drawn = ReadingChart("Air leakage test", "kPa/min", first, last, samples, 2, False, alt)
    return Charts("Readings", (drawn,), (("left", "measured"), ("limit", "limit")), "The rows are in the tests.")


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
    tests = Section("tests", "Spore tests", 2, (Table("Tests", columns, lines), _chart()))
    back = Section("more", "By the month", 3, (Links("Answers", (Cell("1", to="unit"), Cell("2", to="tests"))),))
    last = Section("method", "Method", 1, (Paragraph("قياس الضغط"),))
    sections = (cover, unit, tests, back, last)
    return Binder(
        "Record of Żółć Dental", "Żółć Dental", "May 2026", date(2026, 5, 1), AS_OF, AS_OF, None, 0, sections
    )


@cache
def good() -> bytes:
    return finished(render(binder()), lambda pdf: embed(pdf, (FILE,), AS_OF))
