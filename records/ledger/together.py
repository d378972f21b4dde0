"""Rows of several kinds in one query, each as the object it is.

A report that shows seven kinds of row would ask seven times; here every column travels as text in one UNION and is
turned back by its own field. A test proves for every kind of fact that the rows are those a plain query gives.
"""

from __future__ import annotations

from datetime import UTC
from itertools import chain

from django.db import models
from django.db.models import F, Value
from django.db.models.functions import Cast
from django.utils.dateparse import parse_datetime

_TRUE = frozenset({"1", "true", "t"})


def rows_together(*querysets) -> dict[type, list]:
    """The rows of all the querysets by model, each in the order of its ids; relations are fetched when asked for."""
    fields = [list(q.model._meta.concrete_fields) for q in querysets]
    width = max(map(len, fields))
    asked = [_as_text(q, place, fields[place], width) for place, q in enumerate(querysets)]
    found: dict[type, list] = {q.model: [] for q in querysets}
    for place, *texts in asked[0].union(*asked[1:], all=True):
        model, names = querysets[place].model, [f.attname for f in fields[place]]
        values = [_value(f, t) for f, t in zip(fields[place], texts, strict=False)]
        found[model].append(model.from_db(querysets[place].db, names, values))
    return {model: sorted(rows, key=lambda r: r.pk) for model, rows in found.items()}


def with_related(rows: dict[type, list], but: frozenset[str] = frozenset()) -> None:
    """Fill in what the rows point to, with its own correction known: one query a kind pointed to.

    `but` names the relations that nobody is going to follow.
    """
    wanted: dict[type, list] = {}
    for row in chain.from_iterable(rows.values()):
        for field in row._meta.concrete_fields:
            if field.is_relation and field.name not in but and getattr(row, field.attname) is not None:
                wanted.setdefault(field.related_model, []).append((row, field))
    for model, places in wanted.items():
        targets = model.objects.filter(pk__in={getattr(row, field.attname) for row, field in places})
        if hasattr(model, "amended_by"):
            targets = targets.select_related("amended_by")
        by_id = {t.pk: t for t in targets}
        for row, field in places:
            setattr(row, field.name, by_id[getattr(row, field.attname)])


def _as_text(queryset, place: int, fields: list, width: int):
    columns = {f"c{n}": Cast(F(f.attname), models.TextField()) for n, f in enumerate(fields)}
    columns |= {f"c{n}": Cast(Value(None), models.TextField(null=True)) for n in range(len(fields), width)}
    rows = queryset.order_by().annotate(c_place=Value(place, models.IntegerField()), **columns)
    return rows.values_list("c_place", *columns)


def _value(field: models.Field, text: str | None):
    if text is None:
        return None
    if field.is_relation:
        field = field.target_field
    if isinstance(field, models.BooleanField):
        return text in _TRUE
    if isinstance(field, models.DateTimeField):
        moment = parse_datetime(text)
        return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    if isinstance(field, models.DecimalField):
        return field.to_python(text).quantize(field.to_python(1).scaleb(-field.decimal_places))
    if isinstance(field, models.JSONField):
        return field.from_db_value(text, None, None)
    return field.to_python(text)
