"""Many facts in one entry, each through its own writer: what a writer would log by itself joins the entry of a table.

While rows are gathered a writer judges each as ever and adds it to the entry that was begun (`into`), or to none
(`trying`), which only finds out what would be refused. What no row of the same table can change (rights, zone, boxes,
names, what was on record before) is asked once. Rows of one table see each other where a rule asks it: `seen`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

T = TypeVar("T")


class Gathering:
    """`whole` is the submission that the rows join, None while it is only tried; `known` what was asked once."""

    def __init__(self) -> None:
        self.whole: Any = None
        self.known: dict[Hashable, Any] = {}


_now: ContextVar[Gathering | None] = ContextVar("rows_gathered", default=None)


def current() -> Gathering | None:
    """The table whose rows are being gathered, None where each entry is logged by itself."""
    return _now.get()


@contextmanager
def trying(gathering: Gathering) -> Iterator[None]:
    """Writers inside judge, and write nothing: neither rows nor the names in them."""
    with _set(gathering, None):
        yield


@contextmanager
def into(gathering: Gathering, whole) -> Iterator[None]:
    """What writers inside log joins the submission `whole`, in their order."""
    with _set(gathering, whole):
        yield


@contextmanager
def _set(gathering: Gathering, whole) -> Iterator[None]:
    gathering.whole = whole
    token = _now.set(gathering)
    try:
        yield
    finally:
        _now.reset(token)


def is_trying() -> bool:
    """Whether what writers do now is only tried."""
    gathering = _now.get()
    return gathering is not None and gathering.whole is None


def once(key: Hashable, ask: Callable[[], T]) -> T:
    """What `ask` gives; of rows that are gathered it is asked for the first alone."""
    gathering = _now.get()
    if gathering is None:
        return ask()
    if key not in gathering.known:
        gathering.known[key] = ask()
    return gathering.known[key]
