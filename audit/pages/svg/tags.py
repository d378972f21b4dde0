"""Elements of SVG as text: every attribute and every word escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

WIDTH = 344
LETTER = 10.0  # the height of the smallest text, in units


def number(value: float) -> str:
    """A coordinate with at most one decimal."""
    rounded = round(value, 1) + 0.0  # no minus zero
    return f"{rounded:.1f}".removesuffix(".0")


def element(name: str, attributes: dict, *inside: str) -> str:
    """An element; a number among the attributes is a coordinate, None leaves the attribute out."""
    told = "".join(f' {key}="{_value(value)}"' for key, value in attributes.items() if value is not None)
    return f"<{name}{told}>{''.join(inside)}</{name}>" if inside else f"<{name}{told}/>"


def _value(value) -> str:
    return number(value) if isinstance(value, int | float) else escape(str(value))


def line(x1: float, y1: float, x2: float, y2: float, look: str) -> str:
    return element("line", {"class": look, "x1": x1, "y1": y1, "x2": x2, "y2": y2})


def box(x: float, y: float, wide: float, tall: float, look: str) -> str:
    return element("rect", {"class": look, "x": x, "y": y, "width": wide, "height": tall})


def dot(x: float, y: float, radius: float, look: str) -> str:
    return element("circle", {"class": look, "cx": x, "cy": y, "r": radius})


def diamond(x: float, y: float, look: str, half: float = 4.5) -> str:
    corners = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
    return element("polygon", {"class": look, "points": _points(corners)})


def shape(points: Iterable[tuple[float, float]], look: str) -> str:
    return element("polygon", {"class": look, "points": _points(points)})


def stroke(points: Iterable[tuple[float, float]], look: str) -> str:
    return element("polyline", {"class": look, "points": _points(points)})


def _points(points) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def text(x: float, y: float, words: str, look: str = "pic-text", anchor: str = "start") -> str:
    """Words on the line `y`; `anchor` is start, middle or end."""
    placed = {"class": look, "x": x, "y": y, "text-anchor": None if anchor == "start" else anchor}
    return element("text", placed, escape(words))


def picture(ident: str, title: str, told: str, tall: float, marks: Iterable[str]) -> str:
    """The whole picture: one image for who listens to the page, with its name and what it shows in words."""
    about = {
        "class": "pic",
        "role": "img",
        "viewBox": f"0 0 {WIDTH} {number(tall)}",
        "aria-labelledby": f"{ident}-t",
        "aria-describedby": f"{ident}-d",
    }
    head = element("title", {"id": f"{ident}-t"}, escape(title))
    desc = element("desc", {"id": f"{ident}-d"}, escape(told))
    return element("svg", about, head, desc, *marks)
