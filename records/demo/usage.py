"""How often each unit of the story runs: the cycle numbers and counter readings that fit its days.

A story says "auto" where a number is to fit. Numbers are given unit by unit in the order in which things happened, so
that no cycle is numbered twice and none falls behind an earlier one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from .story import Story, StoryEvent

AUTO = "auto"
OPENS, HOURS = 7, 11  # the hour at which a working day begins, and how long it is
_APART = timedelta(minutes=5)  # between two cycles of one visit, the last of which ends it


@dataclass(frozen=True, slots=True)
class _Asked:
    """A place of the story where a number of a unit stands, or is to stand."""

    moment: datetime  # of the place, local
    leaf: dict
    key: str  # "cycle_number" or "shown"


def cycles_shown(story: Story, unit: str, day: date) -> int:
    """What the cycle counter shows in the morning of that day. It never falls."""
    runs = story.units[unit]
    return runs["shown"] + int((day - runs["on"]).days * runs["per_day"])


def numbered(story: Story, events: Iterable[StoryEvent]) -> list[StoryEvent]:
    """The events with a fitting number wherever they say "auto".

    What one unit ran at one moment is one cycle: a spore test and the load that it was in. A counter shows the number
    of the last cycle before it. The given events stay as they are.
    """
    out = [replace(event, args=deepcopy(event.args)) for event in events]
    asked: dict[str, list[_Asked]] = defaultdict(list)
    for event in out:
        for unit, one in _asked(event):
            asked[unit].append(one)
    for unit in sorted(asked.keys() & story.units.keys()):
        _number(story, unit, sorted(asked[unit], key=lambda one: one.moment))
    return out


def _number(story: Story, unit: str, asked: list[_Asked]) -> None:
    last, ran_at = 0, None
    for one in asked:
        told = one.leaf[one.key]
        shown = cycles_shown(story, unit, one.moment.date())
        if told != AUTO:
            last = max(last, int(told))
        elif one.key == "shown":
            last = one.leaf["shown"] = max(last, shown)
        else:
            last = last if one.moment == ran_at else max(last + 1, shown + _nth(story, unit, one.moment))
            one.leaf["cycle_number"] = str(last)
        ran_at = one.moment if one.key == "cycle_number" else ran_at


def _nth(story: Story, unit: str, moment: datetime) -> int:
    """Which cycle of its day runs at that moment, the cycles spread evenly over the working hours."""
    passed = (moment.hour + moment.minute / 60 - OPENS) / HOURS
    more = max(float(story.units[unit]["per_day"]) - 1, 0)
    return 1 + int(more * min(max(passed, 0), 1))


def _asked(event: StoryEvent) -> Iterator[tuple[str, _Asked]]:
    """(name of the unit, the place) for each number that the event tells or asks for."""
    args, unit = event.args, event.args.get("unit")
    day = args.get("on") or event.logged.date()
    begun = datetime.combine(day, (args.get("at") or event.logged.time()).replace(tzinfo=None))
    if event.do == "register_unit":
        yield from ((event.id, _Asked(begun, each, "shown")) for each in _counters(args))
    if isinstance(unit, str):
        for key in ("cycle_number", "shown"):
            if key in args:
                yield unit.lstrip("@"), _Asked(begun, args, key)
    left = args.get("departed_at")
    for job in args.get("jobs", ()):
        name = job["unit"].lstrip("@")
        yield from ((name, _Asked(begun, each, "shown")) for each in _counters(job))
        cycles = [each for each in job.get("tests", ()) if each.get("cycle_number")]
        ended = datetime.combine(day, left) if left else begun
        for n, each in enumerate(reversed(cycles)):
            yield name, _Asked(ended - n * _APART, each, "cycle_number")


def _counters(args: dict) -> list[dict]:
    return [each for each in args.get("counters", ()) if each["counter"] == "cycles"]
