"""The binder with everything filled on paper, read back; and with nothing filled."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out, render
from audit.binder.pdf.blocks import section_pieces
from audit.binder.pdf.numbers import Finder, asks_pages, numbered
from audit.binder.pdf.page import sheet
from audit.binder.pdf.paginate import paginate
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from tests.audit.binder import full, sample
from tests.audit.binder.paper import even, holds, reader, texts
from tests.audit.binder.test_contents import cells, section


@pytest.fixture(scope="module")
def binder():
    return binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)


@pytest.fixture(scope="module", params=["letter", "a4"])
def content(binder, request):
    return render(binder, page_size=request.param)


def test_the_pages_beside_each_question_are_those_on_which_its_rows_are_named(binder, content):
    """The numbers as paper finds them, and the pages read back: each names the row, or counts rows of its kind."""
    paper = sheet("a4" if abs(float(reader(content).pages[0].mediabox.width) - 595) < 1 else "letter")
    pages = texts(content)
    finder, _ = Finder.of(lay_out(binder, paper), 0)
    asked = [cell for cell in cells(section(binder, "answers")) if cell.pages]
    assert len(asked) >= 3
    for cell in asked:
        for to, row in cell.pages:
            number = finder.page(to, row)
            title = next(each.title for each in binder.sections if each.id == to)
            assert row in pages[number - 1] or even(title) in pages[number - 1], (to, row)
    row = next(text for text in pages if "Are repair and maintenance logs present?" in text)
    shown = even(row).split("Are repair and maintenance logs present?")[1]
    first = min(
        finder.page(to, name) for to, name in next(c for c in asked if c.pages[0][0].startswith("unit-1")).pages
    )
    assert re.search(rf"\b{first}\b", shown)


@pytest.mark.parametrize(
    "text",
    [
        "The week of 15 Sep 2025 has no test: the clinic may have a paper log",
        "How the duties were kept",
        "200 times in a row",
        "Other tests and checks",
        "Log of loads",
        "Part recall received 4 May 2026: cassette seal, lot B25-118",
        "4 Feb 2026",
        "Done in another way than the rules prefer",
        "The place, people, instruments",
        "last calibration: out of tolerance",
        "Part recalls",
        "Rules from memory, to be confirmed",
        "Biometrika 26 (1934), 404-413",
    ],
)
def test_the_new_parts_are_printed(content, text):
    assert holds(content, text)


def test_same_bytes_twice(binder, content):
    again = binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)
    assert content in (render(again, page_size="letter"), render(again, page_size="a4"))


def test_page_numbers_inside_the_text_move_nothing(binder):
    """Laid out with room for the numbers and with the numbers, everything stands at the same place."""
    paper = sheet("letter")
    roomy = [piece for section in binder.sections[1:] for piece in section_pieces(numbered(section, None), paper)]
    first = paginate(roomy, paper.text_height)
    final = list(lay_out(binder, paper))[-len(first) :]
    assert any(asks_pages(section) for section in binder.sections)
    assert _places(first) == _places(final)


def _places(pages) -> list:
    return [[(y, piece.height, piece.anchor) for y, piece in page.placed] for page in pages]


def test_a_page_asked_for_a_section_that_is_not_there_is_a_dash(binder):
    table = Table("", (Column("A", 10),), ((Cell("x", to="nowhere", page=""),),))
    more = Section("more", "One more chapter", 1, (Paragraph("before"), table))
    made = render(replace(binder, sections=(*binder.sections, more)))
    assert "before A x –" in texts(made)[-1]


def test_nothing_filled_is_a_binder_with_honest_gaps():
    made = render(binder_contents(*sample.empty_clinic(), from_on=sample.FROM, to_on=sample.TO))
    for text in (
        "No question is answered in this binder",
        "Training, licences and other credentials: no record found.",
    ):
        assert holds(made, text)
