"""A calendar of months side by side: a table, its rows the weeks of the month or kinds of test."""

from __future__ import annotations

import re
from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import DrawnLine, Mark, Piece, Run
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.page import COLUMN, HAIR, INK, OVER_TABLE, PROOF, SMALL, UNDER_HEAD, Sheet, Type
from audit.binder.pdf.rich import styled
from audit.binder.pdf.rows import RowLook, Slot, Wrapped, caption_piece, row_piece, set_lines
from audit.binder.sections import Cell, MonthCalendar

_LABEL, _WIDEST = 44.0, 70.0  # of the column of labels, at least and at most
_MOST = 20  # months side by side
_LOOK = RowLook(Type(9, 10.6), 0.6)
_NAMES = replace(COLUMN, leading=_LOOK.text.leading, bold=False)
_YEAR = re.compile(r"^(.*\S)\s+(\d{4})$")
_SIZES = (_LOOK.text, Type(8, 10.6), Type(7.5, 10.6))


def calendar_pieces(block: MonthCalendar, sheet: Sheet) -> list[Piece]:
    """As many tables under one another as the months need, then what the signs mean."""
    count = len(block.months)
    most = _MOST if count <= _MOST else 12
    starts = range(0, count, most)
    pieces = [piece for start in starts for piece in _part(block, start, min(start + most, count), sheet)]
    key = "; ".join(f"{sign} {meaning}" for sign, meaning in block.key)
    key = " ".join(part for part in (f"{key}." if key else "", block.note) if part)
    if not key or not pieces:
        return pieces
    pieces[-1] = replace(pieces[-1], keep=True)
    lines = wrap(key, SMALL, sheet.text_width)
    run = Run(Element("P"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, SMALL))
    return [*pieces, Piece(len(lines) * SMALL.leading, (run,), above=2)]


def _part(block: MonthCalendar, start: int, end: int, sheet: Sheet) -> list[Piece]:
    """The table of the months from `start` to before `end`; its rows stay together."""
    whole = Element("Table")
    scale = sheet.text_width / 510.0
    label = min(max([_LABEL, *(width(name, _NAMES) + 3 for name, _ in block.rows)]), _WIDEST) * scale
    # A few months do not spread over the whole width.
    each = min((sheet.text_width - label) / (end - start), 42.0 * scale)
    places = [Slot(0, label - 2, "left")]
    places += [Slot(label + n * each, each, "center") for n in range(end - start)]
    caption = block.caption if start == 0 else f"{block.caption}, continued"
    pieces = [caption_piece(caption, sheet, Element("Caption", whole))] if caption else []
    pieces.append(_head(block.months[start:end], places, whole))
    years = [
        n for n, month in enumerate(block.months[start:end]) if n and _begins_year(month, block.months[start + n - 1])
    ]
    for name, cells in block.rows:
        row = _row(name, cells[start:end], block.months[start:end], places, whole)
        lines = [DrawnLine(places[n + 1].x, 0, places[n + 1].x, row.height) for n in years]
        pieces.append(replace(row, runs=(Run(None, lines), *row.runs), keep=True))
    right = places[-1].x + places[-1].width
    foot = DrawnLine(0, pieces[-1].height - HAIR, right, pieces[-1].height - HAIR)
    pieces[-1] = replace(pieces[-1], runs=(*pieces[-1].runs, Run(None, (foot,))), keep=False)
    return pieces if caption else [replace(pieces[0], above=8), *pieces[1:]]


def _year(month: str) -> str:
    found = _YEAR.match(month)
    return found[2] if found else ""


def _begins_year(month: str, before: str) -> bool:
    return bool(_year(month)) and _year(month) != _year(before)


def _head(months: tuple[str, ...], places: list[Slot], whole: Element) -> Piece:
    """The name of each month, the year above the first of each."""
    row = Element("TR", whole)
    right = places[-1].x + places[-1].width
    height = 2.4 + 2 * COLUMN.leading + 2.4
    runs = [Run(Element("TD", row), ())]
    for n, month in enumerate(months):
        named = _YEAR.match(month)
        marks: list[Mark] = []
        if named and (n == 0 or _begins_year(month, months[n - 1])):
            marks += set_lines((named[2],), places[n + 1], 2.4, COLUMN)
        short = named[1] if named else month
        marks += set_lines((short,), places[n + 1], 2.4 + COLUMN.leading, COLUMN)
        runs.append(Run(Element("TH", row, scope="Column"), marks))
    rules = (
        DrawnLine(0, OVER_TABLE / 2, right, OVER_TABLE / 2, INK, OVER_TABLE),
        DrawnLine(0, height - 0.25, right, height - 0.25, INK, UNDER_HEAD),
    )
    return Piece(height, (*runs, Run(None, rules)), keep=True)


def _row(name: str, cells: tuple[Cell, ...], months: tuple[str, ...], places: list[Slot], whole: Element) -> Piece:
    row = Element("TR", whole)
    head = Element("TH", row, scope="Row") if name else Element("TD", row)
    found = [Wrapped(wrap(name, _NAMES, places[0].width), places[0], _NAMES, head)]
    for cell, month, slot in zip(cells, months, places[1:], strict=True):
        style, says = _fitting(cell, slot), f"{cell.text} {month}, {name}".removesuffix(", ")
        lines = wrap(cell.text, style, slot.width)
        found.append(Wrapped(lines, slot, style, Element("TD", row), cell.to, says, says, cell.frame))
    return row_piece(found, (0.0, places[-1].x + places[-1].width), _LOOK, rule=False)


def _fitting(cell: Cell, slot: Slot) -> Type:
    """The largest size in which the cell stands on one line."""
    if cell.proof:
        return PROOF
    sizes = [styled(cell.strong or bool(cell.frame), size) for size in _SIZES]
    return next((size for size in sizes if width(cell.text, size) <= slot.width), sizes[-1])
