"""Days and values on the pages of records, as whoever looks writes them."""

from __future__ import annotations

from datetime import date, datetime

from django import template

from records.writing.preferences import day_text

register = template.Library()


@register.filter(expects_localtime=True)
def written_day(value: date | datetime | None) -> str:
    """A day; of a moment its day in the zone of the page. "" for nothing."""
    return "" if value is None else day_text(value)


@register.filter(expects_localtime=True)
def written_moment(value: datetime | None) -> str:
    """A moment in the zone of the page, to the minute. "" for nothing."""
    return "" if value is None else f"{day_text(value)}, {value:%H:%M}"
