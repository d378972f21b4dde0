"""Charts side by side: two to a row, or one over the whole width where there is much to show."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Mark, Piece, Run
from audit.binder.pdf.page import Sheet
from audit.binder.pdf.pictures.ink import PAPER, inked
from audit.binder.pdf.pictures.parts import caption, carried_on, heading, legend, note
from audit.binder.pictures.laid import marks as laid
from audit.binder.pictures.laid.counters import lay_counter
from audit.binder.pictures.laid.frame import ChartSizes
from audit.binder.pictures.laid.readings import lay_readings
from audit.binder.pictures.values import Charts, CounterChart, ReadingChart

_BETWEEN = 20.0
_FEW = 6  # readings of a counter that half the width is enough for
_NARROW = 16  # measurements up to which half the width is enough
_READINGS = ChartSizes(left=30.0, right=36.0, words_from=9.5, top=13.0, plot=62.0, below=10.0)
_COUNTERS = ChartSizes(left=34.0, right=6.0, words_from=9.5, top=13.0, plot=84.0, below=10.0, label=190.0)


def _figure(chart: ReadingChart | CounterChart, left: float, wide: float) -> tuple[float, Run]:
    draw = _counter if isinstance(chart, CounterChart) else _reading
    tall, marks = draw(chart, left, wide)
    return tall, Run(Element("Figure", alt=chart.alt), marks)


def _reading(chart: ReadingChart, left: float, wide: float) -> tuple[float, list[Mark]]:
    """(height, marks) of a chart that stands from x `left` on."""
    marks, left_out = lay_readings(chart, left, wide, _READINGS, PAPER)
    many = _readings(chart.total)
    if chart.band:
        many += ", the band from lowest to highest"
    if left_out:
        many += f", {left_out} marked without number"
    unit = f", {chart.unit}" if chart.unit else ""
    return _READINGS.tall, [*heading(f"{chart.caption}{unit}", many, left, wide), *inked(marks)]


def _counter(chart: CounterChart, left: float, wide: float) -> tuple[float, list[Mark]]:
    many = _readings(chart.total)
    if len(chart.points) < chart.total:
        many += f", {len(chart.points)} drawn"
    marks = lay_counter(chart, left, wide, _COUNTERS, PAPER)
    return _COUNTERS.tall, [*heading(chart.caption, many, left, wide), *inked(marks)]


def _readings(total: int) -> str:
    return f"{total} readings" if total > 1 else "1 reading"


def _is_wide(chart: ReadingChart | CounterChart) -> bool:
    if isinstance(chart, CounterChart):
        return len(chart.points) > _FEW or bool(chart.breaks or chart.projected)
    return chart.band or len(chart.samples) > _NARROW


def _rows(charts: tuple[ReadingChart | CounterChart, ...]) -> list[list[ReadingChart | CounterChart]]:
    """Two narrow ones to a row, in order; a wide one by itself."""
    rows: list[list] = []
    for chart in charts:
        if rows and len(rows[-1]) == 1 and not _is_wide(chart) and not _is_wide(rows[-1][0]):
            rows[-1].append(chart)
        else:
            rows.append([chart])
    return rows


def chart_pieces(block: Charts, sheet: Sheet) -> list[Piece]:
    """Caption, the charts row by row, the signs in use with their meaning, where the rows are."""
    half = (sheet.text_width - _BETWEEN) / 2
    pieces = []
    for row in _rows(block.charts):
        wide = sheet.text_width if _is_wide(row[0]) else half
        figures = [_figure(chart, n * (half + _BETWEEN), wide) for n, chart in enumerate(row)]
        tall = max(height for height, _ in figures)
        pieces.append(Piece(tall, tuple(run for _, run in figures), above=7))
    signs = legend([(_sign(sign), meaning) for sign, meaning in block.legend], sheet)
    notes = [text for c in block.charts if isinstance(c, CounterChart) for text in note(c.note, sheet)]
    if signs and pieces:
        pieces[-1].keep = True  # with the key under it
    rows = carried_on(pieces, block.caption, sheet)
    return [*caption(block.caption, sheet), *rows, *signs, *notes, *note(block.rows, sheet)]


def _sign(name: str):
    def draw(x: float, y: float) -> tuple[list[Mark], list[Mark]]:
        drawn: dict[str, laid.Mark] = {
            "found": laid.Sign(x, y, "found"),
            "left": laid.Sign(x, y, "left"),
            "outside": laid.Sign(x, y, "outside-left"),
            "band": laid.LaidShape(((x - 6, y - 3), (x + 6, y - 2), (x + 6, y + 3), (x - 6, y + 2)), "band"),
            "limit": laid.LaidLine(x - 6, y, x + 6, y, "limit"),
            "break": laid.LaidStroke(((x, y - 4.5), (x, y + 4.5)), "break"),
            "ahead": laid.LaidStroke(((x - 6, y + 2), (x + 6, y - 2)), "ahead"),
        }
        return [], inked([drawn[name]])

    return (14.0 if name in ("limit", "ahead", "band") else 7.0), draw
