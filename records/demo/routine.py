"""Routine entries of the story, made from a seed: weekly spore tests, chemical results, loads, counters.

What is notable is written by hand in the story; this only fills the ordinary days between. The same seed and the
same story give the same entries. Nothing is done on a day on which the place is closed: what falls on one is done on
the last working day before. A spore test in a full chamber was in a load: in that of its day, where one is logged.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from .story import Story, StoryError, StoryEvent
from .usage import AUTO

ONE_DAY = timedelta(days=1)


def routine_events(story: Story) -> list[StoryEvent]:
    """Every routine entry that was logged before the story's present."""
    out = []
    for routine in story.routines:
        make = KINDS.get(routine["kind"])
        if make is None:
            raise StoryError(f"A routine of {routine['place']} has an unknown kind “{routine['kind']}”.")
        chance = random.Random(f"{story.seed}/{routine.get('check') or routine['kind']}/{routine['unit']}")
        for day in _days(story, routine, chance):
            out += make(story, routine, day, chance)
    return _in_one_cycle(story, [e for e in out if e.logged <= story.now])


def _days(story: Story, routine: dict, chance: random.Random) -> Iterator[date]:
    """One day a period, from the first day to the last (inclusive), but for spans left out (both inclusive)."""
    closed = [e.args for e in story.events if e.do == "log_closure" and e.place == routine["place"]]
    needed = 2 if routine["kind"] == "spore test" else 1  # a spore test is read the next day
    day, step, shift = routine["first"], timedelta(days=routine["every_days"]), routine.get("shift", 0)
    while day <= routine["last"]:
        found = day + timedelta(days=chance.randint(0, shift))
        if not any(a <= found <= b for a, b in routine.get("without", ())):
            yield _open_day(found, needed, closed)
        day += step


def _open_day(day: date, needed: int, closed: list[dict]) -> date:
    """The day itself, or the last working day before from which so many days on the place is open."""

    def shut(day: date) -> bool:
        return any(c["from_on"] <= day <= c["to_on"] for c in closed)

    moved = day
    while any(shut(moved + n * ONE_DAY) for n in range(needed)) or (moved != day and moved.weekday() > 4):
        moved -= ONE_DAY
    return moved


def _in_one_cycle(story: Story, events: list[StoryEvent]) -> list[StoryEvent]:
    """Loads at the time of the spore test that was in them, and indicators at that of the load they were in."""
    tests = {
        (e.args["unit"], e.args.get("on") or e.logged.date()): e.args["at"]
        for e in (*story.events, *events)
        if e.do == "start_bio_test" and e.args["chamber"] == "full" and e.args.get("purpose", "routine") == "routine"
    }
    events = [_moved(story, e, tests) if e.do == "log_load" else e for e in events]
    loads = {(e.args["unit"], e.args["on"]): e.args["at"] for e in events if e.do == "log_load"}
    return [_moved(story, e, loads) if e.do == "log_chemical" else e for e in events]


def _moved(story: Story, event: StoryEvent, times: dict) -> StoryEvent:
    """The event at the time of its unit and day, logged as long after; unchanged where there is none."""
    on, own = event.args["on"], event.args["at"]
    at = times.get((event.args["unit"], on))
    if at is None:
        return event
    zone = story.zone(event.place)
    new, old = (datetime.combine(on, each.replace(tzinfo=None), zone) for each in (at, own))
    return replace(event, logged=new + (event.logged - old), args=event.args | {"at": new.timetz()})


def _at(story: Story, routine: dict, day: date, hour: int, minute: int) -> datetime:
    return datetime.combine(day, time(hour, minute), story.zone(routine["place"]))


def _lot(routine: dict, day: date) -> str:
    """The box in use: the last one opened by that day."""
    return "@" + [name for name, opened in routine["lots"] if opened <= day][-1]


def _event(story, routine, name: str, logged: datetime, do: str, by: str, **args) -> StoryEvent:
    return StoryEvent(name, routine["place"], logged, by, do, args)


