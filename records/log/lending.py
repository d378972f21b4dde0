"""A unit of a company is lent to a clinic, and comes back.

A loaner at a clinic is a unit of that clinic's record, with what it is: plate, positions, whether each has its part,
and the plan, as its last record says them, else as its template does. What was done to it elsewhere is not carried
along, but for a part that a recall notice means. It arrives out of service, as a unit that was moved is installed and
proved where it stands before it is used; common practice, no source. Where it was at the clinic before, its record
there goes on.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import date

from django.db import transaction
from django.db.models import Q

from records import access
from records.models import (
    Clinic,
    CounterReading,
    FittedPart,
    Loan,
    LoanEnd,
    LoanerHere,
    PartRecall,
    Placement,
    Unit,
    UnitEvent,
    UnitTemplate,
)

from . import may_be_logged, recalls
from .carried import MovedUnit, carry_recalled
from .errors import InputPlace, NotYours, Problem
from .loaners import PoolLine, a_store, free_problems, line_of, plate_key, refuse_unless_lends
from .moves import NOT_PROVED, PLATE
from .settled import settle_in
from .submission import answered, locked_ledger, submission
from .template_units import carry_belongings
from .visits import name_in
from .withdrawals import standing_withdrawal

STORED = "stored as spare"  # the use of a placement
_ARRIVAL, _LEFT = "loaner arrives", "loaner leaves"


def lend_unit(
    *, by, request_key, owner, pool_unit, clinic, on, room, label="", in_place_of=None, to_store=None, cycles=None
) -> Loan:
    """The unit stands at the clinic from the day `on`, out of service until it is proved there and returned to use.

    Args:
        label: what people there call it; "": as in the pool.
        in_place_of: the clinic's unit that it stands in for; it is taken out of service unless it is out already.
        to_store: the store that this one is taken along to; None: it stays where it is.
        cycles: what the counter shows on arrival, None where nobody read it.

    Two entries, one in the clinic's ledger and one in the company's. Raises Refused, NotYours, SubmissionConflict.
    """
    refuse_unless_lends(by, owner)
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    if rights.company is None or rights.company.pk != owner.pk:
        raise NotYours(f"{owner.name} does not service that clinic today, so nothing of it is lent there.")
    fields = {"pool_unit": pool_unit, "in_place_of": in_place_of, "to_store": to_store}
    inputs = {"on": on, "clinic": clinic, "room": room, "label": label, "cycles": cycles, **fields}
    with transaction.atomic():
        for organisation in sorted((clinic, owner), key=lambda each: each.pk):
            locked_ledger(organisation)
        line = line_of(owner, pool_unit)
        if not answered(by, request_key):
            may_be_logged.stop_on(list(_lend_problems(owner, line, clinic, on, room, in_place_of, to_store)))
        key = uuid.uuid5(uuid.UUID(str(request_key)), _ARRIVAL)
        loan_ref = uuid.uuid5(uuid.uuid5(by.ref, str(request_key)), "1")  # of the first row of the other entry
        with submission(clinic, by, key, "loaner brought", inputs, logged_for=rights.company) as s:
            if s.repeated:
                here = LoanerHere.objects.get(entry=s.entry).unit
            else:
                arrival = _Arriving(s, by, owner, line, clinic, on)
                here = arrival.settle(room, label or line.unit.label, cycles, in_place_of, to_store, loan_ref)
        with submission(owner, by, request_key, "unit lent", inputs) as s:
            if s.repeated:
                return s.first(Loan)
            row = Loan(owner_id=owner.pk, clinic=clinic, record=here.ref, pool_unit=line.unit, to_store=to_store)
            row.in_place_of = in_place_of.origin if in_place_of else None
            row.happened_on, row.zone = on, may_be_logged.zone_of(owner)
            s.add(row)
        came = MovedUnit(by, request_key, clinic, on, here, rights.company)
        carry_recalled(came, list(recalled_before(line.loans, clinic, on)), inputs)
        return row


def _lend_problems(owner, line, clinic, on, room, in_place_of, to_store) -> Iterator[Problem]:
    yield from free_problems("pool_unit", line)
    for zone in {may_be_logged.zone_of(clinic), may_be_logged.zone_of(owner)}:
        yield from may_be_logged.not_in_future("on", on, None, zone)
    if not (room or "").strip():
        yield Problem("room", "Where does it stand? Enter the room.")
    if to_store is not None:
        yield from a_store("to_store", owner, to_store)
        if in_place_of is None:
            yield Problem("to_store", "Which unit is taken along? Choose the one that the loaner stands in for.")
    if in_place_of is not None:
        yield from may_be_logged.unit_of_clinic("in_place_of", in_place_of, clinic)
    if line is None or on is None:
        return
    for end in (loan.end for loan in line.loans if loan.end):
        yield from may_be_logged.after("on", on, end.happened_on, "the day it came back the last time")
    if on < line.unit.happened_on:
        yield from may_be_logged.after("on", on, line.unit.happened_on, "the day from which it is in the pool")
    if _record_here(line, clinic) is None and _plate_here(line.unit, clinic):
        words = (
            f"{clinic.name} has a unit with serial {line.unit.serial} on its register already, which is no loaner."
        )
        yield Problem("pool_unit", words + " Look at that one, and correct the serial that is wrong.")


def _record_here(line: PoolLine, clinic) -> Unit | None:
    """The record that it has at the clinic from an earlier loan."""
    refs = [loan.record for loan in line.loans if loan.clinic_id == clinic.pk]
    return Unit.objects.filter(ref=refs[-1]).first() if refs else None


def _plate_here(unit, clinic) -> bool:
    there = access.as_corrected(access.units_of_clinic(clinic))
    return any(plate_key(each) == plate_key(unit) for each in there)


class _Arriving:
    """Writes what the clinic's ledger says of a loaner that came."""

    def __init__(self, s, by, owner, line: PoolLine, clinic, on: date) -> None:
        self.s, self.by, self.owner, self.line, self.clinic, self.on = s, by, owner, line, clinic, on
        self.common = {"happened_on": on, "zone": may_be_logged.zone_of(clinic)}

    def settle(self, room: str, label: str, cycles, in_place_of, to_store, loan_ref) -> Unit:
        here = _record_here(self.line, self.clinic) or self._unit(label)
        mine = {"clinic": self.clinic, "unit": here, **self.common}
        self.s.add(Placement(effective_on=self.on, room=room, **mine))
        source = self._source()
        carry_belongings(self.s, here, source, settle_in(self.s, here, source, mine), mine)
        words = f"lent by {self.owner.name}"
        if in_place_of is not None:
            words += f" in place of {access.as_corrected([in_place_of])[0].label}"
        self.s.add(UnitEvent(kind="loaner in", reason=words, by=self.by.signed(), **mine))
        self.s.add(UnitEvent(kind="withdrawn", reason=NOT_PROVED, by=self.by.signed(), **mine))
        if cycles is not None:
            offset = may_be_logged.offset_or_last(here, "cycles", None, self.on) if here.pk else 0
            self.s.add(CounterReading(counter="cycles", shown=cycles, offset=offset, **mine))
        self.s.add(LoanerHere(company=self.owner.name, instead_of=in_place_of, loan=loan_ref, **mine))
        if in_place_of is not None:
            self._stand_in(in_place_of, label, to_store)
        return here

    def _unit(self, label: str) -> Unit:
        plate = {name: getattr(self.line.unit, name) for name in PLATE}
        row = Unit(owner_id=self.clinic.pk, label=label, **plate, **self.common)
        return self.s.add(row, at=InputPlace.named("unit"))

    def _source(self) -> Unit | UnitTemplate | None:
        """Where positions and plan come from: its newest record, else its template."""
        if self.line.loans:
            return Unit.objects.get(ref=self.line.loans[-1].record)
        return UnitTemplate.objects.filter(ref=self.line.unit.template).first() if self.line.unit.template else None

    def _stand_in(self, own: Unit, label: str, to_store) -> None:
        mine = {"clinic": self.clinic, "unit": own, **self.common}
        if standing_withdrawal(own, self.on) is None:
            reason = f"{label} of {self.owner.name} stands in for it"
            self.s.add(UnitEvent(kind="withdrawn", reason=reason, by=self.by.signed(), **mine))
        if to_store is not None:
            room = f"taken along by {self.owner.name}"[:120]
            self.s.add(Placement(effective_on=self.on, room=room, use=STORED, **mine))


