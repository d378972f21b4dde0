"""Days out of an address: read, or a message that says what was typed, why it cannot be, and the way out."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from audit.facts.dates import add_months
from records import clock


class DayProblem(ValueError):
    """A day that cannot be used; the text is for the person who typed it."""


def read_day(text: str, what: str, *, latest: date | None = None) -> date:
    """The day written as YYYY-MM-DD. `latest` is the last day allowed, inclusive. Raises DayProblem."""
    try:
        # The week and ordinal forms that Python also reads would surprise people.
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text.strip()):
            raise ValueError
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise DayProblem(
            f"“{text}” is not a day that can be read ({what}). Write it as year-month-day, such as 2026-03-09."
        ) from None
    if day.year < 1900:
        raise DayProblem(f"{text} ({what}) lies before any record. Choose a day from 1900 on.")
    if latest is not None and day > latest:
        raise DayProblem(
            f"{day.isoformat()} ({what}) has not come yet; today is {latest.isoformat()}. "
            "Answers rest on what has happened: choose today or an earlier day."
        )
    return day


def asked_day(request, today: date, otherwise: date | None = None) -> tuple[date, str]:
    """The day to judge, from `?as_of=`; `otherwise` (today) when it is missing; and the problem, or "".

    A day that cannot be used gives today.
    """
    text = request.GET.get("as_of", "")
    if not text:
        return otherwise or today, ""
    try:
        return read_day(text, "the day asked about", latest=today), ""
    except DayProblem as problem:
        return today, f"{problem} Shown is today."


def read_moment(text: str, what: str, zone: str) -> datetime:
    """A moment: a day (its end, in `zone`), or a day with a time, in `zone` unless it names its own offset from UTC.

    Raises DayProblem for what cannot be read and for a moment that has not come yet; today's day is now.
    """
    # A plus sign in an address that nobody quoted arrives as a blank.
    written = re.sub(r" (?=\d\d:?\d\d$)", "+", text.strip())
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", written):
            moment = datetime.combine(date.fromisoformat(written), time.max, ZoneInfo(zone))
            return min(moment, clock.now()) if moment.date() == clock.today(zone) else _past(moment, what)
        if not re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d", written):
            raise ValueError
        moment = datetime.fromisoformat(written)
    except ValueError as error:
        if isinstance(error, DayProblem):
            raise
        raise DayProblem(
            f"“{text}” is not a moment that can be read ({what}). Write a day, such as 2026-03-09, or a day with a "
            "time, such as 2026-03-09T14:30."
        ) from None
    return _past(moment if moment.tzinfo else moment.replace(tzinfo=ZoneInfo(zone)), what)


def _past(moment: datetime, what: str) -> datetime:
    if moment > clock.now():
        raise DayProblem(
            f"{moment.isoformat(timespec='minutes')} ({what}) has not come yet. Choose a moment up to now, or none."
        )
    return moment


def asked_moment(request, zone: str) -> tuple[datetime | None, str]:
    """The moment up to which entries count, from `?known_at=`; None for all of them; and the problem, or ""."""
    text = request.GET.get("known_at", "")
    if not text:
        return None, ""
    try:
        return read_moment(text, "the moment of what was known", zone), ""
    except DayProblem as problem:
        return None, f"{problem} Shown is all that is logged."


def today_of(facts) -> date:
    """The clinic's calendar day now; UTC before any terms."""
    return clock.today(facts.zone_at(clock.now()))


def year_before(day: date) -> date:
    """The same day twelve months earlier: what the binder covers unless asked otherwise."""
    return add_months(day, -12)
