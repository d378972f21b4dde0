"""Rows as they are stored, read without trust: what is not written as the program writes it is named, never skipped.

Django reads more than it writes: on SQLite a column may hold anything, and 2 is true, “2026-3-1” a day. Such a value
can read like another one here and sort or be found differently there. So a value counts as well formed only when it
is stored exactly as it would be written. PostgreSQL holds its types by itself.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Context, Decimal, DecimalException
from functools import cache
from uuid import UUID

from django.db import connection, models

AT_A_TIME = 900  # SQLite takes 999 parameters in its older versions
DAY = re.compile(r"\d{4}-\d\d-\d\d")
MOMENT = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d(\.\d{6})?")
REF = re.compile(r"[0-9a-f]{32}")


class Malformed(ValueError):
    """A stored value is not one that the program writes: the message says which and why."""


@dataclass(frozen=True, slots=True)
class BadValue:
    """A value of a stored row that is malformed or points to nothing."""

    column: str
    what: str


def _shown(raw) -> str:
    text = repr(raw)
    return text if len(text) <= 60 else f"{text[:57]}…"


def _integer(raw, field):
    if type(raw) is not int:
        raise Malformed(f"{_shown(raw)} is not a whole number")
    return raw


def _real(raw, field):
    if type(raw) not in (int, float):
        raise Malformed(f"{_shown(raw)} is not a number")
    return float(raw)


def _text(raw, field):
    if type(raw) is not str or any("\ud800" <= c <= "\udfff" for c in raw):
        raise Malformed(f"{_shown(raw)} is not a text in UTF-8")
    return raw


def _matching(raw, pattern: re.Pattern, what: str) -> str:
    if type(raw) is not str or not pattern.fullmatch(raw):
        raise Malformed(f"{_shown(raw)} is not {what}")
    return raw


def _day(raw, field):
    return date.fromisoformat(_matching(raw, DAY, "a day"))


def _moment(raw, field):
    return datetime.fromisoformat(_matching(raw, MOMENT, "a moment")).replace(tzinfo=UTC)


def _ref(raw, field):
    return UUID(_matching(raw, REF, "a reference"))


def _truth(raw, field):
    if type(raw) is not int or raw not in (0, 1):
        raise Malformed(f"{_shown(raw)} is neither true nor false")
    return bool(raw)


def _number(raw, field):
    if type(raw) not in (int, float):
        raise Malformed(f"{_shown(raw)} is not a number")
    places = Decimal(1).scaleb(-field.decimal_places)
    try:
        value = Context(prec=15).create_decimal_from_float(raw).quantize(places, context=field.context)
    except DecimalException:
        raise Malformed(f"{_shown(raw)} is no number of this column") from None
    if not value.is_finite() or float(value) != raw:
        raise Malformed(f"{_shown(raw)} has digits for which the column has no room")
    return value


def _json(raw, field):
    try:
        value = json.loads(_text(raw, field))
    except RecursionError:
        raise Malformed("it is no JSON") from None
    if json.dumps(value) != raw:
        raise Malformed(f"{_shown(raw)} is not written as JSON is written here")
    return value


def _json_postgresql(raw, field):
    return json.loads(raw) if isinstance(raw, str) else raw


_SQLITE = {
    "AutoField": _integer, "BigAutoField": _integer, "BigIntegerField": _integer, "IntegerField": _integer,
    "PositiveIntegerField": _integer, "PositiveSmallIntegerField": _integer, "SmallIntegerField": _integer,
    "PositiveBigIntegerField": _integer, "FloatField": _real, "BooleanField": _truth,
    "CharField": _text, "SlugField": _text, "TextField": _text, "UUIDField": _ref, "DateField": _day,
    "DateTimeField": _moment, "DecimalField": _number, "JSONField": _json,
}  # fmt: skip


def _as_it_is(raw, field):
    return raw


@cache
def _reader_of(kind: str, vendor: str):
    """How a raw value of such a column is read. Raises TypeError for a kind of column that nobody wrote down here."""
    if kind not in _SQLITE:
        raise TypeError(f"How a {kind} is stored is not written down: add it to records.ledger.stored.")
    if vendor == "sqlite":
        return _SQLITE[kind]
    return _json_postgresql if kind == "JSONField" else _as_it_is


def _kind(field) -> str:
    while field.is_relation:  # a clinic's key is that of its organisation
        field = field.target_field
    return field.get_internal_type()


def read_value(field, raw):
    """The value of a column out of what is stored. Raises Malformed."""
    if raw is None:
        if not field.null:
            raise Malformed("it is empty")
        return None
    try:
        return _reader_of(_kind(field), connection.vendor)(raw, field)
    except Malformed:
        raise
    except ValueError as error:
        raise Malformed(f"{_shown(raw)} cannot be read: {error}") from None


@contextmanager
def _any_text():
    """SQLite: text that is not UTF-8 is handed on instead of ending the query."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    usual = connection.connection.text_factory
    connection.connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        yield
    finally:
        connection.connection.text_factory = usual


