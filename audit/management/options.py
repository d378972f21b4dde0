"""Arguments that several commands share, and how commands end.

Exit status: 0 nothing wrong, 1 findings that forbid use or a failed check, 2 bad input (a message on standard error,
nothing written), 3 a fault of the program.
"""

from __future__ import annotations

import sys
from datetime import date, datetime

from django.core.management.base import BaseCommand

from records import clock
from records import models as m


class Command(BaseCommand):
    """A command without the checks of addresses, pages and templates, which say nothing of what it does.

    They import every page, which takes longer than most commands. `manage.py check` makes them, and so do the tests.
    """

    requires_system_checks = ()


class BadInput(Exception):
    """What was typed cannot be used: the message says what, why and the way out."""


# What to do when a file cannot be written that `--out` names.
OUT_NOT_WRITTEN = "With --out name a file in a folder that exists and that you may write to."


def end(command, status: int):
    """Leave with that exit status."""
    command.stdout.flush()
    sys.exit(status)


def refuse(command, error: Exception):
    """Print the message and leave with exit status 2."""
    command.stderr.write(str(error))
    sys.exit(2)


def parse_day(text: str | None, name: str) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput(f"{name} “{text}” is not a day. Write it as year-month-day, such as 2026-06-15.") from None


def not_ahead(day: date | None, name: str) -> date | None:
    """The day, unless it has not come yet anywhere: answers rest on what has happened."""
    latest = clock.today("Pacific/Kiritimati")  # where the day begins first
    if day is not None and day > latest:
        raise BadInput(
            f"{name} {day} has not come yet. Answers rest on what has happened: choose {latest} or earlier."
        )
    return day


def parse_moment(text: str | None, name: str) -> datetime | None:
    """A moment with its offset from UTC; a bare day or time would leave open whose midnight is meant."""
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise BadInput(f"{name} “{text}” is not a moment. Write it with its offset, such as 2026-06-15T09:30+00:00.")
    return moment


def binder_days(options) -> tuple[date, date, date | None, datetime | None]:
    """First and last day of a binder, both inclusive, the day judged, the moment of what was known.

    Raises BadInput.
    """
    from_on = parse_day(options["from_on"], "--from")
    to_on = parse_day(options["to_on"], "--to")
    as_of = not_ahead(parse_day(options["as_of"], "--as-of"), "--as-of")
    known_at = parse_moment(options["known_at"], "--known-at")
    if from_on > to_on:
        raise BadInput(f"--from {from_on} is after --to {to_on}: the period would hold no day. Swap the two.")
    return from_on, to_on, as_of, known_at


def clinic_by_slug(slug: str) -> m.Clinic:
    found = m.Clinic.objects.filter(slug=slug).first()
    if found is None:
        known = ", ".join(m.Clinic.objects.order_by("slug").values_list("slug", flat=True))
        raise BadInput(
            f"There is no clinic “{slug}”. "
            + (f"Known: {known}." if known else "None is on the register yet; `manage.py demo` loads some.")
        )
    return found
