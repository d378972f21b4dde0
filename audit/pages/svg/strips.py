"""The strip of a duty: rows of cells with a letter in each. A long row is broken, so that a telephone shows it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from audit.binder.on_paper import month_name
from audit.binder.pictures.grid import DAYS, MONTHS, QUARTERS, WEEKS
from audit.binder.pictures.values import DutyStrip, StripPanel, StripRow
from audit.facts.dates import add_days, add_months

from .tags import LETTER, WIDTH, box, picture, text, wide

_GUTTER = {DAYS: 46.0}
_USUAL_GUTTER = 34.0
# How many cells stand side by side. Of weeks half a year.
_ACROSS = {DAYS: 31, WEEKS: 27, MONTHS: 12, QUARTERS: 4}
_YEARS = 10
_WIDEST = {MONTHS: 24.0, QUARTERS: 40.0}
_TALL = 14.0
_HEAD = 12.0
_NAMES = {
    "F": "failed", "M": "missed", "L": "late", "I": "invalid", "A": "awaited", "T": "kept", "D": "kept",
    "E": "exempt", "o": "open", "·": "nothing", "-": "nothing",
}  # fmt: skip


def look_of(mark: str) -> str:
    """The class of a cell."""
    return f"cell cell--{_NAMES.get(mark, 'nothing')}"


def strip_svgs(strip: DutyStrip, ident: str) -> tuple[str, ...]:
    """One picture for each panel; `ident` makes their names unique on the page."""
    return tuple(_panel(strip, panel, f"{ident}-{n}") for n, panel in enumerate(strip.panels, start=1))


def _panel(strip: DutyStrip, panel: StripPanel, ident: str) -> str:
    gutter = _GUTTER.get(strip.form, _USUAL_GUTTER)
    across = _ACROSS.get(strip.form, _YEARS)
    cell = min((WIDTH - gutter) / across, _WIDEST.get(strip.form, 30.0))
    y, marks = 0.0, []
    if strip.form == DAYS:
        marks += [text(gutter + (n + 0.5) * cell, LETTER, str(n + 1), "pic-text", "middle") for n in range(0, 31, 5)]
        y = _HEAD
    for n, row in enumerate(_broken(panel.rows, across)):
        if strip.form == WEEKS or (strip.form != DAYS and n == 0):
            marks += _head(strip.form, row, gutter, cell, y + LETTER)
            y += _HEAD
        marks += _row(row, y, gutter, cell)
        y += _TALL + 2
    return picture(ident, strip.caption, panel.alt, y, marks)


def _broken(rows: tuple[StripRow, ...], across: int) -> Iterator[StripRow]:
    """The rows, those longer than `across` in pieces that begin where `across` ends."""
    for row in rows:
        cells, begin = " " * row.column + row.marks, row.column
        for at in range(0, len(cells), across):
            piece = cells[at : at + across]
            start = max(begin - at, 0)
            if piece.strip():
                skipped = max(at - begin, 0)
                first = add_days(row.first, 7 * skipped) if at else row.first
                yield StripRow(row.label if at == 0 or begin >= at else "", first, start, piece[start:])


def _row(row: StripRow, y: float, gutter: float, cell: float) -> list[str]:
    middle = y + _TALL / 2 + LETTER * 0.36
    marks = [text(0, middle, row.label, "pic-text pic-strong")] if row.label else []
    n = 0
    for mark, run in groupby(row.marks):
        for _ in run:
            x = gutter + (row.column + n) * cell
            n += 1
            if mark != " ":
                marks.append(box(x + 0.6, y + 0.6, cell - 1.2, _TALL - 1.2, look_of(mark)))
                marks.append(text(x + cell / 2, middle, mark, f"cell-letter cell-letter--{_NAMES[mark]}", "middle"))
    return marks


def _head(form: str, row: StripRow, gutter: float, cell: float, y: float) -> list[str]:
    """What stands above a row: the month in which its weeks begin, the month, the quarter, the year."""
    made, free = [], -1.0
    for n in range(len(row.marks)):
        name, x = _column(form, row, n), gutter + (row.column + n) * cell
        if name and x >= free and x + wide(name) <= WIDTH + 4:
            made.append(text(x + 1, y, name))
            free = x + wide(name) + 4
    return made


def _column(form: str, row: StripRow, n: int) -> str:
    if form == WEEKS:
        day = add_days(row.first, 7 * n + 3)  # a week is named by its fourth day
        return month_name(day) if n == 0 or add_days(day, -7).month != day.month else ""
    if form == MONTHS:
        return month_name(add_months(row.first, n))[:1]
    if form == QUARTERS:
        return f"Q{(add_months(row.first, 3 * n).month + 2) // 3}"
    return str(row.first.year + n)
