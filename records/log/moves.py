"""A unit goes from one clinic to another: two entries, one in each clinic's ledger, and two records from then on.

A clinic's record is its own: who may look at it, its binder and the hash of each entry rest on one ledger. So the
unit ends in the ledger it leaves, with all that was logged there, and begins anew in the other one, under the same
plate. What it carries along is what it is: positions, whether each has its part, and the plan. What was done to it is
not carried along: no clinic vouches for another one's entries. A part in it that a recall notice means is carried
along as a part found in place, in an entry of its own, and the notice with it where the books of the other clinic
have none that means the part: its text, its lot, its day and what it asks, naming no place and nobody. A notice that
is received after the move is carried after it in the same way, when it is entered: in the books of the place that the
unit left, of where it stands, or of a company that serves either. Only by somebody who may record where the unit
stands: nobody writes into the record of a place that is not theirs.

It arrives out of service, as a unit that was moved is installed and proved where it stands before it is used; common
practice, no source.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from django.db import transaction

from records import access
from records.models import (
    Clinic,
    Fit,
    FittedPart,
    Job,
    JobConclusion,
    PartRecall,
    Placement,
    PlanLine,
    Position,
    Unit,
    UnitEvent,
    Visit,
)

from . import may_be_logged, recalls
from .errors import InputPlace, Problem
from .submission import answered, locked_ledger, submission

_ARRIVAL, _RECALLED = "arrival", "recalled parts"
_PLATE = ("serial", "maker", "model", "equipment_type", "chamber_litres", "udi")
_LINE = (
    "code", "title", "action", "months", "cycles", "hours", "lead_days", "grace_days", "source", "edition", "rule",
    "repair_class",
)  # fmt: skip
FROM_ELSEWHERE = "came from another place, where the record of its time there is kept"
ELSEWHERE = "another place"
LEFT = f"moved to {ELSEWHERE}"
BEFORE_IT_CAME = "the record of the unit from before it came here"
_PART = ("name", "number", "lot", "lot_state", "receipt_lot", "expiry", "quantity")
NOT_PROVED = "moved here: not installed and proved at this place yet"


def hand_over_unit(*, by, request_key, unit, clinic, to, on: date, label: str, room: str, reason: str) -> Unit:
    """The unit leaves `clinic` on that day and stands at `to` from the same day on. Returns its record at `to`.

    Only who manages both: a company's dispatcher, or a coordinator of both. Neither ledger names the other clinic.
    Raises Refused, NotYours, SubmissionConflict.
    """
    leaving = may_be_logged.rights_or_refuse(by, clinic, manage=True)
    arriving = may_be_logged.rights_or_refuse(by, to, manage=True)
    inputs = {"unit": unit, "to": to, "on": on, "label": label, "room": room, "reason": reason}
    with transaction.atomic():
        # Always in one order, so that two that move units to each other at once do not wait for each other.
        for organisation in sorted((clinic, to), key=lambda o: o.pk):
            locked_ledger(organisation)
        if not answered(by, request_key):
            may_be_logged.stop_on(_problems(unit, clinic, to, on, reason))
        plate = access.as_corrected([unit])[0]
        with submission(clinic, by, request_key, "unit moved away", inputs, logged_for=leaving.company) as s:
            if not s.repeated:
                row = UnitEvent(clinic=clinic, unit=unit, kind="decommissioned", by=by.signed())
                row.reason = f"{LEFT}: {reason}"
                row.happened_on, row.zone = on, may_be_logged.zone_of(clinic)
                s.add(row)
        key = uuid.uuid5(uuid.UUID(str(request_key)), _ARRIVAL)
        with submission(to, by, key, "unit moved here", inputs, logged_for=arriving.company) as s:
            if s.repeated:
                return s.first(Unit)
            here = _arrive(s, by, plate, to, on, label, room)
        ground = _Arrival(by, request_key, clinic, to, on, here, arriving.company)
        _carry_recalled(ground, list(recalls.recalled_on(_first(unit), recalls.notices_for(clinic), on)), inputs)
        return here


def _problems(unit, clinic, to, on, reason):
    yield from may_be_logged.unit_of_clinic("unit", unit, clinic)
    yield from may_be_logged.not_in_future("on", on, None, may_be_logged.zone_of(clinic))
    yield from may_be_logged.not_in_future("on", on, None, may_be_logged.zone_of(to))
    if not reason.strip():
        yield Problem("reason", "Say why, in a few words: the next person needs it.")
    if to.pk == clinic.pk:
        yield Problem("to", "It stands there already. Choose another clinic, or change its room instead.")
    if unit is None or on is None:
        return
    placed = Placement.objects.in_force().filter(unit=unit).order_by("-effective_on", "-id").first()
    if placed is not None and on < placed.effective_on:
        words = f"It stands in {placed.room} since {placed.effective_on}. Choose that day or a later one."
        yield Problem("on", words)
    if _has_left(unit):
        yield Problem("", f"{unit.label} was decommissioned here. Only a unit that is still here can be moved.")
    plate = access.as_corrected([unit])[0]
    there = access.as_corrected(access.units_of_clinic(to))
    if any((u.maker, u.serial) == (plate.maker, plate.serial) for u in there):
        words = f"{to.name} has a record of a unit with serial {plate.serial} already. "
        yield Problem("to", words + "Return that one to use there, and decommission the one here.")


def _has_left(unit) -> bool:
    stops, starts = ("decommissioned",), ("installed", "loaner in", "returned")
    events = UnitEvent.objects.in_force().filter(unit=unit, kind__in=(*stops, *starts))
    last = events.order_by("happened_on", "id").last()
    return last is not None and last.kind in stops


def _arrive(s, by, plate: Unit, to, on: date, label: str, room: str) -> Unit:
    common = {"happened_on": on, "zone": may_be_logged.zone_of(to)}
    fields = {name: getattr(plate, name) for name in _PLATE}
    here = s.add(Unit(owner=to.organisation_ptr, label=label, **fields, **common), at=InputPlace.named("unit"))
    mine = {"clinic": to, "unit": here, **common}
    s.add(Placement(effective_on=on, room=room, **mine))
    places = _positions(s, plate, on, mine)
    for line in plan_on(plate, on):
        kept = {name: getattr(line, name) for name in _LINE}
        s.add(
            PlanLine(position=places.get(line.position_id), effective_on=on, **kept, **mine),
            at=InputPlace.named("plan"),
        )
    s.add(UnitEvent(kind="relocated", reason=FROM_ELSEWHERE, by=by.signed(), **mine))
    s.add(UnitEvent(kind="withdrawn", reason=NOT_PROVED, by=by.signed(), **mine))
    return here


@dataclass(frozen=True)
class _Arrival:
    """A unit that came: by whom it was moved, from where to where, its record here, and for which company."""

    by: object
    request_key: object
    clinic: Clinic
    to: Clinic
    on: date
    here: Unit
    company: object


def _first(unit: Unit) -> Unit:
    return unit if unit.is_origin else unit.origin_row()


def _carry_recalled(came: _Arrival, found: list[tuple[FittedPart, PartRecall]], inputs: dict) -> None:
    """The recalled parts in the unit, as found in place, and the notices that the books here lack; one entry."""
    there = set(map(_as_marked, FittedPart.objects.in_force().filter(unit=came.here, happened_on=came.on)))
    parts = {part.pk: part for part, _ in found if _as_marked(part) not in there}
    notices = _lacking(came, found)
    if not parts and not notices:
        return
    key = uuid.uuid5(uuid.UUID(str(came.request_key)), _RECALLED)
    entry = {"logged_for": came.company, "paper": BEFORE_IT_CAME}
    with submission(came.to, came.by, key, "recalled parts of a unit moved here", inputs, **entry) as s:
        for row in notices:
            s.add(row)
        if parts:
            _found_in_place(s, came, parts, [notice for _, notice in found])


def _lacking(came: _Arrival, found: list[tuple[FittedPart, PartRecall]]) -> list[PartRecall]:
    known, made = recalls.notices_for(came.to), []
    for part, notice in found:
        said = {"name": part.name, "number": part.number, "lots": (part.lot, part.receipt_lot), "on": came.on}
        if not any(recalls.means(n, **said) and n.action == notice.action for n in (*known, *made)):
            made.append(_notice_here(came, part, notice))
    return made


def _as_marked(part: FittedPart) -> tuple[str, ...]:
    return part.name, part.number, part.lot, part.receipt_lot


# ------------------------------------------------------------------------------------------------ a later notice


def carry_after_moves(*, by, request_key, notice: PartRecall) -> list[Unit]:
    """Carry a notice just entered after the parts it means, in units that moved before it came. Returns these units.

    Of the units of places whose books hold it, and of those that left them; where the account may record.
    """
    served = access.agreements().filter(company=notice.owner_id).values_list("clinic_id", flat=True)
    reach, carried = {notice.owner_id, *served}, []
    for came in _arrivals(by, request_key):
        left = _record_before(came, reach)
        found = [] if left is None else list(recalls.recalled_on(left, [notice], came.on))
        if found:
            here = replace(came, clinic=Clinic.objects.get(pk=left.owner_id))
            _carry_recalled(here, found, {"notice": notice, "unit": came.here})
            carried.append(came.here)
    return carried


def _arrivals(by, request_key) -> Iterator[_Arrival]:
    """The units that came from elsewhere to a place where the account may record, the first to come first."""
    came = UnitEvent.objects.in_force().filter(kind="relocated", reason=FROM_ELSEWHERE)
    for event in came.select_related("unit", "clinic").order_by("happened_on", "id"):
        rights = access.rights(by, event.clinic)
        if rights is not None and rights.may_log:
            key = uuid.uuid5(uuid.UUID(str(request_key)), str(event.unit.ref))
            yield _Arrival(by, key, event.clinic, event.clinic, event.happened_on, event.unit, rights.company)


def _record_before(came: _Arrival, reach: set[int]) -> Unit | None:
    """The record of the unit at the place it left on that day; None where the notice reaches neither place."""
    plate = access.as_corrected([came.here])[0]
    left = UnitEvent.objects.in_force().filter(kind="decommissioned", reason__startswith=LEFT, happened_on=came.on)
    for event in left.exclude(clinic=came.to).select_related("unit"):
        before = access.as_corrected([event.unit])[0]
        if (before.maker, before.serial) == (plate.maker, plate.serial) and reach & {came.to.pk, event.clinic_id}:
            return event.unit
    return None


def _found_in_place(s, came: _Arrival, parts: dict[int, FittedPart], notices: list[PartRecall]) -> None:
    mine = {"clinic": came.to, "happened_on": came.on, "zone": may_be_logged.zone_of(came.to)}
    servicer = (came.company or came.to).name
    visit = s.add(Visit(company=came.company, servicer=servicer, technician=came.by.signed(), **mine))
    job = Job(unit=came.here, visit=visit, reason="part recall", worked_by=came.by.signed(), **mine)
    job.contamination = "not declared"
    mine |= {"unit": came.here, "job": s.add(job)}
    here = {p.code: p for p in Position.objects.in_force().filter(unit=came.here)}
    for part in parts.values():
        place = access.as_corrected([part.position])[0] if part.position_id else None
        kept = {name: getattr(part, name) for name in _PART}
        position = here.get(place.code) if place else None
        s.add(FittedPart(position=position, action=recalls.FOUND, old_part="not known", **kept, **mine))
    asks = "; ".join(dict.fromkeys(f"notice of {n.happened_on}: {n.action}" for n in notices))
    words = f"nothing was done here: this came with the unit, as its record said before ({asks})"
    s.add(JobConclusion(conclusion="not worked on", reason=words[:500], **mine))


def _notice_here(came: _Arrival, part: FittedPart, notice: PartRecall) -> PartRecall:
    """The notice as this clinic's own: of the very lot in the unit; without one, of what was found on that day."""
    lot = part.lot or part.receipt_lot
    day = None if lot else came.on
    row = PartRecall(owner=came.to.organisation_ptr, part=part.name, number=part.number, lot=lot)
    row.made_from, row.made_to, row.action = day, day, notice.action
    row.issued_by = _naming_nobody(notice.issued_by, came.clinic)[:160]
    words = f"{notice.reason} (notice of {notice.happened_on}; the part came with the unit)"
    row.reason = _naming_nobody(words, came.clinic)[:500]
    row.happened_on, row.zone = notice.happened_on, may_be_logged.zone_of(came.to)
    return row


