"""The bare canvas that the binder's pages are timed against draws what they draw: the comparison is a fair one."""

from __future__ import annotations

from audit.binder.pdf import lay_out
from audit.binder.pdf.draw import draw
from audit.binder.pdf.page import sheet
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import even, read
from tests.bench import bare_pages, bench_pages

ROWS = 300


def test_strings_structure_and_places_are_the_same():
    binder, paper = bench_pages.binder(ROWS), sheet(bench_pages.PAPER)
    pages = lay_out(binder, paper)
    plan = bare_pages.plan(binder, pages, paper)
    with Opened(draw(binder, pages, paper).content) as own, Opened(bare_pages.drawn(plan, paper)) as bare:
        assert [node.role for node in own.nodes] == [node.role for node in bare.nodes]
        assert len(own.nodes) > ROWS * 8
        # The binder writes a blank between the lines of a cell, the bare canvas draws each line and no more.
        assert _letters(own) == _letters(bare)
        assert [_aside(page) for page in own.pages] == [_aside(page) for page in bare.pages]
        assert own.pdf.pages[-1].mediabox == bare.pdf.pages[-1].mediabox


def test_all_rows_are_in_the_html():
    source = bench_pages._html(ROWS)
    assert source.count("<tr>") == ROWS + 2  # one head for each table of 250 rows
    assert all(f"#{n}</td>" in source for n in (0, 250, ROWS - 1))


def _letters(opened: Opened) -> list[tuple[str, str]]:
    return [(said.role, "".join(said.text.split())) for said in read(opened)]


def _aside(page) -> list[str]:
    return sorted("".join(even(shown.text).split()) for shown in page.aside if shown.text.strip())
