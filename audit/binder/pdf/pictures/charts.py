"""Charts side by side: two to a row, or one over the whole width where there is much to show."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Dot, Line, Mark, Piece, Run, Shape, Stroke
from audit.binder.pdf.page import INK, SOFT, Sheet
from audit.binder.pdf.pictures.counters import counter_figure
from audit.binder.pdf.pictures.parts import caption, carried_on, legend, note
from audit.binder.pdf.pictures.readings import BAND, diamond, is_wide, reading_figure
from audit.binder.pictures.values import Charts, CounterChart, ReadingChart

_BETWEEN = 20.0
_FEW = 6  # readings of a counter that half the width is enough for


def _figure(chart: ReadingChart | CounterChart, left: float, wide: float) -> tuple[float, Run]:
    draw = counter_figure if isinstance(chart, CounterChart) else reading_figure
    tall, marks = draw(chart, left, wide)
    return tall, Run(Element("Figure", alt=chart.alt), marks)


def _is_wide(chart: ReadingChart | CounterChart) -> bool:
    if isinstance(chart, CounterChart):
        return len(chart.points) > _FEW or bool(chart.breaks or chart.projected)
    return is_wide(chart)


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
    rows = carried_on(pieces, block.caption, sheet)
    return [*caption(block.caption, sheet), *rows, *signs, *notes, *note(block.rows, sheet)]


def _sign(name: str):
    def draw(x: float, y: float) -> tuple[list[Mark], list[Mark]]:
        drawn: dict[str, Mark] = {
            "found": Dot(x, y, 1.9, filled=False),
            "left": Dot(x, y, 1.9, filled=True),
            "outside": diamond(x, y, filled=True),
            "band": Shape(((x - 6, y - 3), (x + 6, y - 2), (x + 6, y + 3), (x - 6, y + 2)), BAND, SOFT, 0.25),
            "limit": Line(x - 6, y, x + 6, y, SOFT, 0.8),
            "break": Stroke(((x, y - 4.5), (x, y + 4.5)), INK, 0.6, (1.2, 1.2)),
            "ahead": Stroke(((x - 6, y + 2), (x + 6, y - 2)), INK, 0.7, (2.4, 1.8)),
        }
        return [], [drawn[name]]

    return (14.0 if name in ("limit", "ahead", "band") else 7.0), draw