def take_back(*, by, request_key, owner, loan, place, on, contamination, brought_by="", note="") -> LoanEnd:
    """The unit came back from the clinic to the store `place` on that day; its record there says that it left.

    `brought_by`: who took it back, "" the account itself. Where the company does not service the clinic any more,
    only its own books say so. Raises Refused, NotYours, SubmissionConflict.
    """
    refuse_unless_lends(by, owner)
    if loan.owner_id != owner.pk:
        raise NotYours(f"That loan is not in the books of {owner.name}.")
    zone, rights = may_be_logged.zone_of(owner), access.rights(by, loan.clinic)
    fields = {"loan": loan, "place": place, "contamination": contamination, "note": note.strip()}
    inputs = {"on": on, "brought_by": brought_by.strip(), **fields}
    with transaction.atomic():
        for organisation in sorted((loan.clinic, owner), key=lambda each: each.pk):
            locked_ledger(organisation)
        if not answered(by, request_key):
            may_be_logged.stop_on(list(_back_problems(owner, loan, place, on, zone)))
        if rights is not None and rights.may_log_visit and rights.company is not None:
            _leave(by, request_key, owner, loan, on, inputs, rights)
        with submission(owner, by, request_key, "unit back from a clinic", inputs) as s:
            if s.repeated:
                return s.first(LoanEnd)
            row = LoanEnd(owner_id=owner.pk, happened_on=on, zone=zone, **fields)
            row.brought_by = name_in(owner, brought_by, by)
            return s.add(row)


