"""Standings of many units at once, out of the cache; what is stale is judged again on reading.

A stored answer is stale when a ledger has grown that it rests on (the clinic's own, or the books of a company that
serves or served it), when a name in them was erased, the rules have changed, or it is another day; and when a row is
not the one that was stored, or one is missing. Only so many
clinics are judged again on one reading; the rest are marked as being judged, which `recompute` settles.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Collection, Iterable
from datetime import date
from functools import cache
from pathlib import Path

from django.db import DatabaseError, transaction
from django.db.models import QuerySet

from audit.facts import ClinicFacts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Clock, State, UnitJudgement, Word
from audit.models import Standing
from records import models as m

from . import marks
from .kept_facts import heads_of, kept_of

LOG = logging.getLogger(__name__)
AT_MOST_ON_READING = 25
# What forbids use comes first on every list.
RANKS = tuple(sorted(Word, key=lambda word: (word is Word.NOT_IN_USE, word.rank)))
AUDIT = Path(__file__).parents[1]
JUDGING = ("facts", "regimes", "judge", "gather")


@cache
def rules_digest() -> str:
    """A digest of everything that judges: the modules and the rules of its rooms, by their place under `audit`."""
    found = (p for room in JUDGING for p in (AUDIT / room).rglob("*") if p.suffix in (".py", ".toml"))
    parts = hashlib.sha256()
    for path in sorted(found):
        parts.update(str(path.relative_to(AUDIT)).encode() + b"\0" + path.read_bytes())
    return parts.hexdigest()


def next_due(clocks: Iterable[Clock]) -> Clock | None:
    """The due item with the earliest date, overdue ones included."""
    dated = [c for c in clocks if c.due_on is not None and c.state is not State.NOT_APPLICABLE]
    return min(dated, key=lambda c: (c.due_on, c.id), default=None)


def _row(clinic, unit_id: int, facts, judged: UnitJudgement, rest: str) -> Standing:
    standing, due, step = judged.standing, next_due(judged.clocks), judged.next
    placed = [p for p in facts.placements if p.effective_on <= judged.as_of]
    newest = max(placed, key=lambda p: (p.effective_on, p.row.number), default=None)
    return Standing(
        unit_id=unit_id,
        clinic=clinic,
        unit_ref=facts.ref,
        label=facts.label,
        serial=facts.serial,
        model=f"{facts.maker} {facts.model}",
        equipment_type=facts.equipment_type,
        room=newest.room if newest else "",
        word=str(standing.word),
        rule=standing.rule,
        reason=standing.reason,
        since=standing.since,
        holds_until=standing.holds_until,
        next_due_on=due.due_on if due else None,
        next_due_title=due.title if due else "",
        open_items=len(judged.findings),
        rank=RANKS.index(standing.word),
        short=judged.short,
        next_who=step.who if step else "",
        next_what=step.what if step else "",
        next_by=step.by if step else None,
        next_late=step.days_late if step else 0,
        as_of=judged.as_of,
        heads=rest,
        becomes=standing.becomes,
        rules=rules_digest(),
    )


def judged(clinic: m.Clinic, day: date, facts: ClinicFacts | None = None) -> list[Standing]:
    """Fresh standings of the clinic's units, unsaved; from `facts`, else from those that are kept."""
    return judged_together({clinic.pk: clinic}, day, {clinic.pk: facts} if facts else None)


def judged_together(
    clinics: dict[int, m.Clinic], day: date, known: dict[int, ClinicFacts] | None = None
) -> list[Standing]:
    """Fresh standings of the units of all these clinics, unsaved; in four queries where their facts are kept."""
    # Before the facts are read: what is logged meanwhile makes the answer stale, never the other way round.
    rest = rests_on(clinics.values())
    known = known or kept_of(list(clinics.values()))
    refs = [unit.ref for facts in known.values() for unit in facts.units]
    ids = {str(ref): pk for ref, pk in m.Unit.objects.filter(ref__in=refs).values_list("ref", "pk")}
    made = (_rows(clinics[pk], day, facts, ids, rest[pk]) for pk, facts in known.items())
    return [row for rows in made for row in _marked(rows)]


