"""Rows of cells: wrapped, measured, and cut only when taller than a page."""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, DrawnLine, Jump, Mark, Piece, Run, Text, bare, kept, lowered
from audit.binder.pdf.measure import fit, unbroken, width, wrap
from audit.binder.pdf.page import (
    CAPTION,
    CELL,
    CELL_STRONG,
    COLUMN,
    HAIR,
    INK,
    PALE,
    PROOF,
    SMALL,
    Sheet,
    Type,
)
from audit.binder.sections import Cell, Column, KeyValues, Table

PAD = 2.6  # above and below the text of a row
GAP = 6.0  # between columns
_AGAIN = SMALL.leading + 3  # a repeated caption
ASCENT = 0.76  # of the size, from the top of a line to its baseline, as the eye sees it


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a column stands."""

    x: float
    width: float
    align: str


def slots(columns: tuple[Column, ...], left: float, total: float) -> tuple[Slot, ...]:
    """The columns side by side over `total` points, by weight."""
    weights = sum(column.weight for column in columns)
    room = total - GAP * (len(columns) - 1)
    found, x = [], left
    for column in columns:
        wide = room * column.weight / weights
        found.append(Slot(x, wide, column.align))
        x += wide + GAP
    return tuple(found)


def baseline(top: float, style: Type) -> float:
    return top + (style.leading - style.size) / 2 + style.size * ASCENT


def _start(slot: Slot, wide: float) -> float:
    """Where a line of that width begins in its slot."""
    share = {"left": 0.0, "center": 0.5, "right": 1.0}[slot.align]
    return slot.x + (slot.width - wide) * share


def set_lines(lines, slot: Slot, top: float, style: Type) -> list[Mark]:
    """Lines of text under one another in a slot."""
    marks: list[Mark] = []
    for n, line in enumerate(lines):
        x = slot.x if slot.align == "left" else _start(slot, width(line, style))
        marks.append(Text(x, baseline(top + n * style.leading, style), line, style))
    return marks


def _cell_style(cell: Cell) -> Type:
    return PROOF if cell.proof else CELL_STRONG if cell.strong else CELL


@dataclass(slots=True)
class _Wrapped:
    """A cell with its lines broken; its element is shared by the parts of a row that is cut."""

    lines: tuple[str, ...]
    slot: Slot
    style: Type
    to: str
    element: Element
    frame: str = ""


def _linked(cell: _Wrapped, top: float) -> list[Run]:
    """The text of a cell that leads somewhere: the first line underlined, the whole of it to be pressed."""
    slot, style = cell.slot, cell.style
    wide = width(cell.lines[0], style)
    x = _start(slot, wide)
    jump = Jump(slot.x, top, slot.width, len(cell.lines) * style.leading, cell.to, unbroken(cell.lines))
    link = Element("Link", cell.element)
    return [
        Run(link, (jump, *set_lines(cell.lines, slot, top, style))),
        Run(None, (DrawnLine(x, top + 8.6, x + wide, top + 8.6, PALE),)),
    ]


def _row_piece(cells: list[_Wrapped], left: float, right: float, notes: tuple[str, str] = ("", "")) -> Piece:
    """One row. `notes` are printed above and below the cells of a row that was cut."""
    before, after = notes
    top = PAD + (SMALL.leading if before else 0)
    tall = max((len(cell.lines) * cell.style.leading for cell in cells), default=0)
    height = top + tall + (SMALL.leading if after else 0) + PAD
    runs: list[Run] = []
    for cell in cells:
        if cell.frame:
            runs.append(Run(None, (_frame(cell, height),)))
        if cell.to and cell.lines:
            runs += _linked(cell, top)
        else:
            marks = set_lines(cell.lines, cell.slot, top, cell.style)
            if cell.frame == "black":
                marks = [mark._replace(white=True) for mark in marks]
            runs.append(Run(cell.element, marks))
    whole = Slot(left, right - left, "left")
    if before:
        runs.append(Run(None, set_lines((before,), whole, PAD, SMALL)))
    if after:
        runs.append(Run(None, set_lines((after,), whole, top + tall, SMALL)))
    # Inside its own height, or the ground of the next piece would cover it.
    runs.append(Run(None, (DrawnLine(left, height - HAIR, right, height - HAIR, PALE),)))
    return Piece(height, tuple(runs))


def _cut(cells: list[_Wrapped], left: float, right: float, most: float) -> list[Piece]:
    """A row as one piece, or, when taller than `most`, as several with a mark where it goes on."""
    whole = _row_piece(cells, left, right)
    if whole.height <= most:
        return [whole]
    step = int((most / 2 - 2 * SMALL.leading - 2 * PAD) // max(cell.style.leading for cell in cells))
    longest = max(len(cell.lines) for cell in cells)
    starts = range(0, longest, step)
    return [
        _row_piece(
            [replace(cell, lines=cell.lines[start : start + step]) for cell in cells],
            left,
            right,
            ("… continued" if start else "", "continues …" if start + step < longest else ""),
        )
        for start in starts
    ]


def _frame(cell: _Wrapped, height: float) -> Box:
    """The box around a cell that stands out, or its black ground."""
    slot = cell.slot
    fill = INK if cell.frame == "black" else None
    return Box(slot.x - 2, 1, slot.width + 4, height - 2.5, fill, INK, 0.8)


def _spanned(slots: list[Slot]) -> Slot:
    first, last = slots[0], slots[-1]
    return replace(first, width=last.x + last.width - first.x)


def _row(cells, columns: tuple[Column, ...], places, table: Element) -> list[_Wrapped]:
    """Raises ValueError where the cells do not fill the columns."""
    row = Element("TR", table)
    naming = next((n for n, column in enumerate(columns) if column.names), None)
    found, at = [], 0
    for cell in cells:
        over = places[at : at + cell.span]
        if len(over) < cell.span:
            break
        names = naming is not None and at <= naming < at + cell.span
        element = Element("TH", row, scope="Row") if names and cell.text else Element("TD", row)
        element.spans = cell.span
        style = PROOF if columns[at].small and not cell.strong else _cell_style(cell)
        slot = _spanned(list(over))
        found.append(_Wrapped(wrap(cell.text, style, slot.width), slot, style, cell.to, element, cell.frame))
        at += cell.span
    if at != len(columns) or len(found) != len(cells):
        raise ValueError(f"A row fills {sum(cell.span for cell in cells)} columns of {len(columns)}: {cells!r}")
    return found


def _head(columns: tuple[Column, ...], places: tuple[Slot, ...], left: float, right: float, table: Element) -> Piece:
    row = Element("TR", table)
    lines = [wrap(column.title, COLUMN, slot.width) for column, slot in zip(columns, places, strict=True)]
    tall = max(len(each) for each in lines) * COLUMN.leading
    height = PAD + tall + PAD
    runs = [
        Run(Element("TH", row, scope="Column") if each else Element("TD", row), set_lines(each, slot, PAD, COLUMN))
        for each, slot in zip(lines, places, strict=True)
    ]
    rules = (DrawnLine(left, 0.3, right, 0.3, INK, 2 * HAIR), DrawnLine(left, height, right, height, INK))
    return Piece(height, (*runs, Run(None, rules)), keep=True)


def caption_piece(text: str, sheet: Sheet, element: Element | None = None, left: float = 0.0) -> Piece:
    """The caption of what follows; a paragraph unless `element` says what else."""
    lines = wrap(text, CAPTION, sheet.text_width - left)
    marks = set_lines(lines, Slot(left, sheet.text_width - left, "left"), 0, CAPTION)
    run = Run(element or Element("P"), marks)
    return Piece(len(lines) * CAPTION.leading + 2.5, (run,), above=11, keep=True)


def _continued(caption: str, head: Piece, sheet: Sheet) -> Piece:
    """The head as it stands at the top of a further page: with the caption, so that the page reads by itself."""
    if not caption:
        return bare(head)
    line = fit(f"{caption} (continued)", SMALL, sheet.text_width)
    title = Run(None, set_lines((line,), Slot(0, sheet.text_width, "left"), 0, SMALL))
    runs = (title, *(Run(None, lowered(run.marks, _AGAIN)) for run in head.runs))
    return replace(head, height=head.height + _AGAIN, runs=runs)


def _no_lonely_row(rows: list[Piece]) -> list[Piece]:
    """The first two rows stay together, and so do the last two: no row stands alone at a break."""
    held = {0, len(rows) - 2} if len(rows) > 1 else set()
    for n in held:
        rows[n] = replace(rows[n], keep=True)
    return rows


def text_piece(text: str, style: Type, sheet: Sheet, above: float) -> Piece:
    """A short paragraph that is never divided."""
    lines = wrap(text, style, sheet.text_width)
    run = Run(Element("P"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, style))
    return Piece(len(lines) * style.leading, (run,), above=above)


def table_pieces(table: Table, sheet: Sheet) -> list[Piece]:
    """Caption, head, rows; the head again at the top of each page the rows go on to."""
    if not table.rows:
        return [text_piece(table.empty, SMALL, sheet, above=8)]
    whole = Element("Table")
    places = slots(table.columns, 0, sheet.text_width)
    head = _head(table.columns, places, 0, sheet.text_width, whole)
    again = _continued(table.caption, head, sheet)
    most = sheet.text_height - again.height
    rows: list[Piece] = []
    for cells in table.rows:
        rows += _cut(_row(cells, table.columns, places, whole), 0, sheet.text_width, most)
    for row in rows:
        row.head = again
    rows = _no_lonely_row(rows)
    if table.caption:
        return [caption_piece(table.caption, sheet, Element("Caption", whole)), head, *rows]
    return [replace(head, above=8), *rows]


def pair_pieces(pairs, sheet: Sheet, table: Element, left: float = 0.0, right: float | None = None) -> list[Piece]:
    """Names and values side by side, a hairline under each; a table whose rows have heads."""
    edge = sheet.text_width if right is None else right
    columns = (Column("", 22), Column("", 78))
    places = slots(columns, left, edge - left)
    names = replace(COLUMN, leading=CELL.leading)
    pieces: list[Piece] = []
    for key, value in pairs:
        row = Element("TR", table)
        head = Element("TH", row, scope="Row")
        name = _Wrapped(wrap(key, COLUMN, places[0].width), places[0], names, "", head)
        style = _cell_style(value)
        text = value.text.replace("\n", ", ") if value.proof else value.text
        lines = wrap(text, style, places[1].width)
        cell = _Wrapped(lines, places[1], style, value.to, Element("TD", row))
        pieces += _cut([name, cell], left, edge, sheet.text_height)
    return pieces


def key_values(block: KeyValues, sheet: Sheet) -> list[Piece]:
    table = Element("Table")
    pieces = pair_pieces(block.pairs, sheet, table)
    if not pieces:
        return []
    short = sum(piece.height for piece in pieces) < sheet.text_height / 2
    pieces = kept(pieces, len(pieces)) if short else _no_lonely_row(pieces)
    if block.caption:
        return [caption_piece(block.caption, sheet, Element("Caption", table)), *pieces]
    return [replace(pieces[0], above=6), *pieces[1:]]
