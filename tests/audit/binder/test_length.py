"""How long a binder is, by layout: a small place, the first page of a unit; and on which page a note stands."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from audit.binder import heights
from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out
from audit.binder.pdf.bidi import drawn
from audit.binder.pdf.blocks import block_pieces
from audit.binder.pdf.marks import Text
from audit.binder.pdf.page import sheet
from audit.binder.sections import Beside, Binder
from audit.judge import judgement as j
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.bench import histories

SMALL_PLACE = 16  # pages, for an inspector
SIZES = ["letter", "a4"]


def of_a_year(*, daily: bool, failures: int) -> Binder:
    """One unit, a year, 250 loads, two visits."""
    unit = histories.unit(years=1, daily=daily, failures=failures, visits=2, loads=250)
    facts = histories.clinic(unit, regime="us-dental-cdc-2003")
    first, last = histories.LAST - timedelta(days=365), histories.LAST
    kept = coverage_over(facts, last, first, last)
    return binder_contents(facts, evaluate(facts, last), from_on=first, to_on=last, coverage=kept)


def words(page) -> str:
    marks = (mark for _, piece in page.placed for run in piece.runs for mark in run.marks)
    return " ".join(mark.text for mark in marks if isinstance(mark, Text)).replace("\u00a0", " ")


def pages_of(binder: Binder, section: str, size: str) -> list[int]:
    """The pages on which a section stands, from that of its heading to that of the next."""
    found, on = [], False
    for number, page in enumerate(lay_out(binder, sheet(size)), start=1):
        here = [piece for _, piece in page.placed]
        for piece in here:
            if piece.anchor:
                on = piece.anchor.id == section
            if on and (not found or found[-1] != number):
                found.append(number)
    return found


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("failures", [0, 1])
def test_a_small_place_is_sixteen_pages_at_most(size, failures):
    binder = of_a_year(daily=False, failures=failures)
    assert len(binder.sections) > 10
    assert len(lay_out(binder, sheet(size))) <= SMALL_PLACE


@pytest.mark.parametrize("size", SIZES)
def test_what_a_unit_opens_with_is_one_page(size):
    of_full = binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)
    for binder in (of_full, of_a_year(daily=False, failures=1), of_a_year(daily=True, failures=1)):
        openers = [each.id for each in binder.sections if re.fullmatch(r"unit-\d+", each.id)]
        assert openers and [len(pages_of(binder, each, size)) for each in openers] == [1] * len(openers)


@pytest.mark.parametrize("size", SIZES)
def test_the_page_named_for_notes_and_items_is_the_one_they_stand_on(size):
    facts, judgement = full.clinic()
    many = tuple(
        j.Finding("odd", j.Severity.NOTE, date(2025, 7, 1) + timedelta(days=n), f"Odd thing number {n:03}.",
                  f"look at it {n}", (), None, "clinic")
        for n in range(90)
    )  # fmt: skip
    unit = judgement.units[0]
    last = replace(
        unit.findings[0],
        severity=j.Severity.PUT_RIGHT,
        since=None,
        message="A door that squeaks",
        way_out="oil it",
        evidence=(),
    )
    said = replace(unit, findings=(*unit.findings, *many[60:], last))
    other = replace(judgement.units[1], findings=many[:60])
    binder = binder_contents(facts, replace(judgement, units=(said, other)), from_on=sample.FROM, to_on=sample.TO)
    pages = [words(page) for page in lay_out(binder, sheet(size))]
    opener = pages[pages_of(binder, "unit-1", size)[0] - 1]

    def where(text: str) -> int:
        return next(n for n, page in enumerate(pages, start=1) if text in page and "Open items, worst first" in page
                    or text in page and n in chapter)  # fmt: skip

    chapter = pages_of(binder, "open-items", size)
    assert len(chapter) > 1
    first, end = where("Odd thing number 060"), where("Odd thing number 089")
    asked = f"{first}, {end}" if first != end else str(first)
    assert re.search(rf"30 further notes to be known {asked}\b", opener), opener[-400:]
    assert re.search(rf"A door that squeaks\. {where('A door that squeaks')}\b", opener)
    assert first > chapter[0]


@pytest.mark.parametrize("size", SIZES)
def test_twelve_units_take_one_first_page_and_one_more(size):
    units = [
        replace(histories.unit(years=1, daily=False, seed=n, failures=n % 2, visits=1, loads=12), label=f"Unit {n}")
        for n in range(1, 13)
    ]
    facts = histories.clinic(*units, regime="us-dental-cdc-2003")
    first, last = histories.LAST - timedelta(days=90), histories.LAST
    binder = binder_contents(facts, evaluate(facts, last), from_on=first, to_on=last)
    assert [pages_of(binder, each, size) for each in ("cover", "cover-continued")] == [[1], [2]]
    assert pages_of(binder, "answers", size)[0] == 3


@pytest.mark.parametrize(
    ("text", "drawn_as"),
    [
        ("Overdue. \u05d0\u05d1 12: test, 14 Jun.", "Overdue. 12 \u05d1\u05d0: test, 14 Jun."),
        ("\u05d0\u05d1 12, \u0141\xf3d\u017a. Medical.", "12 \u05d1\u05d0, \u0141\xf3d\u017a. Medical."),
        ("\u05d0\u05d1 (12)", "(12) \u05d1\u05d0"),
        ("Unit \u05d0\u05d1 3 · 8 Sep 2025: planned", "Unit 3 \u05d1\u05d0 · 8 Sep 2025: planned"),
    ],
)
def test_a_line_with_a_name_from_the_right_runs_from_the_left(text, drawn_as):
    assert drawn(text) == drawn_as


@pytest.mark.parametrize("binder", ["of a year", "full"])
def test_the_first_page_is_reckoned_close_to_what_it_takes_and_never_less(binder):
    of_full = binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)
    made, paper = {"of a year": of_a_year(daily=True, failures=1), "full": of_full}[binder], sheet("letter")
    for block in made.sections[0].blocks:
        parts = (*block.left, *block.right) if isinstance(block, Beside) else (block,)
        drawn_high = sum(piece.above + piece.height for piece in block_pieces(block, paper))
        reckoned = max(map(heights.of, parts))
        assert drawn_high - 1 <= reckoned <= drawn_high + heights.LINE + 4, block
