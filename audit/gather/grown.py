"""What was kept of a clinic, and what was logged since, as one: told from those entries, without the other tables.

Most entries of a day are a load, a test, its reading or a check. Such a row changes the fact that it makes or belongs
to, and no other. Whatever else was logged (a correction, a row entered in error, a visit, a paper, other rules, a
unit) may change facts far from its own row, and rows of a company may hold for the clinic: then nothing is said here,
and the tables are read as ever.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from functools import lru_cache

from django.db.models import BooleanField, ExpressionWrapper, IntegerField, Q, QuerySet, Value

from audit import facts as f
from records import models as m
from records.models import fact_models
from records.models.prepared import prepared, prepared_for

from . import queries
from .read import ClinicRows, units_of

AT_MOST = 50  # entries; beyond, reading everything is not much slower

# The column by which a row points to the first version of that which it belongs to; children before their parents.
BELONGS = {
    m.FollowUpDone: ("followup_id", m.FollowUp),
    m.FollowUp: ("case_id", m.FailureCase),
    m.BioReading: ("bio_test_id", m.BioTest),
    m.LoadRelease: ("load_id", m.Load),
}
# The facts of a unit that its day brings, and the table behind each.
DAILY = {
    "bio_tests": m.BioTest,
    "chemical": m.ChemicalResult,
    "air_removal": m.AirRemovalTest,
    "leaks": m.LeakTest,
    "checks": m.UserCheck,
    "loads": m.Load,
    "cases": m.FailureCase,
    "counters": m.CounterReading,
}
# Rows that the facts of a clinic do not hold; a box of indicators is told by the tests that it was used for.
APART = frozenset(
    {m.Advice, m.IndicatorLot, m.InspectorLink, m.InspectorLinkEnd, m.InspectorLinkOpening, m.Photo}
)  # fmt: skip
OF_CLINIC = frozenset({*BELONGS, *DAILY.values(), *APART})
# Rows in a company's books that no clinic's facts hold.
OF_COMPANY = frozenset(
    {
        m.Kit, m.KitComponent, m.Part, m.PartLot, m.PoolUnit, m.PoolUnitEnd, m.RecallTold, m.StockMove, m.StockPlace,
        m.TemplateKit, m.TemplateLine, m.TemplatePart, m.TemplatePosition, m.TemplateReading, m.UnitModel,
        m.UnitTemplate,
    }
)  # fmt: skip


def may_grow(was: str, now: str) -> bool:
    """Whether nothing but the ledgers' length differs between what facts rested on and what they rest on now."""
    try:
        code, *before = json.loads(was)
        code_now, *after = json.loads(now)
        return code == code_now and [_named(each) for each in before] == [_named(each) for each in after]
    except (TypeError, ValueError):  # nothing that this program kept
        return False


def _named(line: list) -> list:
    organisation, slug, name, number, _, *erased = line
    return [organisation, slug, name, number is None, *erased]


def grown(clinic: m.Clinic, facts: f.ClinicFacts, was: str, now: str) -> f.ClinicFacts | None:
    """The facts with what the ledgers got between `was` and `now`, which `may_grow` allows; None where only the
    tables can tell. Equal to `clinic_facts(clinic)`.
    """
    own: list[int] = []
    for before, after in zip(json.loads(was)[1:], json.loads(now)[1:], strict=True):
        if before == after:
            continue
        since = _entries_since(before, after)
        if since is None:
            return None
        if before[0] == clinic.pk:
            own = since
            facts = replace(facts, heads=(replace(facts.heads[0], number=after[3], hash=after[4]),))
        elif any(kind not in OF_COMPANY for kind, _ in _rows(since)):
            return None
    rows = _rows(own)
    if any(corrects or kind not in OF_CLINIC for kind, corrects in rows):
        return None
    found = _families({kind: queries.among(kind, "entry_id", own) for kind, _ in rows if kind not in APART})
    return _with(facts, units_of(_Since(clinic, found))) if found else facts


class _Since(ClinicRows):
    """As everything that was read of a clinic, of these rows alone."""

    entries = {}  # each row comes with its own

    def __init__(self, clinic: m.Clinic, found: dict[type, list]):
        super().__init__(clinic, None)
        self.found = found

    def all_versions(self, model) -> list:
        return self.found.get(model, [])

    def unit_ids(self, every: dict) -> set[int]:
        return {row.unit_id for rows in self.found.values() for row in rows}


# ------------------------------------------------------------------------------------------------ what was logged


@prepared
def _entries(owner: int, first: int, last: int) -> QuerySet[m.Entry]:
    held = m.Entry.objects.filter(ledger__organisation_id=owner, number__gte=first, number__lte=last)
    return held.order_by("number").values_list("pk", "hash")


def _entries_since(before: list, after: list) -> list[int] | None:
    """The ids of the entries after the one that a ledger ended with; None where it is another ledger, or too many."""
    owner, first, last = before[0], before[3], after[3]
    if not 0 <= last - first <= AT_MOST:
        return None
    rows = _entries(owner, first, last)
    if len(rows) != last - first + 1 or (rows[0][1], rows[-1][1]) != (before[4], after[4]):
        return None
    return [pk for pk, _ in rows[1:]]


def _rows(entries: Collection[int]) -> list[tuple[type, bool]]:
    """(kind of fact, whether a row of it corrects another) of what these entries hold; one query."""
    kinds = fact_models()
    return [(kinds[place], corrects) for place, corrects in _rows_of(len(entries))(*entries)] if entries else []


@lru_cache(maxsize=AT_MOST)
def _rows_of(count: int) -> Callable[..., list]:
    def compose(*ids: int) -> QuerySet:
        corrects = ExpressionWrapper(Q(amends__isnull=False), BooleanField())
        first, *rest = (
            model.objects.filter(entry_id__in=ids).order_by().values_list(Value(place, IntegerField()), corrects)
            for place, model in enumerate(fact_models())
        )
        return first.union(*rest)

    return prepared_for(("int",) * count, compose)


# ------------------------------------------------------------------------------------------------ what they change


def _families(found: dict[type, list]) -> dict[type, list]:
    """The rows with those that they belong to, and with everything that belongs to the same; every version."""
    for child, (column, parent) in BELONGS.items():
        ids = {getattr(row, column) for row in found.get(child, ())}
        origins = {row.origin for row in (*queries.among(parent, "pk", ids), *found.get(parent, ()))}
        if origins:
            found[parent] = queries.among(parent, "origin", origins, "UUID")
    for child, (column, parent) in reversed(BELONGS.items()):
        first = {row.pk for row in found.get(parent, ()) if row.is_origin}
        if first:
            found[child] = queries.among(child, column, first)
    return found


def _with(facts: f.ClinicFacts, changed: Iterable[f.UnitFacts]) -> f.ClinicFacts:
    parts = {unit.row.origin: unit for unit in changed}
    units = (_unit_with(unit, parts[unit.row.origin]) if unit.row.origin in parts else unit for unit in facts.units)
    return replace(facts, units=tuple(units))


def _unit_with(unit: f.UnitFacts, part: f.UnitFacts) -> f.UnitFacts:
    return replace(unit, **{name: _joined(getattr(unit, name), getattr(part, name)) for name in DAILY})


def _joined(old: f.Ordered, new: f.Ordered) -> f.Ordered:
    if not new:
        return old
    origins = {fact.row.origin for fact in new}
    return f.in_order([*(fact for fact in old if fact.row.origin not in origins), *new])
