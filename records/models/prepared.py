"""A question to the database whose SQL is composed once in a process and asked again with other values.

Composing a query of several conditions takes ten times as long as asking it. What every page and every writer asks
first (who may do what here) is composed once; what comes back is the same list of the same rows.
"""

from __future__ import annotations

import copy
import functools
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db import DEFAULT_DB_ALIAS, connection
from django.db.models import QuerySet
from django.db.models.sql.compiler import SQLCompiler

# Values that no row has; where one stands in the composed query, the value asked for is put. Numbers are below 2^31,
# as one that its column cannot hold would be left out of the query.
_MARKS = {
    "int": lambda n: 2_000_000_011 + n,
    "str": lambda n: f"\ue000mark {n}",
    "date": lambda n: date(1, 3, 1) + timedelta(days=n),
    "UUID": lambda n: UUID(int=2**127 + n),
}


@dataclass(frozen=True)
class _Composed:
    """A compiler that has done its work; `places` says which parameter is which of the values, both by number."""

    rows: QuerySet
    compiler: SQLCompiler
    sql: str
    params: tuple
    places: tuple[tuple[int, int], ...]


def prepared(compose: Callable[..., QuerySet]) -> Callable[..., list]:
    """A function that answers with `list(compose(*values))`, composing it the first time only.

    Each parameter of `compose` is annotated int, str, date or UUID and is only compared with columns: no value
    changes anything else of the query, and none is None. Raises TypeError for another number of values, for None, and
    when first asked where a parameter stands nowhere in the query.
    """
    kinds = [_name(p.annotation) for p in inspect.signature(compose).parameters.values()]
    return functools.wraps(compose)(prepared_for(kinds, compose))


def prepared_for(kinds: Sequence[str], compose: Callable[..., QuerySet]) -> Callable[..., list]:
    """As `prepared`, where `compose` takes any number of values: so many as there are kinds, each of its kind."""
    known: dict[str, _Composed] = {}

    def asked(*values) -> list:
        if len(values) != len(kinds) or None in values:
            raise TypeError(f"{compose.__name__} takes {len(kinds)} values, none of them None; it got {values}.")
        vendor = connection.vendor
        if vendor not in known:
            known[vendor] = _composed(compose, kinds)
        return _rows(known[vendor], values)

    return asked


def _name(annotation: str | type) -> str:
    return annotation if isinstance(annotation, str) else annotation.__name__


def _composed(compose: Callable[..., QuerySet], kinds: Sequence[str]) -> _Composed:
    marks = [_MARKS[kind](n) for n, kind in enumerate(kinds)]
    rows = compose(*marks).using(DEFAULT_DB_ALIAS)
    compiler = rows.query.get_compiler(connection=connection)
    sql, params = compiler.as_sql()
    seen = [_as_sent(mark) for mark in marks]
    places = tuple((at, seen.index(param)) for at, param in enumerate(params) if param in seen)
    if {number for _, number in places} != set(range(len(marks))):
        raise TypeError(f"Not every value of {compose.__name__} is compared with a column.")
    return _Composed(rows, compiler, sql, tuple(params), places)


def _as_sent(value: int | str | date | UUID):
    """The value as the database's driver is handed it."""
    if isinstance(value, date):
        return connection.ops.adapt_datefield_value(value)
    if isinstance(value, UUID) and not connection.features.has_native_uuid_field:
        return value.hex
    return value


def _rows(composed: _Composed, values: tuple) -> list:
    params = list(composed.params)
    for at, number in composed.places:
        sent = _as_sent(values[number])
        # PostgreSQL's driver is handed whole numbers in a class that says their size.
        params[at] = type(params[at])(sent) if isinstance(sent, int) else sent
    compiler = copy.copy(composed.compiler)
    compiler.connection = connection
    compiler.as_sql = lambda *_, **__: (composed.sql, tuple(params))
    read = compiler.results_iter  # looks up how each column is converted, which takes longest where there is no row
    compiler.results_iter = lambda found=None, **how: iter(()) if found == [] else read(found, **how)
    rows = composed.rows.all()
    rows.query.get_compiler = lambda *_, **__: compiler
    return list(rows)
