"""Facts of a clinic as columns of plain values, and back, without loss: the form in which they are kept as a cache.

The open format of `audit.exchange.codec` is for people and other programs: it says each name again and checks every
value, which takes longer than asking the database. Here each field of a kind of fact is one list, a text that occurs
often stands once, and nothing is checked, because only this program writes it and `audit.gather.kept_facts` keeps it
beside a digest of the code. A damaged text raises Damaged; it never gives other facts silently, as its checksum is
read first.
"""

from __future__ import annotations

import dataclasses
import json
import types
import zlib
from collections import deque
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from itertools import chain, islice, repeat
from typing import Any, Union, get_args, get_origin, get_type_hints

from audit.facts import ClinicFacts, Ordered

FORM = "columns-1"
# Above it the packing takes longer than it saves: measured on the demo's largest clinic.
LEVEL = 1
_OF_TEXT = {date: date.fromisoformat, datetime: datetime.fromisoformat, Decimal: Decimal}


class Damaged(ValueError):
    """What was kept is not what was written."""


def written(facts: ClinicFacts) -> str:
    """The facts as text: the same only for the same facts in the same order, number for number as written."""
    return json.dumps(_column(ClinicFacts, [facts]), separators=(",", ":"), ensure_ascii=False)


def packed(facts: ClinicFacts) -> bytes:
    """The facts as bytes, for `unpacked`."""
    return f"{FORM}\n".encode() + zlib.compress(written(facts).encode(), LEVEL)


def unpacked(kept: bytes) -> ClinicFacts:
    """The facts out of what `packed` made. Raises Damaged."""
    head, _, body = bytes(kept).partition(b"\n")
    if head != FORM.encode():
        raise Damaged(f"the form is {head[:20]!r}, not {FORM!r}")
    try:
        # zlib's own checksum tells a changed byte.
        return _values(ClinicFacts, json.loads(zlib.decompress(body)), 1)[0]
    except (zlib.error, ValueError, KeyError, TypeError, IndexError, ArithmeticError, AttributeError) as fault:
        raise Damaged(f"it cannot be read: {fault}") from fault


@cache
def _kind(kind: Any) -> tuple[str, Any]:
    """How values of a type are written, and the type of what they hold."""
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return "maybe", next(a for a in get_args(kind) if a is not types.NoneType)
    if origin is tuple:
        inner = get_args(kind)
        return ("many", inner[0]) if len(inner) == 2 and inner[1] is Ellipsis else ("few", inner)
    if dataclasses.is_dataclass(kind):
        hints = get_type_hints(kind)
        return "object", tuple((f.name, hints[f.name]) for f in dataclasses.fields(kind))
    if kind is str or kind in _OF_TEXT:
        return "text", _OF_TEXT.get(kind)
    if kind in (int, bool):
        return "plain", None
    raise TypeError(f"facts hold {kind}, which has no column yet: add it to audit.gather.columns")


# ------------------------------------------------------------------------------------------------ writing


def _column(kind: Any, values: list) -> Any:
    how, inner = _kind(kind)
    return _WRITE[how](inner, values)


def _write_maybe(inner, values: list) -> dict:
    present = [v for v in values if v is not None]
    if len(present) == len(values):
        return {"all": _column(inner, values)}
    return {"where": [n for n, v in enumerate(values) if v is not None], "of": _column(inner, present)}


def _write_many(inner, values: list) -> dict:
    return {
        "n": [len(v) for v in values],
        "unsorted": [n for n, v in enumerate(values) if type(v) is not Ordered],
        "of": _column(inner, list(chain.from_iterable(values))),
    }


def _write_few(inner, values: list) -> list:
    return [_column(kind, [v[n] for v in values]) for n, kind in enumerate(inner)]


def _write_object(fields, values: list) -> dict:
    once = {id(v): v for v in values}
    if 2 * len(once) > len(values):
        return {"each": [_column(kind, [getattr(v, name) for v in values]) for name, kind in fields]}
    place = {key: n for n, key in enumerate(once)}
    several = list(once.values())
    columns = [_column(kind, [getattr(v, name) for v in several]) for name, kind in fields]
    return {"once": columns, "count": len(several), "at": [place[id(v)] for v in values]}


def _write_text(read, values: list) -> dict:
    said = values if read is None else [v.isoformat() if isinstance(v, date) else str(v) for v in values]
    place: dict[str, int] = {}
    at = [place.setdefault(s, len(place)) for s in said]
    if 2 * len(place) > len(said):
        return {"each": said}
    return {"once": list(place), "at": at}


_WRITE = {
    "maybe": _write_maybe,
    "many": _write_many,
    "few": _write_few,
    "object": _write_object,
    "text": _write_text,
    "plain": lambda inner, values: values,
}


# ------------------------------------------------------------------------------------------------ reading


def _values(kind: Any, column: Any, count: int) -> list:
    how, inner = _kind(kind)
    if how == "object":
        return _read_object(kind, inner, column, count)
    values = _READ[how](inner, column, count)
    if len(values) != count:
        raise Damaged(f"a column of {how} holds {len(values)} values, not {count}")
    return values


def _read_maybe(inner, column, count: int) -> list:
    if "all" in column:
        return _values(inner, column["all"], count)
    values: list = [None] * count
    for place, value in zip(column["where"], _values(inner, column["of"], len(column["where"])), strict=True):
        values[place] = value
    return values


def _read_many(inner, column, count: int) -> list:
    flat = iter(_values(inner, column["of"], sum(column["n"])))
    unsorted = set(column["unsorted"])
    return [(tuple if n in unsorted else Ordered)(islice(flat, length)) for n, length in enumerate(column["n"])]


def _read_few(inner, column, count: int) -> list:
    return list(zip(*(_values(k, c, count) for k, c in zip(inner, column, strict=True)), strict=True))


def _read_object(cls, fields, column, count: int) -> list:
    if "each" in column:
        return _made(cls, fields, column["each"], count)
    once = _made(cls, fields, column["once"], column["count"])
    return [once[n] for n in column["at"]]


def _made(cls, fields, columns, count: int) -> list:
    """Objects with their slots filled column by column: twice as fast as calling a frozen class row by row."""
    made = list(map(object.__new__, repeat(cls, count)))
    for (name, kind), column in zip(fields, columns, strict=True):
        deque(map(getattr(cls, name).__set__, made, _values(kind, column, count)), maxlen=0)
    return made


def _read_text(read, column, count: int) -> list:
    if "each" in column:
        return column["each"] if read is None else list(map(read, column["each"]))
    once = column["once"] if read is None else list(map(read, column["once"]))
    return [once[n] for n in column["at"]]


_READ = {
    "maybe": _read_maybe,
    "many": _read_many,
    "few": _read_few,
    "text": _read_text,
    "plain": lambda inner, column, count: column,
}
