"""Page numbers inside the text: on which page a section or a row stands.

A number takes a line of its own in a table and stands behind the key of a pair, so that no line breaks elsewhere
once it is known: laying out twice gives the same pages.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from audit.binder.pdf.marks import Text
from audit.binder.pdf.page import PROOF
from audit.binder.pdf.paginate import Page
from audit.binder.sections import Beside, Block, Cell, KeyValues, Masthead, Section, Table

_NAMED = re.compile(r"\{([a-z][a-z0-9-]*)\}")
_ROOM = "000"  # as wide as the number of any page a binder is likely to have


@dataclass(frozen=True, slots=True)
class Finder:
    """`sections`: the page of each section by id; `rows`: the pages on which each row is named, in order."""

    sections: dict[str, int]
    rows: dict[str, tuple[int, ...]]

    @classmethod
    def of(cls, pages: Iterable[Page], before: int) -> tuple[Finder, int]:
        """From laid out pages, of which the first has the number `before` + 1; and how many there are."""
        sections: dict[str, int] = {}
        rows: dict[str, dict[int, None]] = {}
        number = before
        for number, page in enumerate(pages, start=before + 1):
            sections.update({anchor.id: number for _, anchor in page.anchors})
            for name in _names_on(page):
                rows.setdefault(name, {})[number] = None
        return cls(sections, {name: tuple(found) for name, found in rows.items()}), number - before

    def page(self, to: str, row: str) -> int | None:
        """The first page from the section `to` on that names the row, else the page of the section."""
        start = self.sections.get(to)
        if start is None:
            return None
        return next((n for n in self.rows.get(row, ()) if n >= start), start) if row else start


def _names_on(page: Page):
    for _, piece in page.placed:
        if piece.name:
            yield piece.name
        for run in piece.runs:
            for mark in run.marks:
                if mark.__class__ is Text and mark.style is PROOF:
                    yield from mark.text.rstrip(",").split(", ")


def _cells(blocks: Iterable[Block]):
    for block in blocks:
        if isinstance(block, Table):
            yield from (cell for row in block.rows for cell in row)
        elif isinstance(block, KeyValues):
            yield from (cell for _, cell in block.pairs)
        elif isinstance(block, Beside):
            yield from _cells((*block.left, *block.right))


def asks_pages(section: Section) -> bool:
    return any(cell.page is not None or cell.pages for cell in _cells(section.blocks)) or any(
        isinstance(block, Masthead) for block in section.blocks
    )


def numbered(section: Section, finder: Finder | None) -> Section:
    """The section with page numbers in its text; with room for them where `finder` is None."""
    if not asks_pages(section):
        return section
    return replace(section, blocks=tuple(_block(block, finder) for block in section.blocks))


def _block(block, finder: Finder | None):
    if isinstance(block, Table):
        return replace(block, rows=tuple(tuple(_in_table(cell, finder) for cell in row) for row in block.rows))
    if isinstance(block, KeyValues):
        return replace(block, pairs=tuple(_pair(key, cell, finder) for key, cell in block.pairs))
    if isinstance(block, Beside):
        left, right = (tuple(_block(each, finder) for each in side) for side in (block.left, block.right))
        return Beside(left, right)
    if isinstance(block, Masthead):
        box = tuple((label, _filled(text, finder)) for label, text in block.box)
        return replace(block, lines=tuple(_filled(line, finder) for line in block.lines), box=box)
    return block


def _filled(text: str, finder: Finder | None) -> str:
    """A text of the masthead with the page of each section that it names as "{seal}"."""
    return _NAMED.sub(lambda found: _number(Cell("", to=found.group(1), page=""), finder), text)


def _number(cell: Cell, finder: Finder | None) -> str:
    found = None if finder is None else finder.page(cell.to, cell.page or "")
    return _ROOM if finder is None else "–" if found is None else str(found)


def _in_table(cell: Cell, finder: Finder | None) -> Cell:
    if cell.pages:
        return replace(cell, text="\n".join(part for part in (cell.text, _numbers(cell, finder)) if part))
    if cell.page is None:
        return cell
    number = _number(cell, finder)
    return replace(cell, text="\n".join(part for part in (cell.text, number) if part))


def _numbers(cell: Cell, finder: Finder | None) -> str:
    """Several page numbers, two to a line; as many lines as there is room for, so that nothing moves."""
    room = [", ".join([_ROOM] * len(cell.pages[n : n + 2])) for n in range(0, len(cell.pages), 2)]
    if finder is None:
        return ",\n".join(room)
    found = sorted({page for to, row in cell.pages if (page := finder.page(to, row)) is not None})
    told = [", ".join(map(str, found[n : n + 2])) for n in range(0, len(found), 2)] or ["–"]
    return ",\n".join(told) + "\n" * (len(room) - len(told))


def _pair(key: str, cell: Cell, finder: Finder | None) -> tuple[str, Cell]:
    if cell.page is None:
        return key, cell
    return f"{key}, page {_number(cell, finder)}", cell