def _spore_test(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    """Run in the morning with a control of the same lot, and read the next day after the label's hours."""
    unit, by = routine["unit"], chance.choice(routine["by"])
    hour, minute = chance.randint(8, 10), chance.randint(0, 59)
    started = _at(story, routine, day, hour, minute)
    name, lot = f"spore-{unit}-{day}", _lot(routine, day)
    laboratory = routine.get("site") == "laboratory"
    yield _event(
        story, routine, name, started + timedelta(minutes=chance.randint(30, 70)), "start_bio_test", by,
        unit=f"@{unit}", on=day, at=started.timetz(), lot=lot, control_lot=lot,
        cycle_type=routine["cycle_type"], cycle_number=AUTO,
        chamber=routine.get("chamber", "full"), site=routine.get("site", "clinic"), mechanical="pass",
        chemical="pass",
    )  # fmt: skip
    args = {"bio_test": f"@{name}", "test": "no growth", "control": "growth"}
    if laboratory:
        read = started + timedelta(days=chance.randint(6, 8))
        known = read + timedelta(days=1)
        args |= {
            "known_on": known.date(),
            "report": f"{routine['laboratory']}, report {chance.randint(1000, 9999)}",
        }
        args["read_by"] = routine["laboratory_reader"]
        logged = known + timedelta(minutes=chance.randint(5, 90))
    else:
        read = started + timedelta(hours=24, minutes=chance.randint(20, 150))
        args |= {"incubator_temperature": Decimal(chance.choice(routine["incubator"])), "at": read.timetz()}
        minutes = int((read - started).total_seconds()) // 60
        args["incubated_hours"] = Decimal(minutes * 10 // 60) / 10
        logged = read + timedelta(minutes=chance.randint(3, 40))
    yield _event(story, routine, f"{name}-read", logged, "read_bio_test", by, on=read.date(), **args)


def _chemical(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    moment = _at(story, routine, day, chance.randint(11, 16), chance.randint(0, 59))
    yield _event(
        story, routine, f"chemical-{routine['unit']}-{day}", moment + timedelta(minutes=20), "log_chemical",
        chance.choice(routine["by"]), unit=f"@{routine['unit']}", on=day, at=moment.timetz(),
        type=routine["type"], result="pass", lot=_lot(routine, day), where=chance.choice(routine["where"]),
        cycle_number=AUTO,
    )  # fmt: skip


def _air_removal(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    moment = _at(story, routine, day, 7, chance.randint(20, 55))
    yield _event(
        story, routine, f"air-{routine['unit']}-{day}", moment + timedelta(minutes=15), "log_air_removal",
        chance.choice(routine["by"]), unit=f"@{routine['unit']}", on=day, at=moment.timetz(), result="pass",
        cycle_number=AUTO,
    )  # fmt: skip


def _leak(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    """Ten minutes; well below the limit."""
    moment = _at(story, routine, day, 7, chance.randint(5, 15))
    rise = Decimal(chance.randint(20, 55)) / 10
    yield _event(
        story, routine, f"leak-{routine['unit']}-{day}", moment + timedelta(minutes=25), "log_leak",
        chance.choice(routine["by"]), unit=f"@{routine['unit']}", on=day, at=moment.timetz(), rise=rise,
        unit_of_measure="mbar", minutes=10,
    )  # fmt: skip


def _counter(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    moment = _at(story, routine, day, 8, chance.randint(0, 30))
    yield _event(
        story, routine, f"counter-{routine['unit']}-{day}", moment, "log_counter", chance.choice(routine["by"]),
        unit=f"@{routine['unit']}", on=day, counter="cycles", shown=AUTO,
    )  # fmt: skip


def _load(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    moment = _at(story, routine, day, chance.randint(11, 17), chance.randint(0, 59))
    yield _event(
        story, routine, f"load-{routine['unit']}-{day}", moment + timedelta(minutes=50), "log_load",
        chance.choice(routine["by"]), unit=f"@{routine['unit']}", on=day, at=moment.timetz(),
        cycle_number=AUTO, program=routine["program"],
        contents=chance.choice(routine["contents"]), decision="released",
        mechanical="pass", chemical="pass", minutes=Decimal(routine.get("minutes", 30)),
        **_numbers(story, routine, day),
        # The story logs one load of a day, not every cycle.
        confirmed=("cycle-leap",),
    )  # fmt: skip


def _numbers(story: Story, routine: dict, day: date) -> dict:
    """What the load held and reached, of its own chance: what else the story makes stays as it was without it."""
    chance = random.Random(f"{story.seed}/numbers/{routine['unit']}/{day}")
    told = {name: Decimal(chance.choice(values)) for name, values in routine.get("reached", {}).items()}
    told |= {name: chance.choice(values) for name, values in routine.get("held", {}).items()}
    if "loaded_by" in routine:
        told["loaded_by"] = chance.choice(routine["loaded_by"])
    return told | ({"packs": "dry", "pack_condition": "intact"} if told else {})


def _user_check(story: Story, routine: dict, day: date, chance: random.Random) -> Iterator[StoryEvent]:
    """A passing check, signed by who made it."""
    moment = _at(story, routine, day, 7, chance.randint(30, 50))
    by = chance.choice(routine["by"])
    name = next(a["name"] for a in story.accounts if a["username"] == by)
    yield _event(
        story, routine, f"{routine['check'].replace(' ', '-')}-{routine['unit']}-{day}",
        moment + timedelta(minutes=10), "log_user_check", by, unit=f"@{routine['unit']}", on=day,
        at=moment.timetz(), result="pass", signed_by=name, kind=routine["check"],
    )  # fmt: skip


KINDS = {
    "spore test": _spore_test,
    "chemical": _chemical,
    "air removal": _air_removal,
    "leak": _leak,
    "counter": _counter,
    "load": _load,
    "user check": _user_check,
}