def raw_rows(sql: str, params: Iterable = ()) -> list[tuple]:
    """What a query finds, as the database stores it."""
    with _any_text(), connection.cursor() as cursor:
        cursor.execute(sql, list(params))
        return cursor.fetchall()


def columns_of(model, alias: str = "") -> str:
    """The columns of a model for a query. The sign keeps SQLite's driver from making days of what it reads."""
    sign = "+" if connection.vendor == "sqlite" else ""
    table = f'"{alias or model._meta.db_table}".'
    return ", ".join(f'{sign}{table}"{field.column}"' for field in model._meta.concrete_fields)


def rows_of(model, raws: Iterable[tuple]) -> Iterator[tuple[models.Model, list[BadValue]]]:
    """An unsaved instance for each raw row with all columns of the model, and what of it is malformed (then None)."""
    fields = model._meta.concrete_fields
    names = [field.attname for field in fields]
    for raw in raws:
        values, bad = [], []
        for field, value in zip(fields, raw, strict=True):
            try:
                values.append(read_value(field, value))
            except Malformed as fault:
                bad.append(BadValue(field.column, str(fault)))
                values.append(None)
        yield model.from_db("default", names, values), bad


class Targets:
    """What rows point to, by model and key: a stand-in that carries only the name by which it is hashed."""

    def __init__(self):
        self.known: dict[type, dict[int, models.Model | None]] = defaultdict(dict)

    def learn(self, wanted: dict[type, set[int]]) -> None:
        """Read what is asked for and not known yet: one query a model and some hundred keys."""
        for model, keys in wanted.items():
            known = self.known[model]
            new = sorted(keys - known.keys())
            for at in range(0, len(new), AT_A_TIME):
                some = new[at : at + AT_A_TIME]
                known.update(dict.fromkeys(some))
                known.update(_stand_ins(model, some))

    def point(self, row: models.Model) -> list[BadValue]:
        """Give the row its targets; returns the columns that point to nothing."""
        bad = []
        for field in relations_of(type(row)):
            key = getattr(row, field.attname)
            if key is None:
                continue
            target = self.known[field.related_model].get(key)
            if target is None:
                what = f"it points to {field.related_model._meta.verbose_name} {key}, which is not there"
                bad.append(BadValue(field.column, what))
            else:
                field.set_cached_value(row, target)
        return bad


@cache
def relations_of(model) -> tuple:
    """The fields of a fact or an entry that point to another row, but for the entry or ledger it stands in."""
    return tuple(f for f in model._meta.concrete_fields if f.is_relation and f.name not in ("entry", "ledger"))


def wanted_by(rows: Iterable[models.Model]) -> dict[type, set[int]]:
    """The keys that rows point to, by model."""
    wanted = defaultdict(set)
    for row in rows:
        for field in relations_of(type(row)):
            key = getattr(row, field.attname)
            if key is not None:
                wanted[field.related_model].add(key)
    return wanted


def _stand_ins(model, keys: list[int]) -> dict[int, models.Model]:
    named_by = "digest" if any(f.name == "digest" for f in model._meta.concrete_fields) else "ref"
    own = model._meta.db_table
    holder = model._meta.get_field(named_by).model
    sign = "+" if connection.vendor == "sqlite" else ""
    join, source = "", own
    if holder is not model:  # a clinic is an organisation: both rows must be there
        source = holder._meta.db_table
        join = f'JOIN "{source}" ON "{source}"."{holder._meta.pk.column}" = "{own}"."{model._meta.pk.column}"'
    places = ", ".join(["%s"] * len(keys))
    found = raw_rows(
        f'SELECT "{own}"."{model._meta.pk.column}", {sign}"{source}"."{named_by}" FROM "{own}" {join} '
        f'WHERE "{own}"."{model._meta.pk.column}" IN ({places})',
        keys,
    )
    return {key: _stand_in(model, named_by, key, raw) for key, raw in found}


def _stand_in(model, named_by: str, key: int, raw) -> models.Model:
    try:
        name = read_value(model._meta.get_field(named_by), raw)
    except Malformed:
        name = None  # named where that row itself is checked; whatever points to it does not add up
    made = model(**{named_by: name})
    made.pk = key
    return made
