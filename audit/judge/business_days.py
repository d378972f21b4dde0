"""Business days: Monday to Friday without the public holidays of a place.

Public holidays come from the `holidays` library. A deadline counts from a day that is itself day 0, whatever weekday
it is; its last day is inclusive.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from audit.facts.dates import ONE_DAY

_WEEKDAYS = 5  # Monday (0) to Friday (4)


def is_business_day(day: date, place: str) -> bool:
    """Whether `day` is a Monday to Friday and no public holiday of `place` (see `public_holidays`)."""
    return day.weekday() < _WEEKDAYS and day not in public_holidays(place, day.year)


def add_business_days(day: date, count: int, place: str) -> date:
    """The `count`-th business day after `day`; `day` itself for 0. Raises ValueError for a negative count."""
    if count < 0:
        raise ValueError(f"{count} business days: a deadline lies after its first day; use 0 or more")
    while count:
        day += ONE_DAY
        count -= is_business_day(day, place)
    return day


@lru_cache(maxsize=512)
def public_holidays(place: str, year: int) -> frozenset[date]:
    """The public holidays of a year in `place`: a country or country-subdivision of ISO 3166 ("US", "US-MT").

    "" has none. Days on which a holiday is observed instead (a Monday for a Sunday) are among them. Raises ValueError
    for a place that is not known.
    """
    if not place:
        return frozenset()
    import holidays  # here: it is large, and most histories never need it

    country, _, subdivision = place.partition("-")
    try:
        found = holidays.country_holidays(country, subdiv=subdivision or None, years=year)
    except NotImplementedError as error:
        raise ValueError(
            f"no public holidays are known for {place!r} ({error}). "
            "Use a country or country-subdivision of ISO 3166, such as US or US-MT, or none"
        ) from error
    return frozenset(found)
