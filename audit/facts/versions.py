"""Which version of a row is in force, given what had been logged by a moment. Pure.

Order of the cuts: first what was known, then corrections and rows entered in error, and only then (in `audit.facts`)
what had happened by the day judged. They do not commute: a correction that moves a row to another day must be
applied before the day is looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from datetime import datetime
from typing import TypeVar

R = TypeVar("R")


def known(rows: Iterable[R], logged_at: Callable[[R], datetime], known_at: datetime | None) -> list[R]:
    """The rows logged by `known_at` (inclusive); all of them when it is None."""
    return [r for r in rows if known_at is None or logged_at(r) <= known_at]


def in_force(
    rows: Iterable[R],
    ident: Callable[[R], Hashable],
    amends: Callable[[R], Hashable | None],
    origin: Callable[[R], Hashable],
    voided: frozenset,
) -> list[R]:
    """The rows that no other one of `rows` amends and whose origin was not entered in error, in their order."""
    rows = list(rows)
    replaced = {amends(r) for r in rows} - {None}
    return [r for r in rows if ident(r) not in replaced and origin(r) not in voided]
