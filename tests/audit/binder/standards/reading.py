"""A file as a screen reader goes through it: the structure tree in order, with the text each element holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from tests.audit.binder.standards.opened import Content, Node, Opened
from tests.audit.binder.standards.tables import cells, rows


@dataclass(frozen=True, slots=True)
class Said:
    """What one element says by itself, without those inside it; of a figure, the text in its place."""

    role: str
    text: str


def even(text: str) -> str:
    return " ".join(text.split())


def read(opened: Opened) -> list[Said]:
    """Everything that is read, in order. Artifacts are not, nor what a figure shows."""
    return [said for top in opened.top for said in _read(opened, top)]


def _read(opened: Opened, node: Node) -> Iterator[Said]:
    alt = node.obj.get("/Alt")
    if alt is not None:
        yield Said(node.role, even(str(alt)))
        return
    own: list[str] = []
    for kid in node.kids:
        if isinstance(kid, Content):
            own.append(opened.pages[kid.page].marked[kid.number].text)
        elif isinstance(kid, Node):
            yield from _spoken(node, own)
            own = []
            yield from _read(opened, kid)
    yield from _spoken(node, own)


def _spoken(node: Node, parts: list[str]) -> Iterator[Said]:
    text = even(" ".join(parts))
    if text:
        yield Said(node.role, text)


def grid(opened: Opened, table: Node) -> list[list[str]]:
    """A table as a screen reader steps through it: the text of each cell, row by row."""
    return [[even(opened.text(cell)) for cell in cells(row)] for row in rows(table)]


def headings(opened: Opened) -> list[tuple[int, str]]:
    """Level and text, in order."""
    return [
        (int(node.role[1]), even(opened.text(node)))
        for node in opened.nodes
        if len(node.role) == 2 and node.role[0] == "H" and node.role[1].isdigit()
    ]
