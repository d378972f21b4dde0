"""The work of many clinics, read and judged a few at a time and kept in this process while nothing changes.

What is kept holds only for the day, the rules and the heads of all ledgers that it was judged from, so that a new
entry anywhere makes it be judged anew. It is a cache, never evidence; another process keeps its own.
"""

from __future__ import annotations

from collections import OrderedDict, defaultdict
from dataclasses import dataclass, replace
from datetime import date
from threading import Lock

from audit.gather.kept_facts import kept_of
from audit.gather.standings import rules_digest
from audit.judge.evaluate import evaluate
from audit.planning.round import ClinicWork, Lot, Notice, StatedPart, clinic_work, with_doubts
from audit.planning.stock import LotAccount
from records import clock
from records.log.template_content import parts_of_units
from records.models import Agreement, Clinic, Ledger, PartRecall, PersonText

from .company import zones_of
from .stock.read import Held, Stock, in_stock_words, stock_of

AT_MOST_ON_READING = 25
KEPT_AT_MOST = 5_000


class _KeptWork:
    """The newest answers by what they rest on; the longest unused go first."""

    def __init__(self, at_most: int):
        self.at_most, self.rows, self.lock = at_most, OrderedDict(), Lock()

    def get(self, pk: int, rests_on: tuple) -> ClinicWork | None:
        with self.lock:
            held = self.rows.get(pk)
            if held is None or held[0] != rests_on:
                return None
            self.rows.move_to_end(pk)
            return held[1]

    def put(self, pk: int, rests_on: tuple, work: ClinicWork) -> None:
        with self.lock:
            self.rows[pk] = (rests_on, work)
            self.rows.move_to_end(pk)
            while len(self.rows) > self.at_most:
                self.rows.popitem(last=False)

    def clear(self) -> None:
        with self.lock:
            self.rows.clear()


kept = _KeptWork(KEPT_AT_MOST)


@dataclass(frozen=True, slots=True)
class RoundRead:
    """`works` by name of the clinic; `waiting` are clinics still to be read; `today` is the latest day there."""

    works: tuple[ClinicWork, ...]
    waiting: tuple[Clinic, ...]
    today: date


def read_works(clinics: list[Clinic], at_most: int = AT_MOST_ON_READING) -> RoundRead:
    """The work of these clinics, at most so many of them judged now. Seven queries where their facts are kept."""
    zones, heads = zones_of(clinics), _heads(clinics)
    works, waiting = [], []
    days = {clinic.pk: clock.today(zones.get(clinic.pk, "UTC")) for clinic in clinics}
    rests_on = {c.pk: (days[c.pk], rules_digest(), c.name, heads[c.pk]) for c in clinics}
    held = {clinic.pk: kept.get(clinic.pk, rests_on[clinic.pk]) for clinic in clinics}
    now = [clinic for clinic in clinics if held[clinic.pk] is None][:at_most]
    read = kept_of(now) if now else {}
    stated = _stated({unit.ref: days[pk] for pk, facts in read.items() for unit in facts.units})
    for pk, facts in read.items():
        held[pk] = clinic_work(facts, evaluate(facts, days[pk], brief=True), stated)
        kept.put(pk, rests_on[pk], held[pk])
    for clinic in clinics:
        work = held[clinic.pk]
        if work is None:
            waiting.append(clinic)
        else:
            works.append(work)
    return RoundRead(tuple(works), tuple(waiting), max(days.values(), default=clock.today()))


def _stated(days: dict[str, date]) -> dict[str, list[StatedPart]]:
    """By unit the parts that are said to belong to it on its day; one query, none without a unit."""
    return {
        ref: [
            StatedPart(str(row.position.origin) if row.position else "", row.name, row.number, row.quantity, row.kit)
            for row in rows
        ]
        for ref, rows in (parts_of_units(days).items() if days else ())
    }


def _heads(clinics: list[Clinic]) -> dict[int, tuple]:
    """By clinic the heads of its ledger and of those of every company whose books are read for it; three queries."""
    companies = defaultdict(set)
    for clinic, company in Agreement.objects.filter(clinic__in=clinics).values_list("clinic_id", "company_id"):
        companies[clinic].add(company)
    owners = {c.pk for c in clinics}.union(*companies.values())
    ledgers = Ledger.objects.filter(organisation__in=owners)
    heads = dict(ledgers.values_list("organisation_id", "hash"))
    # A name erased on demand changes what is said, and no ledger.
    erased = PersonText.objects.filter(erased_on__isnull=False).count()
    return {c.pk: (erased, *((pk, heads.get(pk)) for pk in sorted({c.pk, *companies[c.pk]}))) for c in clinics}


def lots_of(company, today: date) -> tuple[Lot, ...]:
    """Receipts of parts in the company's books with where they lie today, those that a notice means marked so; nine
    queries at most.
    """
    stock = stock_of(company, today)
    lots = [_lot(stock, held, company.name) for held in sorted(stock.lots, key=_as_received)]
    return with_doubts(lots, [_notice(n) for n in reversed(stock.notices)])


def _as_received(held: Held) -> tuple:
    return held.row.happened_on, held.row.pk


def _lot(stock: Stock, held: Held, owner: str) -> Lot:
    return replace(in_stock_words(held.row), owner=owner, where=_where(stock, held.account))


def _where(stock: Stock, lot: LotAccount) -> str:
    """Where how many of a lot lie, in words."""
    if lot.used_up:
        return "none left"
    lying = [
        f"{stock.name(each.place)}: {'not known, count it' if each.level is None else each.level}"
        for each in lot.lying
    ]
    return ", ".join(lying) or "where it is, is not on record"


def _notice(row: PartRecall) -> Notice:
    words = f"part recall by {row.issued_by}: {row.action}"
    return Notice(row.part, row.number, row.lot, words)
