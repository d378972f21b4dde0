"""Whether an entry was written late: after the end of the next working day after it happened.

Working days are Monday to Friday here; public holidays are not subtracted, so an entry is sooner called late than
later. Source: common practice, no source.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo


def next_working_day(day: date) -> date:
    """The first Monday-to-Friday day after `day`."""
    after = day + timedelta(days=1)
    while after.weekday() >= 5:
        after += timedelta(days=1)
    return after


def is_late(fact, written_at: datetime) -> bool:
    """True when `written_at` lies past the end of the next working day after the clinic could know it.

    What is known later than it happened (a laboratory result) counts from the day it was known. Things that are
    dated when they take effect (terms, plans, units put on the register) are never late.
    """
    if fact._meta.model_name in NEVER_LATE:
        return False
    since = getattr(fact, "known_on", None) or fact.happened_on
    written_on = written_at.astimezone(ZoneInfo(fact.zone)).date()
    return written_on > next_working_day(since)


NEVER_LATE = frozenset({
    "clinicterms", "localduty", "membership", "agreement", "planline", "position", "fit", "placement", "unit",
    "document", "program", "credential", "instrument", "knowngap", "voiding",
})  # fmt: skip
