"""All that one person may see today, clinic by clinic, judged: for what leaves the pages (a calendar, a mail)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from audit.facts import ClinicFacts, unit_by_day
from audit.gather.kept_facts import kept_of
from audit.gather.responsible import serving_each
from audit.judge.evaluate import evaluate
from audit.judge.judgement import ClinicJudgement, Clock, State, UnitJudgement, Word
from audit.judge.next_step import with_company
from audit.judge.to_read import ReadLine, read_lines
from records import access, clock
from records.models import Account, Clinic, Ledger


@dataclass(frozen=True, slots=True)
class ClinicToday:
    """One clinic on its own today. `stamped_at` is the later of that day's beginning and its ledger's last entry."""

    clinic: Clinic
    facts: ClinicFacts
    judgement: ClinicJudgement
    today: date
    stamped_at: datetime

    @property
    def address(self) -> str:
        terms = self.facts.terms_on(self.today)
        return terms.address if terms else ""

    def room(self, unit_ref: str) -> str:
        """Where the unit stands, "" where it is not said."""
        facts = next((u for u in self.facts.units if u.ref == unit_ref), None)
        placed = unit_by_day(facts, self.today).placements if facts else ()
        newest = max(placed, key=lambda p: (p.effective_on, p.row.number, p.row.line), default=None)
        return newest.room if newest else ""


@dataclass(frozen=True, slots=True)
class Due:
    """One due item where it stands. `unit` is None for what is the place's own."""

    at: ClinicToday
    unit: UnitJudgement | None
    clock: Clock

    @property
    def about(self) -> str:
        return self.unit.label if self.unit else "whole place"

    @property
    def shown_on(self) -> date:
        """The due day; today for what was due before, and for what has no record to count from."""
        return max(self.clock.due_on or self.at.today, self.at.today)

    @property
    def days_overdue(self) -> int:
        return self.clock.days_overdue(self.at.today)


def reached(account: Account) -> Iterator[ClinicToday]:
    """The clinics that the account may open today, by name. None for an account that was closed."""
    if not account.is_active:
        return
    clinics = list(access.clinics_of(account))
    ledgers = {ledger.organisation_id: ledger for ledger in Ledger.objects.filter(organisation__in=clinics)}
    known = kept_of(clinics)
    zones = {pk: facts.zone_at(clock.now()) for pk, facts in known.items()}
    days = {pk: clock.today(zone) for pk, zone in zones.items()}
    companies = serving_each(days)
    for clinic in clinics:
        facts, zone, today = known[clinic.pk], zones[clinic.pk], days[clinic.pk]
        stamps = [datetime.combine(today, time.min, ZoneInfo(zone)).astimezone(UTC)]
        ledger = ledgers.get(clinic.pk)
        if ledger and ledger.logged_at:
            stamps.append(ledger.logged_at)
        judgement = with_company(evaluate(facts, today, brief=True), companies[clinic.pk])
        yield ClinicToday(clinic, facts, judgement, today, max(stamps))


def due_of(at: ClinicToday) -> Iterator[Due]:
    """What is or will be due there, and what has no evidence to count from; nothing of units not in use."""
    for clock_ in at.judgement.clocks:
        if _counts(clock_):
            yield Due(at, None, clock_)
    for unit in at.judgement.units:
        if unit.standing.word is not Word.NOT_IN_USE:
            yield from (Due(at, unit, clock_) for clock_ in unit.clocks if _counts(clock_))


def _counts(clock_: Clock) -> bool:
    if clock_.state is State.NOT_APPLICABLE:
        return False
    return clock_.due_on is not None or clock_.state is State.NO_EVIDENCE


def to_read(at: ClinicToday) -> tuple[ReadLine, ...]:
    """The spore tests of units in use that wait in the clinic's own incubator, those ready first."""
    facts = {unit.ref: unit for unit in at.facts.units}
    pairs = [(facts[u.unit], u) for u in at.judgement.units if u.standing.word is not Word.NOT_IN_USE]
    return tuple(line for line in read_lines(pairs, at.today, clock.now()) if not line.sent_away)


def changing(at: ClinicToday) -> list[UnitJudgement]:
    """The units whose answer is another from some day on with nothing new logged, those put away not among them."""
    return [
        u for u in at.judgement.units if u.standing.holds_until is not None and u.standing.word is not Word.NOT_IN_USE
    ]


def stopped(at: ClinicToday) -> list[UnitJudgement]:
    """The units that may not be used, those put away not among them."""
    return [
        u for u in at.judgement.units if not u.standing.word.may_be_used and u.standing.word is not Word.NOT_IN_USE
    ]
