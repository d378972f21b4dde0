"""The strip of a duty: rows of cells with a letter in each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby

from audit.binder.pictures.grid import DAYS, MONTHS, QUARTERS, WEEKS
from audit.binder.pictures.values import DutyStrip, StripPanel, StripRow
from audit.binder.written_on_paper import month_name
from audit.facts.dates import add_days, add_months

from .hand import Hand, baseline, between, centred
from .marks import LaidBox, LaidLine, LaidText, Mark

_COLUMNS = {DAYS: 31, WEEKS: 53, MONTHS: 12, QUARTERS: 4}
_YEARS = 10


@dataclass(frozen=True, slots=True)
class StripSizes:
    """In units of the picture; by the form of the strip where it is a mapping, else `usual`.

    `at_most`: how many cells stand side by side before a row is broken, where that is fewer than it has. `joined`:
    cells of one mark side by side have one ground.
    """

    width: float
    gutter: float
    usual_gutter: float
    widest: dict[str, float]
    usual_widest: float
    tall: dict[str, float]
    usual_tall: float
    head: float
    between: dict[str, float]
    usual_between: float
    joined: bool
    at_most: dict[str, int] = field(default_factory=dict)

    def gutter_of(self, form: str) -> float:
        return self.gutter if form == DAYS else self.usual_gutter

    def cell(self, strip: DutyStrip, rows: list[StripRow]) -> float:
        """The width of a cell: all columns that the form has fit into the width."""
        columns = self.at_most.get(strip.form) or max(
            _COLUMNS.get(strip.form, _YEARS), *(row.column + len(row.marks) for row in rows)
        )
        room = self.width - self.gutter_of(strip.form)
        return min(room / columns, self.widest.get(strip.form, self.usual_widest))


def lay_strip(strip: DutyStrip, panel: StripPanel, sizes: StripSizes, hand: Hand) -> tuple[float, list[Mark]]:
    """(height, marks) of one panel."""
    most = sizes.at_most.get(strip.form)
    all_rows = [row for each in strip.panels for row in each.rows]
    wide, gutter = sizes.cell(strip, all_rows), sizes.gutter_of(strip.form)
    tall = sizes.tall.get(strip.form, sizes.usual_tall)
    marks: list[Mark] = []
    y = 0.0
    if strip.form == DAYS:
        marks += _numbers(gutter, wide, sizes, hand)
        y = sizes.head
    for n, row in enumerate(_broken(panel.rows, most) if most else panel.rows):
        if strip.form == WEEKS or (strip.form != DAYS and n == 0):
            marks += _head(strip.form, row, gutter, wide, y, sizes, hand)
            y += sizes.head
        marks += _row_marks(row, y, gutter, wide, tall, sizes.joined, hand)
        y += tall + sizes.between.get(strip.form, sizes.usual_between)
    return y, marks


def _broken(rows: tuple[StripRow, ...], most: int) -> Iterator[StripRow]:
    """The rows of weeks, those longer than `most` in pieces that begin where `most` ends."""
    for row in rows:
        cells, begin = " " * row.column + row.marks, row.column
        for at in range(0, len(cells), most):
            piece = cells[at : at + most]
            start = max(begin - at, 0)
            if piece.strip():
                skipped = max(at - begin, 0)
                weeks = row.weeks[skipped : skipped + len(piece) - start]
                first = weeks[0] if weeks else add_days(row.first, 7 * skipped)
                yield StripRow(row.label if at == 0 or begin >= at else "", first, start, piece[start:], weeks)


def _numbers(gutter: float, wide: float, sizes: StripSizes, hand: Hand) -> list[Mark]:
    """The days of a month above their columns: all of them, or every fifth where there is no room for all."""
    step = 1 if hand.wide("31", "tick") < wide else 5
    return [centred(hand, str(n + 1), gutter + (n + 0.5) * wide, sizes.head / 2, "tick") for n in range(0, 31, step)]


def _head(
    form: str, row: StripRow, gutter: float, wide: float, top: float, sizes: StripSizes, hand: Hand
) -> list[Mark]:
    """What stands above a row: the month in which its cells begin, the quarter, the year."""
    marks: list[Mark] = []
    small = hand.scale
    most = sizes.at_most.get(form, _COLUMNS[WEEKS])
    free, right = -1.0, gutter + wide * max(row.column + len(row.marks), most)
    for n in range(len(row.marks)):
        x = gutter + (row.column + n) * wide
        text, look = _column_name(form, row, n)
        if text and n == 0 and any(_column_name(form, row, k)[0] for k in (1, 2)) and form == WEEKS:
            continue  # the month that follows at once is named instead
        if text and x >= free and x + 1.5 * small + hand.wide(text, look) <= right:
            marks.append(LaidText(x + 1.5 * small, baseline(hand, 0.5 * small, look) + top, text, look))
            if form == WEEKS:
                marks.append(LaidLine(x, 1.5 * small + top, x, sizes.head + top, "column"))
            free = x + 4 * small + hand.wide(text, look)
    return marks


def _column_name(form: str, row: StripRow, n: int) -> tuple[str, str]:
    if form == WEEKS:
        day, before = _fourth(row, n), _fourth(row, n - 1) if n else None  # a week is named by its fourth day
        new = before is None or before.month != day.month
        return (month_name(day) if new else ""), "tick"
    if form == MONTHS:
        return month_name(add_months(row.first, n)), "tick"
    if form == QUARTERS:
        return f"Q{(add_months(row.first, 3 * n).month + 2) // 3}", "tick"
    return str(row.first.year + n), "column-year"


def _fourth(row: StripRow, n: int) -> date:
    return add_days(row.weeks[n], 3) if n < len(row.weeks) else add_days(row.first, 7 * n + 3)


def _row_marks(
    row: StripRow, top: float, gutter: float, wide: float, tall: float, joined: bool, hand: Hand
) -> list[Mark]:
    marks: list[Mark] = [LaidText(0, between(hand, top, tall, "row"), row.label, "row")] if row.label else []
    letters: list[Mark] = []
    n = 0
    for mark, run in groupby(row.marks):
        many = len(list(run))
        x = gutter + (row.column + n) * wide
        n += many
        if mark != " ":
            marks += _grounds(x, top, wide, tall, mark, many, joined)
            letters += [letter(x + k * wide, top, wide, tall, mark, hand) for k in range(many)]
    return marks + letters


def _grounds(x: float, top: float, wide: float, tall: float, mark: str, many: int, joined: bool) -> list[Mark]:
    if joined:
        return [ground(x, top, many * wide, tall, mark)]
    return [ground(x + k * wide, top, wide, tall, mark) for k in range(many)]


def ground(x: float, y: float, wide: float, tall: float, mark: str) -> LaidBox:
    """The whole room of cells of one mark from their upper left corner; what draws it leaves a margin."""
    return LaidBox(x, y, wide, tall, f"cell-{mark}")


def letter(x: float, y: float, wide: float, tall: float, mark: str, hand: Hand) -> LaidText:
    return centred(hand, mark, x + wide / 2, y + tall / 2, f"letter-{mark}")