def _back_problems(owner, loan: Loan, place, on, zone) -> Iterator[Problem]:
    yield from may_be_logged.not_in_future("on", on, None, zone)
    yield from a_store("place", owner, place)
    if on is not None:
        yield from may_be_logged.after("on", on, loan.happened_on, "the day it was lent")
    if LoanEnd.objects.in_force().filter(loan__origin=loan.origin).exists():
        yield Problem("", "It is back already. Open the unit again to see where it stands.")


def _leave(by, request_key, owner, loan: Loan, on: date, inputs: dict, rights) -> None:
    unit = Unit.objects.get(ref=loan.record)
    key = uuid.uuid5(uuid.UUID(str(request_key)), _LEFT)
    with submission(loan.clinic, by, key, "loaner taken back", inputs, logged_for=rights.company) as s:
        if not s.repeated:
            row = UnitEvent(clinic=loan.clinic, unit=unit, kind="loaner out", by=by.signed())
            row.reason = f"taken back by {owner.name}"
            row.happened_on, row.zone = on, may_be_logged.zone_of(loan.clinic)
            s.add(row)


def recalled_before(loans, clinic: Clinic, on: date, notices=None) -> Iterator[tuple[FittedPart, PartRecall]]:
    """Each recalled part that an earlier record at another clinic says is in, and no later record shows to be out.

    `loans` are those of one unit, the first one first; `notices`: None for those in the books of each such clinic.
    """
    units = {unit.ref: unit for unit in Unit.objects.filter(ref__in=[loan.record for loan in loans])}
    records = list(dict.fromkeys(units[loan.record] for loan in loans if loan.record in units))
    fitted = [p for p in _fitted(records) if p.action != recalls.FOUND]
    for loan in {
        loan.record: loan for loan in loans if loan.clinic_id != clinic.pk and loan.record in units
    }.values():
        told = recalls.notices_for(loan.clinic) if notices is None else notices
        for part, notice in recalls.recalled_on(units[loan.record], told, on):
            if not any(_later_there(other, part) for other in fitted):
                yield part, notice


def carry_after_loans(*, by, request_key, notice: PartRecall) -> list[Unit]:
    """Carry a notice just entered after the parts it means, into records of loaners that came from elsewhere before.

    Of units on loan today where the account may record; the notice lies in the books of a place that had the unit, or
    of the company that lends it. Returns these units.
    """
    carried = []
    reached = Q(owner=notice.owner_id) | Q(pool_unit__loans__clinic=notice.owner_id)
    back = LoanEnd.objects.in_force().values("loan__origin")
    out = Loan.objects.in_force().filter(reached).exclude(origin__in=back)
    for loan in out.select_related("clinic", "pool_unit").order_by("id").distinct():
        rights = access.rights(by, loan.clinic)
        if rights is None or not rights.may_log:
            continue
        before = Loan.objects.in_force().filter(pool_unit=loan.pool_unit, pk__lt=loan.pk).select_related("clinic")
        loans = [each for each in before.order_by("id") if notice.owner_id in (each.clinic_id, loan.owner_id)]
        found = list(recalled_before([*loans, loan], loan.clinic, loan.happened_on, [notice]))
        if found:
            here = Unit.objects.get(ref=loan.record)
            key = uuid.uuid5(uuid.UUID(str(request_key)), str(here.ref))
            came = MovedUnit(by, key, loan.clinic, loan.happened_on, here, rights.company)
            carry_recalled(came, found, {"notice": notice, "unit": here})
            carried.append(here)
    return carried


def _fitted(records) -> list[FittedPart]:
    rows = FittedPart.objects.in_force().filter(unit__in=records, quantity__gt=0)
    return list(rows.select_related("position"))


def _later_there(other: FittedPart, part: FittedPart) -> bool:
    """Whether another record of the same unit put a part to the same place on a later day."""
    if other.unit_id == part.unit_id or None in (other.position_id, part.position_id):
        return False
    return other.position.code == part.position.code and other.happened_on > part.happened_on
