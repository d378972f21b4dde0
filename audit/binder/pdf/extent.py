"""The rectangle that marks fill."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from audit.binder.pdf.marks import Dot, DrawnLine, Mark, Shape, Stroke, Text
from audit.binder.pdf.measure import width


def _corners(mark: Mark) -> Iterator[tuple[float, float]]:
    if isinstance(mark, Text):
        yield mark.x, mark.y - mark.style.size
        yield mark.x + width(mark.text, mark.style), mark.y + mark.style.size * 0.25
    elif isinstance(mark, DrawnLine):
        yield mark.x1, mark.y1
        yield mark.x2, mark.y2
    elif isinstance(mark, Dot):
        yield mark.x - mark.radius, mark.y - mark.radius
        yield mark.x + mark.radius, mark.y + mark.radius
    elif isinstance(mark, Stroke | Shape):
        yield from mark.points
    else:
        yield mark.x, mark.y
        yield mark.x + mark.width, mark.y + mark.height


def extent(marks: Iterable[Mark]) -> tuple[float, float, float, float]:
    """Left, upper, right and lower edge in points, y counted down. Raises ValueError when there is no mark."""
    xs, ys = zip(*(corner for mark in marks for corner in _corners(mark)), strict=True)
    return min(xs), min(ys), max(xs), max(ys)
