"""Until when a record is kept: the first day on which it may go, by a rule of retention. Pure; nothing is deleted.

A record is kept on the day its time ends too (twelve months from 15 March 2023 are over on 15 March 2024, and the
record may go on 16 March): where a source says "twelve months" without more, the later reading is the safe one.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.facts.dates import ONE_DAY, add_months
from audit.regimes.model import Retention


def kept_until(
    rule: Retention, happened_on: date, *, last_entry: date | None = None, life_ended: date | None = None
) -> date | None:
    """The first day on which a record of `happened_on` may go.

    `last_entry`: day of the last record of its kind; `life_ended`: day the unit was scrapped or left for good.
    None: no day can be named, because the rule states no length (see its words) or the day it counts from is not
    known. A last entry or end of life before the record itself counts as the day of the record.

    >>> rule = Retention("results", 0, 2, "record", "the current calendar year and the two before it", None)
    >>> kept_until(rule, date(2023, 3, 15))
    datetime.date(2026, 1, 1)
    """
    if rule.calendar_years:
        return date(happened_on.year + rule.calendar_years + 1, 1, 1)
    starts = {"record": happened_on, "last entry": last_entry, "end of life": life_ended}[rule.starts]
    if not rule.months or starts is None:
        return None
    return add_months(max(starts, happened_on), rule.months) + ONE_DAY


# Kinds of record, by the words in which a rule of retention names them. A rule that uses none of them means all.
_NAMED = (
    ("spore test", "spore tests"),
    ("cycle log", "loads"),
    ("validation", "validation"),
    ("maintenance", "service"),
)
_ALL = ("sterilization records", "equipment records")


def names_kind(rule: Retention, kind: str) -> bool:
    """Whether a rule asks records of `kind`: "spore tests", "loads", "validation", "service", another test.

    >>> rule = Retention("spore test log", 24, 0, "record", "two years", None)
    >>> names_kind(rule, "spore tests"), names_kind(rule, "loads")
    (True, False)
    """
    what = rule.what.casefold()
    named = [name for word, name in _NAMED if word in what]
    return not named or kind in named or any(word in what for word in _ALL)


def longest(
    rules: Iterable[Retention], happened_on: date, *, last_entry: date | None = None, life_ended: date | None = None
) -> date | None:
    """The first day on which the record may go by every one of `rules`: of several, the longest holds.

    None where there is no rule, or where one of them names no day: then the record stays.
    """
    days = [kept_until(rule, happened_on, last_entry=last_entry, life_ended=life_ended) for rule in rules]
    known = [day for day in days if day is not None]
    return max(known) if known and len(known) == len(days) else None
