"""Rows of cells: wrapped, measured, and cut only when taller than a page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor

from audit.binder.pdf.elements import Element
from audit.binder.pdf.faces import SIGNS
from audit.binder.pdf.marks import Box, DrawnLine, Jump, Mark, Piece, Run, Text
from audit.binder.pdf.measure import NO_BREAK, width, wrap
from audit.binder.pdf.page import (
    ANSWER,
    CAPTION,
    CELL,
    HAIR,
    INK,
    PROOF,
    SMALL,
    UNDER_HEAD,
    Sheet,
    Type,
)
from audit.binder.pdf.rich import Line, Weighted, line_width, styled, wrap_rich
from audit.binder.sections import Cell, Column

GAP = 5.0  # between columns
ASCENT = 0.74  # of the size, from the top of a line to its baseline, as the eye sees it
_AROUND = 3.0  # inside the frame of a cell
_LINES_TOGETHER = 2  # of a row that is divided, on each side of the turn of the page
TALL = 6  # lines of a row that may be divided
_STROKE = 6.0  # the least length of the lines beside an answer that holds for several columns


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a column stands."""

    x: float
    width: float
    align: str


@dataclass(frozen=True, slots=True)
class RowLook:
    """How the rows of a table are set: their text, and the space above and below it."""

    text: Type
    pad: float


PLAIN = RowLook(CELL, 1.7)
LIST = RowLook(Type(9, 11.0), 0.0)  # of a table in halves
LOG = RowLook(Type(9, 10.1), 0.0)
INDEX = RowLook(Type(7.5, 9.3), 0.0)  # of a table in thirds


def slots(columns: tuple[Column, ...], left: float, total: float, gap: float = GAP) -> tuple[Slot, ...]:
    """The columns side by side over `total` points, by weight; the room between two belongs to the one before.

    Figures set to the right have half as much again before words set to the left, or they are read as one.
    """
    scale = total / sum(column.weight for column in columns)
    found, x, last = [], left, len(columns) - 1
    for n, column in enumerate(columns):
        wide = column.weight * scale
        meets = n < last and column.align == "right" and columns[n + 1].align == "left"
        after = 0.0 if n == last else gap * 1.5 if meets else gap
        found.append(Slot(x, wide - after, column.align))
        x += wide
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
        y = baseline(top + n * style.leading, style)
        if line.__class__ is str:
            x = slot.x if slot.align == "left" else _start(slot, width(line, style))
            marks.append(Text(x, y, line, style))
        elif line:
            x = _start(slot, line_width(line, style))
            marks += [Text(x + part.x, y, part.text, styled(part.bold, style)) for part in line]
    return marks


@dataclass(slots=True)
class Wrapped:
    """A cell with its lines broken; its element is shared by the parts of a row that is cut."""

    lines: tuple[Line, ...]
    slot: Slot
    style: Type
    element: Element
    to: str = ""
    says: str = ""  # where a link leads, for a screen reader
    alt: str = ""  # the same, where the text alone does not say it
    frame: str = ""
    over: int = 1  # columns
    hang: float = 0.0  # by which the lines after the first are set in
    first: Type | None = None  # of the first line, where it is larger

    @property
    def height(self) -> float:
        more = self.first.leading - self.style.leading if self.first and self.lines else 0.0
        return len(self.lines) * self.style.leading + more


def _marks(cell: Wrapped, top: float, style: Type) -> list[Mark]:
    """The text of a cell; small print stands on the line of the others."""
    slot = cell.slot
    top += baseline(0, style) - baseline(0, cell.style) if cell.style.size < style.size else 0.0
    if not cell.hang:
        return set_lines(cell.lines, slot, top, cell.style)
    first = cell.first or cell.style
    marks = set_lines(cell.lines[:1], slot, top, first)
    rest = replace(slot, x=slot.x + cell.hang)
    return [*marks, *set_lines(cell.lines[1:], rest, top + first.leading, cell.style)]


def _framed(cell: Wrapped, top: float) -> Box:
    """The box around the words of a cell, or its black ground."""
    wide = max(line_width(line, cell.style) for line in cell.lines)
    x = _start(cell.slot, wide) - _AROUND
    tall = len(cell.lines) * cell.style.leading
    black = cell.frame == "black"
    return Box(x, top - 0.3, wide + 2 * _AROUND, tall + 0.2, INK if black else None, INK, 0.8)


def _beside(cell: Wrapped, top: float) -> list[Mark]:
    """Lines left and right of one answer that holds for several columns."""
    wide = line_width(cell.lines[0], cell.style)
    x, y = _start(cell.slot, wide), top + cell.style.leading / 2
    room = x - 2 * _AROUND - cell.slot.x
    if room < _STROKE:
        return []
    right = cell.slot.x + cell.slot.width
    return [
        DrawnLine(cell.slot.x, y, x - 2 * _AROUND, y, INK, UNDER_HEAD),
        DrawnLine(x + wide + 2 * _AROUND, y, right, y, INK, UNDER_HEAD),
    ]


def _cell_runs(cell: Wrapped, top: float, style: Type) -> list[Run]:
    runs: list[Run] = []
    marks = _marks(cell, top, style)
    if cell.frame and cell.lines:
        runs.append(Run(None, (_framed(cell, top),)))
        if cell.frame == "black":
            marks = [mark._replace(white=True) for mark in marks]
    if cell.over > 1 and cell.slot.align == "center" and len(cell.lines) == 1:
        runs.append(Run(None, _beside(cell, top)))
    if cell.to and cell.lines:
        slot = cell.slot
        jump = Jump(slot.x, top, slot.width, cell.height, cell.to, cell.says)
        return [*runs, Run(Element("Link", cell.element, alt=cell.alt), (jump, *marks))]
    return [*runs, Run(cell.element, marks)]


