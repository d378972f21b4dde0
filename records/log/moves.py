"""A unit goes from one clinic to another: two entries, one in each clinic's ledger, and two records from then on.

A clinic's record is its own: who may look at it, its binder and the hash of each entry rest on one ledger. So the
unit ends in the ledger it leaves, with all that was logged there, and begins anew in the other one, under the same
plate. What it carries along is what it is: positions, whether each has its part, and the plan. What was done to it is
not carried along: no clinic vouches for another one's entries. It arrives out of service, as a unit that was moved is
installed and proved where it stands before it is used; common practice, no source.
"""

from __future__ import annotations

import uuid
from datetime import date

from django.db import transaction

from records import access
from records.models import Fit, Placement, PlanLine, Position, Unit, UnitEvent

from . import may_be_logged
from .errors import InputPlace, Problem
from .submission import answered, locked_ledger, submission

_ARRIVAL = "arrival"
_PLATE = ("serial", "maker", "model", "equipment_type", "chamber_litres", "udi")
_LINE = (
    "code", "title", "action", "months", "cycles", "hours", "lead_days", "grace_days", "source", "edition", "rule",
    "repair_class",
)  # fmt: skip
FROM_ELSEWHERE = "came from another place, where the record of its time there is kept"
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
                row.reason = f"moved to another place: {reason}"
                row.happened_on, row.zone = on, may_be_logged.zone_of(clinic)
                s.add(row)
        key = uuid.uuid5(uuid.UUID(str(request_key)), _ARRIVAL)
        with submission(to, by, key, "unit moved here", inputs, logged_for=arriving.company) as s:
            if s.repeated:
                return s.first(Unit)
            return _arrive(s, by, plate, to, on, label, room)


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
    for line in _plan(plate, on):
        kept = {name: getattr(line, name) for name in _LINE}
        s.add(
            PlanLine(position=places.get(line.position_id), effective_on=on, **kept, **mine),
            at=InputPlace.named("plan"),
        )
    s.add(UnitEvent(kind="relocated", reason=FROM_ELSEWHERE, by=by.signed(), **mine))
    s.add(UnitEvent(kind="withdrawn", reason=NOT_PROVED, by=by.signed(), **mine))
    return here


def _positions(s, unit, on, mine) -> dict[int, Position]:
    """The positions anew, each with whether it has its part; by the id of the one that stays behind."""
    states = {}
    for fit in Fit.objects.in_force().filter(unit=unit, effective_on__lte=on).order_by("effective_on", "id"):
        states[fit.position_id] = fit
    made = {}
    for old in _first_versions(Position.objects.filter(unit=unit).order_by("id")):
        made[old.pk] = s.add(
            Position(code=old.code, name=old.name, component=old.component, **mine), at=InputPlace.named("positions")
        )
        fit = states.get(old.pk)
        state, note = (fit.state, fit.note) if fit else ("unknown", "")
        s.add(Fit(position=made[old.pk], effective_on=on, state=state, note=note, **mine))
    return made


def _plan(unit, on) -> list[PlanLine]:
    lines = PlanLine.objects.filter(unit=unit, effective_on__lte=on).order_by("effective_on", "id")
    newest = {line.code: line for line in _first_versions(lines)}
    return [line for line in newest.values() if not line.retired]


def _first_versions(rows) -> list:
    """As corrected, without those entered in error."""
    kept = rows.model.objects.in_force().values("origin")
    return access.as_corrected(rows.filter(amends__isnull=True, origin__in=kept))
