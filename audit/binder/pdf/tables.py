"""Tables: a head, rows, the head again on each further page; in one width or as two halves side by side."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import DrawnLine, Piece, Run, bare, lowered
from audit.binder.pdf.measure import fit, width, wrap
from audit.binder.pdf.page import COLUMN, HAIR, INK, OVER_TABLE, SMALL, UNDER_HEAD, Sheet, Type
from audit.binder.pdf.rich import styled
from audit.binder.pdf.rows import (
    GAP,
    INDEX,
    LIST,
    LOG,
    PLAIN,
    TALL,
    RowLook,
    Slot,
    Wrapped,
    caption_piece,
    cell_style,
    cut_row,
    hung,
    set_lines,
    slots,
    tall_row,
    text_piece,
)
from audit.binder.sections import Cell, Column, Table

_SMALL_COLUMN = Type(7.5, COLUMN.leading, bold=True)
_AGAIN = SMALL.leading + 3  # a repeated caption
_HEAD_PAD = 2.4
_NARROW_GAP = 4.0
_UNDER_RULE = 1.0


def look_of(table: Table) -> RowLook:
    if table.thirds and not table.halves:
        return INDEX
    return (LIST if table.halves else LOG) if table.tight or table.halves else PLAIN


def _spanned(over: tuple[Slot, ...]) -> Slot:
    first, last = over[0], over[-1]
    return replace(first, width=last.x + last.width - first.x)


def _naming(columns: tuple[Column, ...]) -> int:
    """The column whose cells name their rows."""
    return next((n for n, column in enumerate(columns) if column.names), 0)


def _row_head(cells: tuple[Cell, ...], table: Table) -> int:
    """The place of the cell that names the row; of a table without column heads the first that says something."""
    at, naming = 0, _naming(table.columns)
    for n, cell in enumerate(cells):
        if at <= naming < at + cell.span and cell.text:
            return n
        at += cell.span
    headless = not any(column.title for column in table.columns)
    return next((n for n, cell in enumerate(cells) if cell.text), -1) if headless else -1


def row_cells(cells: tuple[Cell, ...], table: Table, places: tuple[Slot, ...], whole: Element) -> list[Wrapped]:
    """The cells of one row. Raises ValueError where they do not fill the columns."""
    filled = sum(cell.span for cell in cells)
    if filled != len(table.columns):
        raise ValueError(f"A row fills {filled} columns of {len(table.columns)}: {cells!r}")
    row, look, naming = Element("TR", whole), look_of(table), _row_head(cells, table)
    found, at = [], 0
    for n, cell in enumerate(cells):
        slot = places[at] if cell.span == 1 else _spanned(places[at : at + cell.span])
        style = cell_style(cell, table.columns[at], look)
        lines, hang, first = hung(cell, style, slot.width)
        style = styled(False, style) if first else style  # under the word of an answer
        role, scope = ("TH", "Row") if n == naming else ("TD", "")
        element = Element(role, row, "", scope, cell.span)
        found.append(Wrapped(lines, slot, style, element, cell.to, "", "", cell.frame, cell.span, hang, first))
        if cell.to:
            _tell(found[-1], cell, cells[naming] if naming >= 0 else None, table.columns[at])
        at += cell.span
    return found


def _tell(link: Wrapped, cell: Cell, name: Cell | None, column: Column) -> None:
    """Where a link leads; a bare number is not told by itself."""
    link.says = " ".join(cell.text.split())
    if link.says.replace("–", "").isdigit() or not any(each.isalpha() for each in link.says):
        of = " ".join(name.text.split()) if name and name is not cell else ""
        what = "page" if cell.page is not None else column.title.lower() or "number"
        link.says = link.alt = f"{of}, {what} {link.says}".removeprefix(", ")


def _head_lines(table: Table, places: tuple[Slot, ...]) -> tuple[Type, list[tuple[str, ...]]]:
    """The heads in their lines, smaller and up to the next column where a word is torn otherwise."""
    titles = [column.title for column in table.columns]
    words = [[width(word, COLUMN) for word in title.split()] for title in titles]
    if all(max(wide, default=0) <= slot.width for wide, slot in zip(words, places, strict=True)):
        return COLUMN, [wrap(title, COLUMN, slot.width) for title, slot in zip(titles, places, strict=True)]
    room = [after.x - slot.x - 1 for slot, after in pairwise(places)] + [places[-1].width]
    return _SMALL_COLUMN, [wrap(title, _SMALL_COLUMN, wide) for title, wide in zip(titles, room, strict=True)]


def head_piece(table: Table, places: tuple[Slot, ...], whole: Element) -> Piece:
    """The column heads between two lines; of a table without any, the line above it."""
    left, right = places[0].x, places[-1].x + places[-1].width
    over = DrawnLine(left, OVER_TABLE / 2, right, OVER_TABLE / 2, INK, OVER_TABLE)
    if not any(column.title for column in table.columns):
        return Piece(OVER_TABLE, (Run(None, (over,)),), keep=True)
    row = Element("TR", whole)
    style, lines = _head_lines(table, places)
    most = max(len(each) for each in lines)
    height = _HEAD_PAD + most * COLUMN.leading + _HEAD_PAD
    runs = []
    for each, slot in zip(lines, places, strict=True):
        element = Element("TH", row, scope="Column") if each else Element("TD", row)
        runs.append(Run(element, set_lines(each, slot, _HEAD_PAD + (most - len(each)) * COLUMN.leading, style)))
    rules = (over, DrawnLine(left, height - 0.25, right, height - 0.25, INK, UNDER_HEAD))
    below = 0.0 if look_of(table).pad else _UNDER_RULE  # rows that are set closely stand clear of the line
    return Piece(height + below, (*runs, Run(None, rules)), keep=True)


def continued(caption: str, head: Piece, sheet: Sheet) -> Piece:
    """The head as it stands at the top of a further page: with the caption, so that the page reads by itself."""
    if not caption:
        return bare(head)
    line = fit(f"{caption}, continued", SMALL, sheet.text_width)
    title = Run(None, set_lines((line,), Slot(0, sheet.text_width, "left"), 0, SMALL))
    runs = (title, *(Run(None, lowered(run.marks, _AGAIN)) for run in head.runs))
    return replace(head, height=head.height + _AGAIN, runs=runs)


def no_lonely_row(rows: list[Piece]) -> list[Piece]:
    """The first two rows stay together, and so do the last two: no row stands alone at a break."""
    held = {0, len(rows) - 2} if len(rows) > 1 else set()
    for n in held:
        rows[n] = replace(rows[n], keep=True)
    return rows


def is_group(cells: tuple[Cell, ...]) -> bool:
    """Whether a row heads those below it: one cell over all columns."""
    return len(cells) == 1 and cells[0].span > 1


def _ruled(piece: Piece, left: float, right: float) -> Piece:
    """A row with a line above it, its words a little below the line."""
    runs = tuple(Run(run.element, lowered(run.marks, _UNDER_RULE)) for run in piece.runs)
    line = Run(None, (DrawnLine(left, HAIR / 2, right, HAIR / 2),))
    return replace(piece, height=piece.height + _UNDER_RULE, runs=(*runs, line))


def _closed(piece: Piece, left: float, right: float) -> Piece:
    y = piece.height - HAIR / 2
    return replace(piece, runs=(*piece.runs, Run(None, (DrawnLine(left, y, right, y),))))


def row_pieces(
    table: Table, places: tuple[Slot, ...], whole: Element, most: float, start: int = 0, again: Piece | None = None
) -> list[list[Piece]]:
    """The pieces of each row, lines and all; more than one where a row is taller than `most`.

    `start` is the number of the first row among those that `table.ruled` counts. With `again`, the head of a further
    page, a row of many lines is divided where a page ends; not one whose page is asked for by its name.
    """
    look = look_of(table)
    edges = (places[0].x, places[-1].x + places[-1].width)
    found = []
    for n, cells in enumerate(table.rows):
        wrapped = row_cells(cells, table, places, whole)
        if again and table.ruled is None and not table.known_as and max(len(c.lines) for c in wrapped) >= TALL:
            found.append([tall_row(wrapped, edges, look, again)])
            continue
        rows = cut_row(wrapped, edges, look, most, table.ruled is None)
        if table.ruled is not None and n and n + start in table.ruled:
            rows[0] = _ruled(rows[0], *edges)
        if table.known_as:
            rows[0] = replace(rows[0], name=table.known_as[n + start])
        if is_group(cells):
            rows[-1] = replace(rows[-1], keep=True)
        found.append(rows)
    if found and table.ruled is not None:
        found[-1][-1] = _closed(found[-1][-1], *edges)
    return found


def table_slots(table: Table, left: float, wide: float) -> tuple[Slot, ...]:
    return slots(table.columns, left, wide, _NARROW_GAP if table.tight or table.halves or table.thirds else GAP)


def plain_table(table: Table, sheet: Sheet) -> list[Piece]:
    """Caption, head, rows; the head again at the top of each page the rows go on to."""
    if not table.rows:
        return [text_piece(table.empty, SMALL, sheet, above=8)]
    whole = Element("Table", summary="" if table.caption else sheet.title)
    places = table_slots(table, 0, sheet.text_width)
    head = head_piece(table, places, whole)
    again = continued(table.caption, head, sheet)
    most = max(sheet.text_height - again.height, sheet.text_height / 2)
    rows = [piece for pieces in row_pieces(table, places, whole, most, again=again) for piece in pieces]
    for row in rows:
        row.head = again
    rows = no_lonely_row(rows)
    rows[-1] = replace(rows[-1], keep=False)
    if table.caption:
        return [caption_piece(table.caption, sheet, Element("Caption", whole)), head, *rows]
    return [replace(head, above=8), *rows]