def _naming_nobody(text: str, left: Clinic) -> str:
    return re.sub(re.escape(left.name), ELSEWHERE, text, flags=re.IGNORECASE)


def _positions(s, unit, on, mine) -> dict[int, Position]:
    """The positions anew, each with whether it has its part; by the id of the one that stays behind."""
    states = {}
    for fit in Fit.objects.in_force().filter(unit=unit, effective_on__lte=on).order_by("effective_on", "id"):
        states[fit.position_id] = fit
    made = {}
    for old in first_versions(Position.objects.filter(unit=unit).order_by("id")):
        made[old.pk] = s.add(
            Position(code=old.code, name=old.name, component=old.component, **mine), at=InputPlace.named("positions")
        )
        fit = states.get(old.pk)
        state, note = (fit.state, fit.note) if fit else ("unknown", "")
        s.add(Fit(position=made[old.pk], effective_on=on, state=state, note=note, **mine))
    return made


def plan_on(unit, on) -> list[PlanLine]:
    """The plan of the unit on that day: the newest line in effect of each code, without those given up."""
    lines = PlanLine.objects.filter(unit=unit, effective_on__lte=on).order_by("effective_on", "id")
    newest = {line.code: line for line in first_versions(lines)}
    return [line for line in newest.values() if not line.retired]


def first_versions(rows) -> list:
    """As corrected, without those entered in error."""
    kept = rows.model.objects.in_force().values("origin")
    return access.as_corrected(rows.filter(amends__isnull=True, origin__in=kept))
