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

import uuid
from collections.abc import Iterator
from datetime import date

from django.db import transaction

from records import access
from records.models import (
    PartRecall,
    Placement,
    Unit,
    UnitEvent,
)

from . import may_be_logged, recalls
from .carried import ELSEWHERE, MovedUnit, carry_recalled
from .errors import InputPlace, Problem
from .settled import settle_in
from .submission import answered, locked_ledger, submission
from .template_units import carry_belongings

_ARRIVAL = "arrival"
PLATE = ("serial", "maker", "model", "equipment_type", "chamber_litres", "udi")
FROM_ELSEWHERE = "came from another place, where the record of its time there is kept"
LEFT = f"moved to {ELSEWHERE}"
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
        ground = MovedUnit(by, request_key, to, on, here, arriving.company)
        carry_recalled(ground, list(recalls.recalled_on(_first(unit), recalls.notices_for(clinic), on)), inputs)
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
    fields = {name: getattr(plate, name) for name in PLATE}
    here = s.add(Unit(owner=to.organisation_ptr, label=label, **fields, **common), at=InputPlace.named("unit"))
    mine = {"clinic": to, "unit": here, **common}
    s.add(Placement(effective_on=on, room=room, **mine))
    carry_belongings(s, here, plate, settle_in(s, here, plate, mine), mine)
    s.add(UnitEvent(kind="relocated", reason=FROM_ELSEWHERE, by=by.signed(), **mine))
    s.add(UnitEvent(kind="withdrawn", reason=NOT_PROVED, by=by.signed(), **mine))
    return here


def _first(unit: Unit) -> Unit:
    return unit if unit.is_origin else unit.origin_row()


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
            carry_recalled(came, found, {"notice": notice, "unit": came.here})
            carried.append(came.here)
    return carried


def _arrivals(by, request_key) -> Iterator[MovedUnit]:
    """The units that came from elsewhere to a place where the account may record, the first to come first."""
    came = UnitEvent.objects.in_force().filter(kind="relocated", reason=FROM_ELSEWHERE)
    for event in came.select_related("unit", "clinic").order_by("happened_on", "id"):
        rights = access.rights(by, event.clinic)
        if rights is not None and rights.may_log:
            key = uuid.uuid5(uuid.UUID(str(request_key)), str(event.unit.ref))
            yield MovedUnit(by, key, event.clinic, event.happened_on, event.unit, rights.company)


def _record_before(came: MovedUnit, reach: set[int]) -> Unit | None:
    """The record of the unit at the place it left on that day; None where the notice reaches neither place."""
    plate = access.as_corrected([came.here])[0]
    left = UnitEvent.objects.in_force().filter(kind="decommissioned", reason__startswith=LEFT, happened_on=came.on)
    for event in left.exclude(clinic=came.to).select_related("unit"):
        before = access.as_corrected([event.unit])[0]
        if (before.maker, before.serial) == (plate.maker, plate.serial) and reach & {came.to.pk, event.clinic_id}:
            return event.unit
    return None
