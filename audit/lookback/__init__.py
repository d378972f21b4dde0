"""Everything on the unit between the last good proof and a failure: what a positive spore test puts in doubt."""

from __future__ import annotations

from datetime import date

from audit.biological import PASSED, ran_after
from audit.facts import BioTestFact, LoadFact, UnitFacts, in_order
from audit.judgement import Case, Evidence, LookBack


def look_backs(unit: UnitFacts, verdicts, replays, cases: tuple[Case, ...]) -> tuple[LookBack, ...]:
    """One for each case opened by a positive spore test, newest first."""
    tests = {t.row.origin: t for t in unit.bio_tests}
    out = []
    for replay in reversed(replays):
        if replay.path.kind == "biological":
            ref = replay.rows[0].row.origin if replay.rows else ""
            out.append(_look_back(unit, verdicts, tests[replay.failed.origin], replay.failed.known_on, ref))
    return tuple(out)


def last_good(unit: UnitFacts, verdicts, failed: BioTestFact) -> BioTestFact | None:
    """The newest spore test run before the failed one that passed."""
    order = in_order(unit.bio_tests)
    before = order[: [t.row.origin for t in order].index(failed.row.origin)]
    return next((t for t in reversed(before) if verdicts[t.row.origin].verdict == PASSED), None)


def is_test_cycle(unit: UnitFacts, load: LoadFact) -> bool:
    """Whether the load is the cycle of a test, logged as a cycle too."""
    tests = (*unit.bio_tests, *unit.air_removal)
    same = (load.cycle_number, load.row.happened_on)
    return bool(load.cycle_number) and any((t.cycle_number, t.row.happened_on) == same for t in tests)


def _look_back(unit: UnitFacts, verdicts, failed: BioTestFact, known_on: date, ref: str) -> LookBack:
    good = last_good(unit, verdicts, failed)
    to = _end(unit, failed, known_on)
    after = good.row.happened_on if good else None
    loads = [load for load in in_order(unit.loads) if _in_window(load, good, to)]
    jobs = [j for j in in_order(unit.jobs) if (after is None or j.row.happened_on >= after)]
    jobs = [j for j in jobs if j.row.happened_on <= to]
    readings = [r for j in jobs for r in in_order(j.readings)]
    parts = [p for j in jobs for p in in_order(j.parts)]
    return LookBack(
        trigger=f"positive spore test of {failed.row.happened_on.isoformat()}, known {known_on.isoformat()}",
        case=ref,
        after=after,
        after_text=_after_words(good, verdicts),
        to=to,
        loads=tuple(Evidence(load.row.ref, _load_words(load)) for load in loads),
        unlogged=_unlogged(unit, after, to),
        readings=tuple(Evidence(r.row.ref, _reading_words(r)) for r in readings),
        parts=tuple(Evidence(p.row.ref, _part_words(p)) for p in parts),
    )


def _end(unit: UnitFacts, failed: BioTestFact, known_on: date) -> date:
    """The day the result was known, or the day of an earlier withdrawal that still held then."""
    day = None
    for event in in_order(unit.events):
        if event.row.happened_on > known_on:
            break
        if event.kind == "withdrawn":
            day = event.row.happened_on
        elif event.kind == "returned":
            day = None
    return day if day is not None and day >= failed.row.happened_on else known_on


def _in_window(load: LoadFact, good: BioTestFact | None, to: date) -> bool:
    """Loads after the last good test; on its own day unless they are known to come before it or to be its cycle."""
    if load.row.happened_on > to:
        return False
    if good is None:
        return True
    if load.cycle_number and load.cycle_number == good.cycle_number:
        return False
    later = ran_after(load.row.happened_on, load.row.happened_at, good.row.happened_on, good.row.happened_at)
    if later is None and load.cycle_number.isdigit() and good.cycle_number.isdigit():
        return int(load.cycle_number) > int(good.cycle_number)
    return later is not False


def _after_words(good: BioTestFact | None, verdicts) -> str:
    if good is None:
        return "no negative spore test on record before it: everything on record is in doubt"
    cycle = f", cycle {good.cycle_number}" if good.cycle_number else ""
    known = verdicts[good.row.origin].known_on.isoformat()
    return f"last negative spore test {good.row.happened_on.isoformat()}{cycle} (known {known})"


def _unlogged(unit: UnitFacts, after: date | None, to: date) -> str:
    """Cycle counter against cycles logged, as far as readings tell."""
    readings = [c for c in in_order(unit.counters) if c.counter == "cycles"]
    first = [c for c in readings if after is not None and c.row.happened_on <= after]
    last = [c for c in readings if c.row.happened_on >= to]
    if not first or not last:
        return "no cycle counter reading on both sides of the window: cycles not logged are not known"
    start, end = first[-1], last[0]
    ran = end.total - start.total
    logged = len(_cycles(unit, start.row.happened_on, end.row.happened_on))
    span = f"{start.row.happened_on.isoformat()} to {end.row.happened_on.isoformat()}"
    words = f"counter rose by {ran:f} from {span}; {logged} cycles logged in that time"
    missing = ran - logged
    return f"{words}: {missing:f} not logged" if missing > 0 else words


def _cycles(unit: UnitFacts, first: date, last: date) -> set:
    """Cycles logged after `first` up to `last`; a test logged as a load too counts once."""
    facts = (*unit.loads, *unit.bio_tests, *unit.air_removal)
    inside = [f for f in facts if first < f.row.happened_on <= last]
    return {(f.row.happened_on, f.cycle_number) if f.cycle_number else f.row.origin for f in inside}


def _load_words(load: LoadFact) -> str:
    cycle = f"cycle {load.cycle_number}" if load.cycle_number else "cycle without number"
    implant = ", implant" if load.implant else ""
    released = f", {load.released}" if load.released else ", release not recorded"
    contents = load.contents or "contents not recorded"
    return f"{cycle} of {load.row.happened_on.isoformat()}: {contents}{implant}{released}"


def _reading_words(reading) -> str:
    point = f" at {reading.point}" if reading.point else ""
    found, left = (_value(v, reading.unit_of_measure) for v in (reading.as_found, reading.as_left))
    day = reading.row.happened_on.isoformat()
    return f"{reading.quantity}{point} of {day}: as found {found}, as left {left}"


def _value(value, unit: str) -> str:
    return "not measured" if value is None else f"{value} {unit}"


def _part_words(part) -> str:
    lot = part.lot or part.receipt_lot or f"lot {part.lot_state}"
    return f"{part.name} ({part.number}, {lot}) {part.action} on {part.row.happened_on.isoformat()}"


def loads_while_out(unit: UnitFacts, replay) -> list[LoadFact]:
    """Loads run after the failure was known and before the unit was proven; test cycles are no loads.

    On the day it became known only with both times, and never on the day the unit was proven: what is not known to
    have come after is not held against anyone.
    """
    failed, end = replay.failed, replay.resolved_on
    out = []
    for load in in_order(unit.loads):
        day = load.row.happened_on
        late = ran_after(day, load.row.happened_at, failed.known_on, failed.known_at)
        if late and (end is None or day < end) and not is_test_cycle(unit, load):
            out.append(load)
    return out
