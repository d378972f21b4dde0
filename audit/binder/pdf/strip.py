"""The strip of weeks: a letter in every cell, a shade as well, and the day each week starts on."""

from __future__ import annotations

from collections import Counter

from audit.binder.pdf.elements import Element, inside
from audit.binder.pdf.marks import Box, DrawnLine, Mark, Piece, Run, Text
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.page import CELL, CELL_STRONG, HAIR, INK, Sheet, Type
from audit.binder.pdf.rows import Slot, baseline, caption_piece, set_lines
from audit.binder.sections import Strip, StripWeek
from audit.binder.written_on_paper import day, first_upper, month_name

PER_ROW = 26  # half a year
_CELL_HEIGHT = 17.0
_MONTH = Type(7.5, 9.0, bold=True)
_DAY = Type(7.5, 9.0)
_MARK = Type(8.4, 11, bold=True)
_PLAIN_MARK = Type(8.4, 11)

# Fill, edge, thickness, dashed: told apart on a grey copy, and by the letter without any shade at all.
_LOOKS = {
    "passed": (1.0, INK, 0.4, False),
    "missed": (1.0, INK, 1.6, False),
    "failed": (INK, INK, 0.4, False),
    "invalid": (1.0, INK, 0.9, False),
    "awaited": (1.0, INK, 0.7, True),
    "exempt": (1.0, INK, HAIR, False),
    "open": (1.0, INK, HAIR, True),
    "before": (1.0, INK, HAIR, False),
}
_HEAVY = ("missed", "failed", "invalid")


def _cell(x: float, y: float, wide: float, mark: str, result: str) -> list[Mark]:
    fill, edge, thick, dashed = _LOOKS.get(result, _LOOKS["exempt"])
    inset = 0.8 + thick / 2
    style = _MARK if result in _HEAVY else _PLAIN_MARK
    text_x = x + (wide - width(mark, style)) / 2
    top = y + (_CELL_HEIGHT - style.leading) / 2
    return [
        Box(x + inset, y + inset, wide - 2 * inset, _CELL_HEIGHT - 2 * inset, fill, edge, thick, dashed),
        Text(text_x, baseline(top, style), mark, style, white=result == "failed"),
    ]


def _row(weeks: tuple[StripWeek, ...], wide: float, previous: StripWeek | None) -> Piece:
    marks: list[Mark] = []
    y_day, y_cell = _MONTH.leading, _MONTH.leading + _DAY.leading
    before = previous
    for n, week in enumerate(weeks):
        x = n * wide
        if before is None or n == 0 or before.start.month != week.start.month:
            # The year stands at the start of a row and of a year; a month too near the right edge keeps its name.
            new_year = n == 0 or before is None or before.start.year != week.start.year
            label = f"{month_name(week.start)} {week.start.year}" if new_year else month_name(week.start)
            marks.append(Text(x + 1, baseline(0, _MONTH), label, _MONTH))
            marks.append(DrawnLine(x, 1, x, y_cell))
        number = str(week.start.day)
        marks.append(Text(x + (wide - width(number, _DAY)) / 2, baseline(y_day, _DAY), number, _DAY))
        marks += _cell(x, y_cell, wide, week.mark, week.result)
        before = week
    figure = Element("Figure", alt=_in_words(weeks))
    return Piece(y_cell + _CELL_HEIGHT, (Run(figure, marks),), above=5)


def _in_words(weeks: tuple[StripWeek, ...]) -> str:
    """What a row of the strip shows: how many weeks of each result, and the day of each week that was not kept."""
    counts = Counter(week.result for week in weeks)
    told = ", ".join(f"{count} {result}" for result, count in counts.items())
    bad = [f"{week.result} in the week from {day(week.start)}" for week in weeks if week.result in _HEAVY]
    span = f"Weeks from {day(weeks[0].start)} to {day(weeks[-1].end)}: {told}."
    return f"{span} {first_upper('; '.join(bad))}." if bad else span


def _legend(strip: Strip, wide: float, sheet: Sheet) -> list[Piece]:
    pieces = []
    whole = Element("L")
    for mark, result, meaning in strip.legend:
        item = Element("LI", whole)
        name = Slot(wide + 6, 46, "left")
        text = Slot(wide + 58, sheet.text_width - wide - 58, "left")
        lines = wrap(meaning, CELL, text.width)
        top = (_CELL_HEIGHT - CELL.leading) / 2
        body = [*set_lines((result,), name, top, CELL_STRONG), *set_lines(lines, text, top, CELL)]
        ground, letter = _cell(0, 0, wide, mark, result)
        runs = (Run(None, (ground,)), Run(inside(item, "Lbl"), (letter,)), Run(inside(item, "LBody"), body))
        height = max(_CELL_HEIGHT, top + len(lines) * CELL.leading) + 1
        pieces.append(Piece(height, runs, above=0 if pieces else 6, keep=True))
    if pieces:
        pieces[-1].keep = False
    return pieces


def strip_pieces(strip: Strip, sheet: Sheet) -> list[Piece]:
    """Half a year to a row, then the legend of the marks in use."""
    wide = sheet.text_width / PER_ROW
    rows = []
    for start in range(0, len(strip.weeks), PER_ROW):
        previous = strip.weeks[start - 1] if start else None
        rows.append(_row(strip.weeks[start : start + PER_ROW], wide, previous))
    return [caption_piece(strip.caption, sheet), *rows, *_legend(strip, wide, sheet)]