def rests_on(clinics: Collection[m.Clinic]) -> dict[int, str]:
    """By clinic a digest of every ledger that its answers rest on, and of what else its facts do."""
    return {pk: hashlib.sha256(text.encode()).hexdigest() for pk, text in heads_of(list(clinics)).items()}


def _rows(clinic: m.Clinic, day: date, facts: ClinicFacts, ids: dict[str, int], rest: str) -> list[Standing]:
    by_ref = {u.ref: u for u in facts.units}
    answer = evaluate(facts, day, brief=True)
    return [_row(clinic, ids[j.unit], by_ref[j.unit], j, rest) for j in answer.units]


COLUMNS = [f.name for f in Standing._meta.concrete_fields if f.name not in ("id", "unit", "clinic")]
SAID = [f.attname for f in Standing._meta.concrete_fields if f.name not in ("id", "mark")]


def _marked(rows: list[Standing]) -> list[Standing]:
    """The rows of one clinic, each marked over what it says, and over how many they are: none can go unnoticed."""
    for row in rows:
        row.mark = _mark([getattr(row, name) for name in SAID], len(rows))
    return rows


def _mark(said: list, count: int) -> str:
    return marks.mark("standing", "\0".join(map(str, (count, *said))).encode()).hex()


def store(rows: list[Standing]) -> None:
    """Keep the rows, replacing those of the same units."""
    with transaction.atomic():
        Standing.objects.bulk_create(
            rows, update_conflicts=True, unique_fields=["clinic", "unit"], update_fields=COLUMNS
        )


def stale(clinics: Iterable[m.Clinic], day: date) -> list[m.Clinic]:
    """The clinics with units whose stored standings are missing or no longer right; four queries."""
    clinics = list(clinics)
    with_units = set(m.Placement.objects.filter(clinic__in=clinics).values_list("clinic_id", flat=True))
    rest = rests_on(clinics)
    stored: dict[int, list[tuple]] = {}
    for row in Standing.objects.filter(clinic__in=clinics).values_list(*SAID, "mark"):
        stored.setdefault(row[CLINIC], []).append(row)
    right = (day, rules_digest())
    return [c for c in clinics if c.pk in with_units and not _are_right(stored.get(c.pk), (*right, rest[c.pk]))]


CLINIC, AS_OF, RULES, HEADS = (SAID.index(name) for name in ("clinic_id", "as_of", "rules", "heads"))


def _are_right(rows: list[tuple] | None, right: tuple) -> bool:
    """Whether the stored rows of a clinic are of that day, rules and ledgers, and as this program wrote them."""
    return bool(rows) and all(
        (row[AS_OF], row[RULES], row[HEADS]) == right and row[-1] == _mark(row[:-1], len(rows)) for row in rows
    )


def refresh(clinics: Iterable[m.Clinic], day: date, at_most: int | None = None) -> list[m.Clinic]:
    """Judge stale clinics again, at most so many. Returns those that are still to be judged."""
    waiting = stale(clinics, day)
    now = waiting if at_most is None else waiting[:at_most]
    if now:
        rows = judged_together({clinic.pk: clinic for clinic in now}, day)
        try:
            store(rows)
        except DatabaseError:
            # It may be read and not written to, or is full: what is stored is stale then, and never shown.
            LOG.warning("Standings cannot be stored.", exc_info=True)
            return waiting
    return waiting[len(now) :]


def standings_for(clinics: Iterable[m.Clinic], day: date) -> QuerySet[Standing]:
    """Stored standings of the clinics' units that are right for `day`, by name of the clinic and label of the unit.

    Up to AT_MOST_ON_READING clinics are judged again first; those beyond are left out until `recompute` has run.
    """
    clinics = list(clinics)
    waiting = {clinic.pk for clinic in refresh(clinics, day, AT_MOST_ON_READING)}
    right = [clinic for clinic in clinics if clinic.pk not in waiting]
    found = Standing.objects.filter(clinic__in=right, as_of=day, rules=rules_digest())
    return found.select_related("clinic").order_by("clinic__name", "label")
