"""Each shape in order as PDF/UA-1 and PDF/A-3a ask, and read as its contents stand."""

from __future__ import annotations

import subprocess
from dataclasses import replace

import pytest

from audit.binder.pdf import render
from audit.binder.pdf.finish import finished
from audit.binder.sections import Cell, Column, Links, Paragraph, Section, Table
from tests import programs
from tests.audit.binder.shapes import NB, every_shape
from tests.audit.binder.standards.checks import findings
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import even, grid, headings, read
from tests.audit.binder.standards.spoken import apart, binder_spoken, headings_of, link_said
from tests.audit.binder.standards.tables import cells, rows, tables


@pytest.fixture(scope="module", params=["letter", "a4"])
def opened(request):
    with Opened(finished(render(every_shape(), page_size=request.param))) as found:
        yield found


def _halved():
    (block,) = [b for s in every_shape().sections for b in s.blocks if isinstance(b, Table) and b.halves]
    return block


def test_every_shape_is_in_order(opened):
    assert findings(opened.bytes) == {}


def test_every_shape_is_read_as_its_contents_stand(opened):
    said = [each.text for each in read(opened)]
    assert apart(binder_spoken(every_shape()), said) == ""
    assert headings(opened) == [(level, even(text)) for level, text in headings_of(every_shape())]


def test_a_list_in_halves_is_read_column_by_column_each_a_table_with_its_caption(opened):
    block = _halved()
    parts = [each for each in tables(opened) if grid(opened, each)[0] == [column.title for column in block.columns]]
    parts = [each for each in parts if even(opened.text(each.nodes[0])).startswith(block.caption)]
    assert len(parts) > 2, "two columns a page, and more than one page"
    told = [row for part in parts for row in grid(opened, part)[1:]]
    assert told == [[cell.text for cell in row] for row in block.rows]
    lengths = [len(rows(part)) - 1 for part in parts[-2:]]
    assert abs(lengths[0] - lengths[1]) <= 2, "the last two are of one height"
    for part in parts:
        assert len(grid(opened, part)[-1]) > 1, "no year stands alone at the foot of a column"


def test_rows_have_heads_and_spans(opened):
    (asked,) = [each for each in tables(opened) if "Questions" in opened.text(each.nodes[0])]
    spans = [[int(cell.attribute("/Table", "/ColSpan") or 1) for cell in cells(row)] for row in rows(asked)]
    assert spans == [[1] * 5, [5], [1] * 5, [1, 1, 2, 1]]
    heads = [[opened.text(cell) for cell in cells(row) if cell.role == "TH"] for row in rows(asked)[1:]]
    assert [[even(text) for text in row] for row in heads] == [["The units"], ["May it be used?"], ["Is it tested?"]]


def test_every_table_says_what_it_holds(opened):
    for table in tables(opened):
        summary = table.attribute("/Table", "/Summary")
        assert table.nodes[0].role == "Caption" or str(summary).strip(), table


def test_no_link_is_a_bare_number_to_a_screen_reader(opened):
    links = [node for node in opened.nodes if node.role == "Link"]
    assert len(links) > 5
    for link in links:
        said = str(link.obj.get("/Alt", "")) or opened.text(link)
        assert any(each.isalpha() for each in said), said
        assert str(link.annotated[0].obj.Contents) in (said, even(said))


def test_a_row_that_does_not_fill_its_columns_is_refused():
    table = Table("T", (Column("A", 1), Column("B", 1)), ((Cell("x", span=3),),))
    with pytest.raises(ValueError, match="fills 3 columns of 2"):
        render(with_blocks(table))


def with_blocks(*blocks):
    return replace(every_shape(), sections=(every_shape().sections[0], Section("more", "More", 1, blocks)))


VALUES = ("134 °C", "304.2 kPa", "9 Jun 2026", "41 pouches", "Inês Szabó", "page 7")


def test_what_belongs_together_stays_on_a_line_and_is_copied_with_a_common_space(tmp_path):
    """However wide the column: a value and its unit, a day, a name."""
    program = programs.wanted("poppler-utils", "pdftotext")
    words = " and so on, ".join(value.replace(" ", NB) for value in VALUES * 4)
    widths = tuple(Paragraph("x" * n + " " + words) for n in range(1, 60, 3))
    path = tmp_path / "a.pdf"
    path.write_bytes(render(with_blocks(*widths)))
    done = subprocess.run([program, "-raw", path, "-"], capture_output=True, timeout=60, check=True)
    lines = done.stdout.decode().splitlines()
    for value in VALUES:
        assert sum(line.count(value) for line in lines) >= 4 * len(widths), value
    assert NB not in done.stdout.decode()


def test_words_that_are_held_together_part_where_the_column_is_too_narrow_for_them():
    table = Table("T", (Column("A", 10), Column("B", 300)), ((Cell(f"9{NB}June{NB}2026"), Cell("x")),))
    with Opened(render(with_blocks(table))) as found:
        assert "9 June 2026" in [even(text) for part in tables(found) for row in grid(found, part) for text in row]


@pytest.mark.parametrize("name", ["王小明", "Kim \U0001d49c \U0001f600", "\U0001f9ff Ola", "ქეთევან"])
def test_a_name_is_copied_as_it_is_written_whatever_the_faces_hold(name, tmp_path):
    """Letters that no face has are drawn as a sign for that, and are read and copied as themselves."""
    program = programs.wanted("poppler-utils", "pdftotext")
    content = finished(render(with_blocks(Paragraph(f"Tested by {name}, who read it."))))
    with Opened(content) as found:
        assert f"Tested by {name}, who read it." in [each.text for each in read(found)]
    path = tmp_path / "a.pdf"
    path.write_bytes(content)
    done = subprocess.run([program, path, "-"], capture_output=True, timeout=60, check=True)
    assert f"Tested by {name}, who read it." in even(done.stdout.decode())


def test_letters_beyond_the_basic_plane_have_a_sound_table():
    """ISO 32000-1, 9.10.3: a letter beyond U+FFFF stands as a pair."""
    with Opened(finished(render(with_blocks(Paragraph("\U0001d538 double-struck"))))) as found:
        fonts = [font for page in found.pdf.pages for font in page.Resources.Font.values() if "/ToUnicode" in font]
        tables_of_letters = b"".join(font.ToUnicode.read_bytes() for font in fonts)
        assert b"<D835DD38>" in tables_of_letters


def test_a_link_says_what_its_number_is_of():
    block = every_shape().sections[0].blocks[2]
    row = block.rows[0]
    assert link_said(block, row, 3).startswith("Unit 1\nSterilization, page")


def test_what_points_to_a_section_that_is_not_there_is_no_link():
    table = Table("T", (Column("A", 10), Column("B", 300)), ((Cell("x", to="gone"), Cell("y", to="more")),))
    content = finished(render(with_blocks(table, Links("Answers", (Cell("3", to="gone"),)))))
    assert findings(content) == {}
    with Opened(content) as found:
        links = [even(found.text(node)) for node in found.nodes if node.role == "Link"]
        assert "y" in links and "x" not in links and "3" not in links
