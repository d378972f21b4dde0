"""What the forms of the day are filled in with: out of the unit's own record, shown, and open to change.

Never a result, and never the next cycle number: that is read off the unit. Everything here is a suggestion for the
next entry, read off the entries before it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from audit.facts import UnitFacts, in_order
from audit.judge.cycle_types import named
from audit.judge.exposure import program_on, reached

from ..exposure_on_screen import needs_on_screen, reached_on_screen

_ENDS_IN_NUMBER = re.compile(r"^(.*?)(\d+)$")
_LOOKED_AT = 30  # newest rows of a kind among which the last cycle number is looked for


def last_cycle(unit: UnitFacts) -> str:
    """The highest cycle number of the newest day on which one is on record; "" where none is."""
    found = [fact for kind in _with_cycle(unit) for fact in kind[-_LOOKED_AT:] if fact.cycle_number]
    if not found:
        return ""
    newest = max(fact.row.happened_on for fact in found)
    return max((f.cycle_number for f in found if f.row.happened_on == newest), key=_rank)


def _with_cycle(unit: UnitFacts) -> Iterable[tuple]:
    return (in_order(unit.loads), in_order(unit.bio_tests), in_order(unit.air_removal), in_order(unit.checks))


def _rank(number: str) -> tuple[int, str]:
    match = _ENDS_IN_NUMBER.match(number)
    return (int(match.group(2)) if match else -1, number)


def _last(facts):
    rows = in_order(facts)
    return rows[-1] if rows else None


def for_start(unit: UnitFacts) -> dict:
    """The next spore test: the cycle of the last one, where it is read. Its number is read off the unit."""
    last, load = _last(unit.bio_tests), _last(unit.loads)
    cycle_type = last.cycle_type if last else load.program if load else ""
    return {"cycle_type": cycle_type, "site": last.site if last else "clinic"}


def for_air_removal(unit: UnitFacts) -> dict:
    """The next air-removal test: nothing is known of it beforehand."""
    return {}


def for_leak(unit: UnitFacts) -> dict:
    """The next leak test: the limit and its source as they stood at the last one; {} where none is on record."""
    last = _last(unit.leaks)
    return {"limit": f"{last.limit:f}", "limit_source": last.limit_source} if last else {}


def for_chemical(unit: UnitFacts) -> dict:
    """The next chemical indicator: the cycle that was logged last, and the type read last."""
    last = _last(unit.chemical)
    return {"cycle_number": last_cycle(unit)} | ({"type": last.type, "where": last.where} if last else {})


def for_load(unit: UnitFacts) -> dict:
    """The next load: the program of the last one. What was in it is never carried over, and no number is guessed."""
    last = _last(unit.loads)
    return {"program": last.program if last else ""}


def programs_of(unit: UnitFacts) -> list[str]:
    """The programs on record of the unit and those of its newest loads, each once."""
    told = [p.name for p in unit.programs if not p.retired]
    return list(dict.fromkeys([x.program for x in reversed(in_order(unit.loads)[-_LOOKED_AT:])] + told))


def loaders_of(unit: UnitFacts) -> list[str]:
    """Who loaded or started the newest loads, each once, the newest first."""
    newest = reversed(in_order(unit.loads)[-_LOOKED_AT:])
    return list(dict.fromkeys(name for x in newest for name in (x.loaded_by, x.run_by) if name))


def reached_before(unit: UnitFacts, program: str, day: date) -> list[str]:
    """What the program needs on that day, and what its newest load reached, in words; [] where neither is known."""
    found = []
    limits = program_on(unit, program, day)
    if limits is not None and (words := needs_on_screen(limits)):
        found.append(f"{limits.name} needs {words}")
    rows = reversed(in_order(unit.loads)[-_LOOKED_AT:])
    last = next((x for x in rows if named(x.program) == named(program) and reached(x)), None)
    return [*found, f"last logged of {last.program}: {reached_on_screen(last)}"] if last else found


def for_checks(unit: UnitFacts) -> dict:
    """The next round of checks: the cycle of the last one, and in what each value was measured."""
    filled: dict = {}
    for check in reversed(in_order(unit.checks)[-_LOOKED_AT:]):
        slug = check.kind.replace(" ", "_")
        if check.unit_of_measure:
            filled.setdefault(f"{slug}_unit_of_measure", check.unit_of_measure)
        if check.cycle_type:
            filled.setdefault("cycle_type", check.cycle_type)
    return filled
