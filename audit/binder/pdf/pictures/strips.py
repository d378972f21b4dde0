"""The strip of a duty: rows of cells with a letter in each, and a shade as well."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from audit.binder.on_paper import month_name
from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Line, Mark, Piece, Run, Text, lowered
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import INK, PALE, SOFT, Sheet, Type
from audit.binder.pdf.pictures.axes import TICK, TICK_STRONG
from audit.binder.pdf.pictures.parts import caption, carried_on, centred, legend, note
from audit.binder.pdf.rows import baseline
from audit.binder.pictures.grid import DAYS, MONTHS, QUARTERS, WEEKS
from audit.binder.pictures.values import DutyStrip, StripPanel, StripRow
from audit.facts.dates import add_days, add_months

_LETTER = Type(6.2, 8.0, grey=SOFT)
_HEAVY = Type(6.6, 8.0, bold=True)
_ROW_LABEL = Type(5.8, 7.4, bold=True, grey=SOFT)
_COLUMNS = {DAYS: 31, WEEKS: 53, MONTHS: 12, QUARTERS: 4}
_YEARS = 10
_GUTTER = {DAYS: 40.0}
_WIDEST = {MONTHS: 40.0, QUARTERS: 60.0}
_TALL = {DAYS: 9.4}
_CELL = 11.0
_HEAD = 8.4

# Fill, edge, thickness, dashed, heavy letter. None: neither ground nor edge.
_LOOKS = {
    "T": (0.88, None, 0.0, False, False),
    "D": (0.88, None, 0.0, False, False),
    "F": (INK, INK, 0.4, False, True),
    "M": (1.0, INK, 0.8, False, True),
    "L": (1.0, INK, 0.4, False, True),
    "I": (0.62, None, 0.0, False, True),
    "A": (1.0, SOFT, 0.5, True, False),
    "E": (1.0, PALE, 0.35, False, False),
    "o": (1.0, PALE, 0.35, True, False),
    "·": None,
    "-": None,
}


def _ground(x: float, y: float, wide: float, tall: float, mark: str) -> list[Mark]:
    """The shade and frame of cells of one mark side by side, from the upper left corner (x, y)."""
    look = _LOOKS[mark]
    if look is None:
        return []
    fill, edge, thick, dashed, _ = look
    inset = 0.4 + thick / 2
    return [Box(x + inset, y + inset, wide - 2 * inset, tall - 2 * inset, fill, edge, thick, dashed)]


def _letter(x: float, y: float, wide: float, tall: float, mark: str) -> Text:
    look = _LOOKS[mark]
    style = _HEAVY if look is not None and look[4] else _LETTER
    return centred(mark, x + wide / 2, y + tall / 2, style, white=mark == "F")


def _cell_width(strip: DutyStrip, sheet: Sheet) -> float:
    longest = max(row.column + len(row.marks) for panel in strip.panels for row in panel.rows)
    columns = max(_COLUMNS.get(strip.form, _YEARS), longest)
    room = sheet.text_width - _GUTTER.get(strip.form, 30.0)
    return min(room / columns, _WIDEST.get(strip.form, 40.0))


def _numbers(gutter: float, wide: float) -> list[Mark]:
    """The days of a month above their columns."""
    return [centred(str(n + 1), gutter + (n + 0.5) * wide, _HEAD / 2, TICK) for n in range(31)]


def _head(strip: DutyStrip, row: StripRow, gutter: float, wide: float) -> list[Mark]:
    """What stands above a row: the month in which its cells begin, the quarter, the year."""
    marks: list[Mark] = []
    free, right = -1.0, gutter + wide * max(row.column + len(row.marks), 53)
    for n in range(len(row.marks)):
        x = gutter + (row.column + n) * wide
        text, style = _column_name(strip.form, row, n)
        if text and n == 0 and any(_column_name(strip.form, row, k)[0] for k in (1, 2)) and strip.form == WEEKS:
            continue  # the month that follows at once is named instead
        if text and x >= free and x + 1.5 + width(text, style) <= right:
            marks.append(Text(x + 1.5, baseline(0.5, style), text, style))
            if strip.form == WEEKS:
                marks.append(Line(x, 1.5, x, _HEAD, PALE))
            free = x + 4 + width(text, style)
    return marks


def _column_name(form: str, row: StripRow, n: int) -> tuple[str, Type]:
    if form == WEEKS:
        day = add_days(row.first, 7 * n + 3)  # a week is named by its fourth day
        new = n == 0 or add_days(day, -7).month != day.month
        return (month_name(day) if new else ""), TICK
    if form == MONTHS:
        return month_name(add_months(row.first, n)), TICK
    if form == QUARTERS:
        return f"Q{(add_months(row.first, 3 * n).month + 2) // 3}", TICK
    return str(row.first.year + n), TICK_STRONG


def _row_marks(row: StripRow, top: float, gutter: float, wide: float, tall: float) -> list[Mark]:
    marks: list[Mark] = [Text(0, baseline(top + (tall - _ROW_LABEL.leading) / 2, _ROW_LABEL), row.label, _ROW_LABEL)]
    letters: list[Mark] = []
    n = 0
    for mark, run in groupby(row.marks):
        many = len(list(run))
        x = gutter + (row.column + n) * wide
        n += many
        if mark != " ":
            marks += _ground(x, top, many * wide, tall, mark)
            letters += [_letter(x + k * wide, top, wide, tall, mark) for k in range(many)]
    return marks + letters


def _panel(strip: DutyStrip, panel: StripPanel, sheet: Sheet) -> Piece:
    wide, gutter = _cell_width(strip, sheet), _GUTTER.get(strip.form, 30.0)
    tall = _TALL.get(strip.form, _CELL)
    marks: list[Mark] = []
    y = 0.0
    if strip.form == DAYS:
        marks += _numbers(gutter, wide)
        y = _HEAD
    for n, row in enumerate(panel.rows):
        if strip.form == WEEKS or (strip.form != DAYS and n == 0):
            marks += lowered(_head(strip, row, gutter, wide), y)
            y += _HEAD
        marks += _row_marks(row, y, gutter, wide, tall)
        y += tall + (2.0 if strip.form == WEEKS else 0.6)
    return Piece(y, (Run(Element("Figure", alt=panel.alt), marks),), above=4)


def _sign(mark: str):
    wide, tall = 10.0, 9.0

    def draw(x: float, y: float) -> tuple[list[Mark], list[Mark]]:
        at = (x - wide / 2, y - tall / 2, wide, tall, mark)
        return [_letter(*at)], _ground(*at)

    return wide, draw


def strip_pieces(strip: DutyStrip, sheet: Sheet) -> list[Piece]:
    """Caption, a figure for each panel, the marks in use with their meaning, where the rows are."""
    figures = carried_on([_panel(strip, panel, sheet) for panel in strip.panels], strip.caption, sheet)
    signs = legend([(_sign(mark), meaning) for mark, meaning in strip.legend], sheet)
    figures[-1] = _kept(figures[-1])
    return [*caption(strip.caption, sheet), *figures, *map(_kept, signs), *note(strip.rows, sheet)]


def _kept(piece: Piece) -> Piece:
    return replace(piece, keep=True)
