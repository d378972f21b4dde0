"""A cycle number as a unit counts it: what was last logged, and what is odd about a number that is typed now.

A unit counts every cycle by one, so a number that stands on record already, that leaps or that falls back is most
often misread; where it is not, cycles were run of which nothing is on record. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import CharField, Value

from records.models import AirRemovalTest, BioTest, ChemicalResult, Load, UserCheck

from . import gathering
from .errors import Problem

_ENDS_IN_NUMBER = re.compile(r"^(.*?)(\d+)$")
WITH_CYCLE = {
    Load: "load",
    BioTest: "spore test",
    AirRemovalTest: "air-removal test",
    ChemicalResult: "chemical indicator",
    UserCheck: "check",
}
_LOOKED_AT = 60  # newest rows among which the last number is looked for
_ONE_CYCLE = timedelta(days=1)  # a cycle and what is read of it lie this near at most


@dataclass(frozen=True, slots=True)
class Logged:
    """A row with a cycle number: what it is, its day and time (None: not known)."""

    what: str
    number: str
    on: date
    at: datetime | None
    origin: object


def parts_of(number: str) -> tuple[str, int] | None:
    """What stands before the number and the number itself; None where it does not end in one."""
    match = _ENDS_IN_NUMBER.match(number.strip())
    return (match.group(1).strip().casefold(), int(match.group(2))) if match else None


def same(one: str, other: str) -> bool:
    """Whether two texts name one cycle: zeros in front, blanks and capitals make no difference."""
    return _key(one) == _key(other)


def _rows(unit, **wanted):
    """Rows of the unit that name a cycle, the newest first: one query over their tables."""
    tables = [
        model.objects.in_force()
        .filter(unit=unit, **wanted)
        .exclude(cycle_number="")
        .annotate(what=Value(what, output_field=CharField()))
        .order_by()
        .values_list("what", "cycle_number", "happened_on", "happened_at", "origin")
        for model, what in WITH_CYCLE.items()
    ]
    return tables[0].union(*tables[1:], all=True).order_by("-happened_on", "origin")


def note(unit, row: Load) -> None:
    """The load is one of a table whose rows are gathered: those after it see its number. Else nothing to do."""
    if gathering.current() is not None and row.cycle_number:
        logged = Logged(WITH_CYCLE[Load], row.cycle_number, row.happened_on, row.happened_at, row.origin)
        _noted(unit).append(logged)
        _by_number(unit).setdefault(_key(row.cycle_number), []).append(logged)


def _noted(unit) -> list[Logged]:
    return gathering.once(("cycles of the table", unit.pk), list)


def _by_number(unit) -> dict:
    """Every row of the unit that names a cycle, by its number: asked once for a table, not for each of its rows."""

    def read() -> dict:
        found: dict = {}
        for each in _rows(unit):
            row = Logged(*each)
            found.setdefault(_key(row.number), []).append(row)
        return found

    return gathering.once(("cycles", unit.pk), read)


def _key(number: str):
    return parts_of(number) or number.strip().casefold()


def last_logged(unit, on: date, at: datetime | None = None) -> Logged | None:
    """The highest number of the newest day up to `on` on which one is on record, later times of that day left out."""
    rows = [Logged(*row) for row in _rows(unit, happened_on__lte=on)[:_LOOKED_AT]]
    if gathering.current() is not None:
        rows += [row for row in _noted(unit) if row.on <= on]
    before = [r for r in rows if r.on < on or not (at and r.at and r.at > at)]
    newest = max((r.on for r in before), default=None)
    of_day = [r for r in before if r.on == newest]
    return max(of_day, key=lambda r: (parts_of(r.number) or ("", -1))[1], default=None)


def problems(unit, number: str, on: date, at: datetime | None, *, paper: str = "", but=None) -> Iterator[Problem]:
    """What is odd about the number of a load: each is asked about. `but`: the origin of the load that is corrected.

    History copied from paper comes in any order, so there only a number that is on record already is asked about.
    """
    twin = _twin(unit, number, on, but)
    if twin is not None:
        yield Problem(
            "cycle_number",
            f"Cycle {number} is on record for {unit.label} already: {twin.what} of {twin.on}. Read the printout "
            "again. If the unit really gave that number twice, confirm it; it is recorded and flagged.",
            confirm="cycle-repeated",
        )
    elif not paper:
        yield from _order(unit, number, on, at)


def _twin(unit, number: str, on: date, but) -> Logged | None:
    for row in _candidates(unit, number):
        of_other_cycle = row.what == WITH_CYCLE[Load] or abs(row.on - on) > _ONE_CYCLE
        if same(row.number, number) and of_other_cycle and row.origin != but:
            return row
    return None


def _candidates(unit, number: str) -> Iterator[Logged]:
    if gathering.current() is not None:
        yield from _by_number(unit).get(_key(number), ())
        return
    found = parts_of(number)
    ending = str(found[1]) if found else number.strip()
    yield from (Logged(*each) for each in _rows(unit, cycle_number__iendswith=ending))


def _order(unit, number: str, on: date, at: datetime | None) -> Iterator[Problem]:
    last, found = last_logged(unit, on, at), parts_of(number)
    before = parts_of(last.number) if last else None
    if found is None or before is None or found[0] != before[0] or found[1] in (before[1], before[1] + 1):
        return
    told = f"the last one on record is {last.number} ({last.what} of {last.on})"
    if found[1] < before[1]:
        yield Problem(
            "cycle_number",
            f"Cycle {number} lies before what was logged already: {told}. Read the printout again, and check day and "
            "time. If it is right, confirm it; it is recorded and flagged.",
            confirm="cycle-back",
        )
    else:
        left = found[1] - before[1] - 1
        yield Problem(
            "cycle_number",
            f"Cycle {number} leaves {left} {'cycle' if left == 1 else 'cycles'} without a record: {told}. Read the "
            "printout again, and log what was run in between. If nothing is to be logged, confirm it; it is recorded "
            "and flagged.",
            confirm="cycle-leap",
        )
