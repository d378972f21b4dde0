"""Days and values on the pages of records, as whoever looks writes them."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django import template

from records.writing.preferences import day_text, measured

register = template.Library()


@register.filter(expects_localtime=True)
def written_day(value: date | datetime | None) -> str:
    """A day; of a moment its day in the zone of the page. "" for nothing."""
    return "" if value is None else day_text(value)


@register.filter(expects_localtime=True)
def written_moment(value: datetime | None) -> str:
    """A moment in the zone of the page, to the minute. "" for nothing."""
    return "" if value is None else f"{day_text(value)}, {value:%H:%M}"


@register.filter
def measured_in(value: Decimal | None, unit: str) -> str:
    """A value recorded in that unit, as whoever looks writes it. "" for nothing."""
    return "" if value is None else measured(value.normalize() if value % 1 else value.quantize(Decimal(1)), unit)
