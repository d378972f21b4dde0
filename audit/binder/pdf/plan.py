"""A binder laid out: on which page everything stands. The pages themselves are made when they are asked for.

So what is kept of a long binder while it is drawn is where its sections begin, not each of its words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from audit.binder.pdf.paginate import Page


@dataclass(frozen=True, slots=True)
class Plan:
    """`known` are the ids that a jump can lead to. Going through it makes the pages, the same each time."""

    count: int
    known: frozenset[str]
    pages: Callable[[], Iterator[Page]]

    def __len__(self) -> int:
        return self.count

    def __iter__(self) -> Iterator[Page]:
        return self.pages()


def planned(pages: list[Page]) -> Plan:
    """A plan of pages that are laid out already: for a report of a few."""
    return Plan(len(pages), frozenset(anchor.id for page in pages for _, anchor in page.anchors), lambda: iter(pages))
