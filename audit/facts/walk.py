"""Every fact in a tree of facts. There may be tens of thousands: only fields that may hold facts are opened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, get_args, get_type_hints

from .row import Row


@cache
def holding(kind: type) -> tuple[str, ...]:
    """The fields of a kind of fact that may hold facts, by their types; () for all else."""
    if kind is Row or not is_dataclass(kind):
        return ()
    hints = get_type_hints(kind)
    return tuple(field.name for field in fields(kind) if any(map(_is_fact, _kinds(hints[field.name]))))


def _kinds(hint: Any) -> Iterator[Any]:
    """The type itself and every one inside it: of `tuple[LoadFact, ...]` and of `LotFact | None` too."""
    yield hint
    for inner in get_args(hint):
        yield from _kinds(inner)


def _is_fact(kind: Any) -> bool:
    return kind is not Row and isinstance(kind, type) and is_dataclass(kind)


def walk(value) -> Iterator:
    """Every fact with a `row` in a tree of facts, parents before children, in the order of the fields."""
    if isinstance(value, tuple):
        for each in value:
            yield from walk(each)
        return
    if isinstance(getattr(value, "row", None), Row):
        yield value
    for name in holding(type(value)):
        inner = getattr(value, name)
        if inner:
            yield from walk(inner)