def row_piece(
    cells: list[Wrapped], edges: tuple[float, float], look: RowLook, rule: bool = True, notes=("", "")
) -> Piece:
    """One row. `notes` are printed above and below the cells of a row that was cut; `rule` draws a line under it."""
    left, right = edges
    before, after = notes
    top = look.pad + (SMALL.leading if before else 0)
    tall = max((cell.height for cell in cells), default=0)
    height = top + max(tall, look.text.leading) + (SMALL.leading if after else 0) + look.pad
    runs = [run for cell in cells for run in _cell_runs(cell, top, look.text)]
    whole = Slot(left, right - left, "left")
    if before:
        runs.append(Run(None, set_lines((before,), whole, look.pad, SMALL)))
    if after:
        runs.append(Run(None, set_lines((after,), whole, top + tall, SMALL)))
    if rule:
        runs.append(Run(None, (DrawnLine(left, height - HAIR, right, height - HAIR),)))
    return Piece(height, tuple(runs))


def cut_row(
    cells: list[Wrapped], edges: tuple[float, float], look: RowLook, most: float, rule: bool = True
) -> list[Piece]:
    """A row as one piece, or, when taller than `most`, as several with a mark where it goes on."""
    whole = row_piece(cells, edges, look, rule)
    if whole.height <= most:
        return [whole]
    step = max(1, int((most / 2 - 2 * SMALL.leading - 2 * look.pad) // max(cell.style.leading for cell in cells)))
    longest = max(len(cell.lines) for cell in cells)
    starts = range(0, longest, step)
    return [
        row_piece(
            [replace(cell, lines=cell.lines[start : start + step], hang=0.0, first=None) for cell in cells],
            edges,
            look,
            rule,
            ("… continued" if start else "", "continues …" if start + step < longest else ""),
        )
        for start in starts
    ]


def tall_row(cells: list[Wrapped], edges: tuple[float, float], look: RowLook, head: Piece, start: int = 0) -> Piece:
    """A row of many lines as a piece that is made for the room left on a page, some lines on each side of the turn.

    `head` stands above what goes on to a further page; `start` is the number of the first line, from 0.
    """
    longest = max(len(cell.lines) for cell in cells)

    def part(end: int) -> Piece:
        parts = [replace(cell, lines=cell.lines[start:end], hang=0.0, first=None) for cell in cells]
        notes = ("… continued" if start else "", "continues …" if end < longest else "")
        return replace(row_piece(parts, edges, look, True, notes), head=head)

    def take(room: float) -> tuple[Piece, Piece | None]:
        whole = part(longest)
        if whole.height <= room:
            return whole, None
        fit = floor((room - whole.height - SMALL.leading) / look.text.leading) + longest - start
        end = start + max(min(fit, longest - start - _LINES_TOGETHER), _LINES_TOGETHER)
        return part(end), tall_row(cells, edges, look, head, end)

    least = part(min(start + _LINES_TOGETHER, longest)) if longest - start > 2 * _LINES_TOGETHER else part(longest)
    return Piece(least.height, head=head, take=take)


def cell_style(cell: Cell, column: Column, look: RowLook) -> Type:
    if cell.proof or (column.small and not cell.strong):
        return PROOF
    return styled(True, look.text) if cell.strong else look.text


def hung(cell: Cell, style: Type, wide: float) -> tuple[tuple[Line, ...], float, Type | None]:
    """(lines, by how much those after the first are set in, type of the first): a sign opens a text that hangs."""
    text = cell.text
    if text[:1] not in SIGNS or text[1:2] not in (" ", NO_BREAK):
        return wrap_rich(text, cell.bold, style, wide), 0.0, None
    answer = cell.strong and "\n" in text
    first = ANSWER if answer else style
    by = width(f"{text[0]} ", first)
    opening, _, rest = text.partition("\n")
    if answer and width(opening, first) <= wide:
        return (opening, *wrap_rich(rest, cell.bold, styled(False, style), wide - by)), by, first
    bold = tuple(words.removeprefix(text[:2]) for words in cell.bold)
    lines = wrap_rich(text[2:], bold, style, wide - by)
    if not lines:
        return wrap_rich(text, cell.bold, style, wide), 0.0, None
    first_line = f"{text[0]} {lines[0]}" if lines[0].__class__ is str else _signed(text[0], lines[0], by, style)
    return (first_line, *lines[1:]), by, None


def _signed(sign: str, line: tuple[Weighted, ...], by: float, style: Type) -> tuple[Weighted, ...]:
    return (Weighted(0.0, sign, style.bold), *(part._replace(x=part.x + by) for part in line))


def caption_piece(text: str, sheet: Sheet, element: Element | None = None, left: float = 0.0) -> Piece:
    """The caption of what follows; a heading unless `element` says what else."""
    lines = wrap(text, CAPTION, sheet.text_width - left)
    marks = set_lines(lines, Slot(left, sheet.text_width - left, "left"), 0, CAPTION)
    run = Run(element or subheading(sheet), marks)
    return Piece(len(lines) * CAPTION.leading + 1.5, (run,), above=11, keep=True)


def subheading(sheet: Sheet) -> Element:
    """The element of words that head a part of a section."""
    return Element(f"H{min(sheet.level + 1, 6)}")


def text_piece(text: str, style: Type, sheet: Sheet, above: float) -> Piece:
    """A short paragraph that is never divided."""
    lines = wrap(text, style, sheet.text_width)
    run = Run(Element("P"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, style))
    return Piece(len(lines) * style.leading, (run,), above=above)
