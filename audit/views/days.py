"""Days out of an address: read, or a message that says what was typed, why it cannot be, and the way out."""

from __future__ import annotations

import re
from datetime import date

from audit.dates import add_months
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


def asked_day(request, today: date) -> tuple[date, str]:
    """The day to judge, from `?as_of=`, today when it is missing or cannot be used; and the problem, or ""."""
    text = request.GET.get("as_of", "")
    if not text:
        return today, ""
    try:
        return read_day(text, "the day asked about", latest=today), ""
    except DayProblem as problem:
        return today, f"{problem} Shown is today."


def today_of(facts) -> date:
    """The clinic's calendar day now; UTC before any terms."""
    terms = facts.terms_on(clock.today())
    return clock.today(terms.zone if terms else "UTC")


def year_before(day: date) -> date:
    """The same day twelve months earlier: what the binder covers unless asked otherwise."""
    return add_months(day, -12)
