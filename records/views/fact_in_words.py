"""A fact in words: each field with its label, empty ones with what an empty one means."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import models

from records import access
from records.models import Fact, Voiding
from records.views.tables import said_day

HIDDEN = frozenset({"id", "ref", "origin", "entry", "line", "amends", "amend_reason", "zone", "clinic"})


def title_of(model_or_row) -> str:
    name = model_or_row._meta.verbose_name
    return str(name[:1].upper() + name[1:])


def shown_fields(model) -> list[models.Field]:
    return [f for f in model._meta.concrete_fields if f.name not in HIDDEN and not f.name.endswith("_ptr")]


def in_words(row: Fact, field: models.Field) -> str:
    """The value of a field as a reader says it."""
    value = getattr(row, field.name)
    if value is None:
        return f"— ({row.EMPTY_MEANS.get(field.name, 'not stated')})"
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")())
    if isinstance(value, Fact):
        return str(access.as_corrected([value.origin_row()])[0])
    return _plain(value, row.zone)


def _plain(value, zone: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        local = value.astimezone(ZoneInfo(zone))
        return f"{said_day(local)}, {local:%H:%M} ({zone})"
    if isinstance(value, date):
        return said_day(value)
    if isinstance(value, Decimal):
        return trimmed(value)
    if isinstance(value, list):
        return "; ".join(": ".join(map(str, part)) if isinstance(part, list) else str(part) for part in value) or "—"
    return str(value) if str(value).strip() else "—"


def trimmed(value: Decimal) -> str:
    """A number without the zeros that only the column adds."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def label_of(field) -> str:
    return str(field.verbose_name[:1].upper() + field.verbose_name[1:])


def filled(row: Fact, skip=frozenset()) -> list[tuple[str, str]]:
    """Label and words of every field that says something, those named in `skip` left out."""
    pairs = [(label_of(f), in_words(row, f)) for f in shown_fields(type(row)) if f.name not in skip]
    return [(label, words) for label, words in pairs if words != "—" and not words.startswith("— (")]


def voiding_of(row: Fact) -> Voiding | None:
    return Voiding.objects.filter(target=row.origin).select_related("entry__logged_by").first()
