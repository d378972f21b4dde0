"""What a screen reader says of a binder is what the contents say, in their order (ISO 14289-1, 7.2)."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from io import BytesIO

import pikepdf
import pytest

from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.binder.pdf.finish import finished
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from tests import programs
from tests.audit.binder import full, sample
from tests.audit.binder.standards import small, spoken
from tests.audit.binder.standards.edits import elements, kids
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import even, grid, headings, read
from tests.audit.binder.standards.spoken import apart, letters, pattern
from tests.audit.binder.standards.tables import head_row, rows, tables


def drawn(binder, size: str = "letter") -> Opened:
    return Opened(finished(render(binder, page_size=size)))


def with_chapter(*blocks):
    """The small binder with these in its only chapter."""
    binder = small.binder()
    return replace(binder, sections=(binder.sections[0], Section("one", "One chapter", 1, blocks)))


@pytest.fixture(scope="module", params=["sample", "full"])
def binder(request):
    source = {"sample": sample.clinic, "full": full.clinic}[request.param]
    return binder_contents(*source(), from_on=sample.FROM, to_on=sample.TO)


@pytest.fixture(scope="module", params=["letter", "a4"])
def opened(binder, request):
    with drawn(binder, request.param) as found:
        yield found


@pytest.fixture(scope="module")
def little():
    with drawn(small.binder()) as found:
        yield found


def test_each_kind_of_block_has_its_words():
    assert spoken.KINDS == spoken.BLOCKS


def test_a_binder_is_read_as_its_contents_stand(binder, opened):
    said = [each.text for each in read(opened)]
    assert len(said) > 500
    assert apart(spoken.binder_spoken(binder), said) == ""


def test_a_small_binder_is_read_word_by_word(little):
    """No word is run together with the next and none is torn apart at the end of a line."""
    expected = [even(text) for text in spoken.binder_spoken(small.binder())]
    said = [each.text for each in read(little)]
    for wanted, got in zip(expected, said, strict=True):
        assert re.fullmatch(pattern(wanted), got), f"{wanted!r} should be said, {got!r} is"


def test_headings_are_the_sections_in_their_levels(binder, opened):
    """Words that head a part of a section, and captions of pictures, are headings of the level below."""
    assert headings(opened) == [(level, even(text)) for level, text in spoken.headings_of(binder)]


def told_by(block: Table) -> list[list[str]]:
    """The head and the rows of a table as they are seen."""
    heads = [[column.title for column in block.columns]]
    return heads + [[spoken.cell_said(cell) for cell in row] for row in block.rows]


def pages_of(table) -> set[int]:
    return {kid.page for row in rows(table) for cell in row.nodes for kid in cell.content}


def test_tables_are_read_row_by_row(binder, opened):
    """A table in columns is one in each column of its pages; calendars and timelines are tables of their own."""
    held = [b for s in binder.sections for b in s.blocks if isinstance(b, Table) and b.rows]
    left = [(grid(opened, table), pages_of(table)) for table in tables(opened) if head_row(rows(table)[0])]
    assert len(left) >= len(held) > 5
    for block in held:
        head, *told = told_by(block)
        found: list[list[str]] = []
        taken, on = 0, set[int]()
        while len(found) < len(told):
            assert left, block.caption
            (first, *more), pages = left.pop(0)
            if apart(head, first) == "":
                found, taken, on = found + more, taken + 1, on | pages
            else:
                assert not found, block.caption
        columns = 3 if block.thirds else 2 if block.halves else 0
        assert len(found) == len(told) and taken <= max(columns * len(on), 1), block.caption
        for wanted, got in zip(told, found, strict=True):
            assert apart(wanted, got) == "", block.caption


def test_figures_are_read_by_their_text_and_not_by_their_letters(little):
    opened = little
    figures = [node for node in opened.nodes if node.role == "Figure"]
    assert figures
    said = [each.text for each in read(opened) if each.role == "Figure"]
    assert said == [even(str(node.obj.Alt)) for node in figures]
    assert any(even(opened.text(node)) for node in figures), "they hold letters, which are left out"


def test_running_heads_are_on_the_pages_and_not_read(binder, opened):
    said = " ".join(each.text for each in read(opened))
    total = len(opened.pages)
    for number, page in enumerate(opened.pages, start=1):
        aside = even(" ".join(shown.text for shown in page.aside))
        foot = f"outrank this record. {number} of {total}"
        assert foot in aside and foot not in said
        assert number == 1 or (even(binder.clinic)[:20] in aside and even(binder.period) in aside)


def test_a_table_over_the_edge_of_a_page_is_one_table_with_one_head(little):
    (table,) = [each for each in tables(little) if len(rows(each)) > 20]
    pages = pages_of(table)
    assert len(pages) > 1
    assert [n for n, row in enumerate(rows(table)) if head_row(row)] == [0]
    assert grid(little, table)[1:] == [[f"day {n}", "passed", "" if n == 0 else f"note {n}"] for n in range(70)]
    again = [even(" ".join(shown.text for shown in little.pages[page].aside)) for page in sorted(pages)[1:]]
    assert all("Tests, continued" in text and "Day Result Note" in text for text in again)


def test_a_paragraph_over_the_edge_of_a_page_is_one():
    text = " ".join(f"word{n}" for n in range(3000))
    with drawn(with_chapter(Paragraph(text))) as found:
        (long,) = [node for node in found.nodes if node.role == "P" and len(node.content) > 9]
        assert len({kid.page for kid in long.content}) > 1
        assert even(found.text(long)) == text


def test_a_row_taller_than_a_page_is_one_row():
    text = " ".join(f"word{n}" for n in range(4000))
    table = Table(
        "Tall", (Column("A", 10), Column("B", 30)), ((Cell("first"), Cell(text)), (Cell("next"), Cell("x")))
    )
    with drawn(with_chapter(table)) as found:
        (read_as,) = [grid(found, each) for each in tables(found)]
        assert read_as == [["A", "B"], ["first", text], ["next", "x"]]


@pytest.mark.parametrize(
    "text", ["قياس الضغط", "pressure ضغط 134 °C", "אלף בית", "ﬁlter Żółć µΩ", " ".join(["אלף בית"] * 60)]
)
def test_a_text_is_read_as_it_was_written(text):
    """From right to left as well: what is drawn is turned, what is read is not (ISO 32000-1, 14.9.4)."""
    with drawn(with_chapter(Paragraph(text))) as found:
        assert [each.text for each in read(found)][-1] == text


def test_cells_that_change_places_are_noticed():
    binder = small.binder()
    out = BytesIO()
    with pikepdf.open(BytesIO(small.good())) as pdf:
        row = list(elements(pdf, "TR"))[-1]
        row.K = pikepdf.Array(reversed(kids(row)))
        pdf.save(out)
    with Opened(out.getvalue()) as found:
        assert apart(spoken.binder_spoken(binder), [each.text for each in read(found)]).startswith("at ")


def in_columns(**how) -> Table:
    rows = tuple((Cell(f"day {n}"), Cell(f"note {n}")) for n in range(400))
    return Table("Tests of many days", (Column("Day", 20), Column("Note", 40)), rows, **how)


COLUMNS = {"halves": in_columns(halves=True), "thirds": in_columns(thirds=True)}


@pytest.fixture(scope="module", params=COLUMNS)
def columns(request):
    """What should be said of a table in columns, what is, and where the first text of each further column is."""
    binder = with_chapter(COLUMNS[request.param])
    with drawn(binder) as found:
        said = [each.text for each in read(found)]
    edges = [n for n, text in enumerate(said) if text == "Tests of many days, continued"]
    assert len(edges) >= 3
    return spoken.binder_spoken(binder), said, edges


def test_between_the_rows_of_columns_caption_and_heads_are_said_again(columns):
    expected, said, edges = columns
    assert apart(expected, said) == ""
    assert [said[n + 1 : n + 3] for n in edges] == [["Day", "Note"]] * len(edges)


# At the edge between two columns, where caption and heads are said again: three texts, then a row of two.
SPOILT = {
    "the last row of a column is lost": lambda said, n: said[: n - 2] + said[n:],
    "the first row of a column is lost": lambda said, n: said[: n + 3] + said[n + 5 :],
    "the last row of a column stands in the next too": lambda said, n: (
        said[: n + 3] + said[n - 2 : n] + said[n + 3 :]
    ),
    "a row is doubled": lambda said, n: said[: n + 5] + said[n + 3 :],
    "rows change places": lambda said, n: said[: n + 3] + said[n + 5 : n + 7] + said[n + 3 : n + 5] + said[n + 7 :],
    "rows change places over the edge": lambda said, n: (
        said[: n - 2] + said[n + 3 : n + 5] + said[n : n + 3] + said[n - 2 : n] + said[n + 5 :]
    ),
    "the heads stand inside a row": lambda said, n: said[:n] + said[n + 3 : n + 4] + said[n : n + 3] + said[n + 4 :],
    "a cell is lost": lambda said, n: said[: n - 1] + said[n:],
    "the caption is said without the heads": lambda said, n: said[: n + 1] + said[n + 3 :],
    "one head is lost": lambda said, n: said[: n + 2] + said[n + 3 :],
    "the heads are said without the caption": lambda said, n: said[:n] + said[n + 1 :],
    "caption and heads are said twice": lambda said, n: said[: n + 3] + said[n:],
    "the caption is another": lambda said, n: [*said[:n], "Tests of few days, continued", *said[n + 1 :]],
    "the columns change places": lambda said, n: said[:n] + said[-9:] + said[n:-9],
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_fault_at_the_edge_of_a_column_is_noticed(columns, name):
    expected, said, edges = columns
    for edge in edges:
        spoilt = SPOILT[name](said, edge)
        assert spoilt != said and apart(expected, spoilt).startswith("at ")


@pytest.mark.parametrize("spoil", [lambda rows: rows[:-1], lambda rows: (*rows, rows[-1]), lambda rows: rows[::-1]])
def test_rows_that_are_drawn_otherwise_than_they_stand_are_noticed(spoil):
    table = COLUMNS["halves"]
    with drawn(with_chapter(replace(table, rows=spoil(table.rows)))) as found:
        expected = spoken.binder_spoken(with_chapter(table))
        assert apart(expected, [each.text for each in read(found)]).startswith("at ")


def test_the_page_of_a_question_is_told_with_the_question():
    """Where one answer stands across the columns of all units too: the number is not told as another column's."""
    heads = (
        Column("No.", 9),
        Column("Question", 40, names=True),
        Column("S1", 9),
        Column("S2", 9),
        Column("Page", 9),
    )
    cells = (Cell("1"), Cell("Is it tested?"), Cell("yes", span=2), Cell("", to="one", pages=(("one", ""),)))
    binder = with_chapter(Table("Questions", heads, (cells,)))
    with drawn(binder) as found:
        said = [each.text for each in read(found)]
    assert "One chapter 3" in said and said[-1] == "Is it tested?, page 3"
    assert apart(spoken.binder_spoken(binder), said) == ""
    assert apart(spoken.binder_spoken(binder), [*said[:-1], "yes, page 3"]).startswith("at ")
    assert apart(spoken.binder_spoken(binder), [*said[:-1], "3"]).startswith("at ")


def test_another_reader_finds_the_same_text(tmp_path):
    """poppler goes through the same tree with a decoder of its own; it puts quotes around each text.

    But for text that is drawn from right to left, where it gives the letters as drawn.
    """
    program, binder = programs.wanted("poppler-utils"), small.binder()
    with drawn(replace(binder, sections=binder.sections[:-1])) as found:
        path = tmp_path / "binder.pdf"
        path.write_bytes(found.bytes)
        done = subprocess.run([program, "-struct-text", path], capture_output=True, timeout=60, check=True)
        printed = re.findall(r'^ *"(.*?)"$', done.stdout.decode(), re.M | re.S)
        own = letters(" ".join(found.text(top) for top in found.top))
        assert len(own) > 1000 and letters(" ".join(printed)) == own
