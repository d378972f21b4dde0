"""The binder with everything filled on paper, read back; and with nothing filled."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import lay_out, render
from audit.binder.pdf.blocks import section_pieces
from audit.binder.pdf.numbers import asks_pages, numbered
from audit.binder.pdf.page import sheet
from audit.binder.pdf.paginate import paginate
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from tests.audit.binder import full, sample
from tests.audit.binder.paper import even, holds, own_lines, reader, texts


@pytest.fixture(scope="module")
def binder():
    return binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO)


@pytest.fixture(scope="module", params=["letter", "a4"])
def content(binder, request):
    return render(binder, page_size=request.param)


def test_the_page_beside_each_piece_of_evidence_is_one_on_which_its_row_is_named(content):
    pages = texts(content)
    answers = " ".join(pages[2:7])
    found = re.findall(r"Evidence, page (\d+) (?:(?!Evidence).)*?\[(\w{8} #\d+)\]", answers)
    assert len(found) > 15
    counted = 0
    for number, row in found:
        page = pages[int(number) - 1]
        if row in page:
            continue
        # A load is counted and not named: the page is that of the summary.
        counted += 1
        assert "Loads of S1 Łódź" in page
    assert counted == 1


def test_the_overview_names_the_page_of_each_answer(binder, content):
    pages = [own_lines(page) for page in reader(content).pages]
    overview = even(" ".join(pages[2]))
    titles = [(s.id, even(s.title)) for s in binder.sections if re.fullmatch(r"answer-\d+", s.id)]
    assert len(titles) == 5
    for id, title in titles:
        n = id.removeprefix("answer-")
        question = re.sub(r" \(S1 Łódź\)$", "", title).removeprefix(f"{n}. ")
        number = re.search(re.escape(question) + r" (?:S1 Łódź|whole place) [A-Z][a-z ]+ (\d+)", overview).group(1)
        assert title in pages[int(number) - 1]


@pytest.mark.parametrize(
    "text",
    [
        "In part",
        "The week of 15 Sep 2025 has no test: the clinic may have a paper log",
        "How the duties were kept",
        "200 times in a row",
        "at most 0.0495 per test",
        "User checks by month",
        "One line a cycle, ",
        "Loads affected 4, S1 Łódź: Part recall received 4 May 2026",
        "What is outside, and why",
        "Done in another way than the rules prefer",
        "In time up to and with 4 Feb 2026",
        "People, credentials, instruments",
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
    for text in ("No question is answered in this binder", "Measuring instruments: no record found."):
        assert holds(made, text)
