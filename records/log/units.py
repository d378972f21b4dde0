"""Registering units, moving them, and what is planned for them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from records import clock
from records.models import CounterReading, Fit, Placement, PlanLine, Position, Unit, UnitEvent

from . import may_be_logged
from .errors import InputPlace, Problem
from .submission import answered, submission
from .withdrawals import return_problems, with_missing


def register_unit(
    *, by, request_key, clinic, room, on: date, unit: dict, positions=(), plan=(), counters=(), installed=True,
    historic="", also=None,
) -> Unit:  # fmt: skip
    """Put a unit on the register where it stands.

    Args:
        unit: fields of `Unit` without owner.
        positions: dicts with `code`, `name`, `component`, `fit` (yes, none, missing, unknown), `note`.
        plan: dicts of `PlanLine` fields with `position` as a position code or None.
        counters: dicts with `counter`, `shown`.
        installed: log an installation event on that day; without one, duties have nothing to count from.
        historic: the paper it is transcribed from.
        also: adds further rows of the unit: called with the submission, what every row of the unit has, the positions
            by code and the day; `also.said` goes into the digest.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    may_be_logged.stop_on(may_be_logged.not_in_future("on", on, None, zone))
    if not answered(by, request_key):
        may_be_logged.stop_on(_double_serial(clinic, unit))
    inputs = {
        "room": room,
        "on": on,
        "unit": unit,
        "positions": positions,
        "plan": plan,
        "counters": counters,
    } | ({"also": also.said} if also else {})
    args = {"logged_for": rights.company, "paper": historic}
    with submission(clinic, by, request_key, "register unit", inputs, **args) as s:
        if s.repeated:
            return s.first(Unit)
        common = {"happened_on": on, "zone": zone}
        row = s.add(Unit(owner=clinic.organisation_ptr, **unit, **common), at=InputPlace.named("unit"))
        mine = {"clinic": clinic, "unit": row, **common}
        s.add(Placement(effective_on=on, room=room, **mine))
        places = {p["code"]: s.add(_position(p, mine), at=InputPlace.named("positions")) for p in positions}
        for p in positions:
            place = places[p["code"]]
            s.add(Fit(position=place, effective_on=on, state=p["fit"], note=p.get("note", ""), **mine))
        for p in plan:
            fields = dict(p)
            code = fields.pop("position", None)
            s.add(
                PlanLine(position=places[code] if code else None, effective_on=on, **fields, **mine),
                at=InputPlace.named("plan"),
            )
        if installed:
            s.add(UnitEvent(kind="installed", by=by.signed(), **mine))
        for c in counters:
            s.add(CounterReading(**c, **mine), at=InputPlace.named("counters"))
        if also:
            also(s, mine, places, on)
        return row


def _position(data: dict, mine: dict) -> Position:
    return Position(code=data["code"], name=data["name"], component=data["component"], **mine)


def _double_serial(clinic, unit: dict):
    same = Unit.objects.in_force().filter(
        maker=unit.get("maker"), serial=unit.get("serial"), placements__clinic=clinic
    )
    if same.exists():
        yield Problem(
            InputPlace.named("unit") / "serial",
            f"A unit with serial {unit['serial']} is on the register already. "
            "Open that one, or read the plate again.",
        )


def place_unit(*, by, request_key, clinic, unit, effective_on, room, use="in use") -> Placement:
    """The unit stands here from that day on, that day included; it may lie ahead. A later placement supersedes it.

    `use`: "in use" or "stored as spare".
    """
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    problems = may_be_logged.unit_of_clinic("unit", unit, clinic)
    may_be_logged.stop_on([*problems, *effective("effective_on", effective_on)])
    fields = {"unit": unit, "effective_on": effective_on, "room": room, "use": use}
    with submission(clinic, by, request_key, "placement", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(Placement)
        on = min(effective_on, clock.today(zone))
        return s.add(Placement(clinic=clinic, happened_on=on, zone=zone, **fields))


def log_unit_event(
    *, by, request_key, clinic, unit, kind, on, at=None, reason="", ends=None, missing=(), confirmed=()
) -> UnitEvent:
    """Something happened to the unit as a whole. Taking it out of service and returning it need a reason.

    `ends`: of a return, the withdrawal that it ends. `missing`: what judgement still misses before it may return, in
    words; of a return that is confirmed all the same it is recorded with the reason.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    if kind in ("withdrawn", "returned", "decommissioned") and not reason.strip():
        problems.append(Problem("reason", "Say why, in a few words: the next person needs it."))
    if ends is not None and kind != "returned":
        problems.append(Problem("ends", "Only a return ends a withdrawal. Leave it out, or choose “returned”."))
    missing = tuple(missing) if kind == "returned" else ()
    if kind == "returned" and unit is not None and on is not None and not answered(by, request_key):
        problems += return_problems(unit, on, at, ends, missing)
    may_be_logged.stop_on(problems, confirmed)
    inputs = {"unit": unit, "kind": kind, "on": on, "at": at, "reason": reason} | ({"ends": ends} if ends else {})
    with submission(clinic, by, request_key, f"unit {kind}", inputs, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(UnitEvent)
        row = UnitEvent(clinic=clinic, unit=unit, kind=kind, reason=with_missing(reason, missing), by=by.signed())
        row.ends = ends
        row.happened_on, row.happened_at, row.zone = on, at, zone
        return s.add(row)


def log_fit(*, by, request_key, clinic, unit, position, state, effective_on, note="") -> Fit:
    """Whether the position has its part (yes, none, missing, unknown), from that day on; it may lie ahead."""
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *_own_position(position, unit, needed=True)]
    may_be_logged.stop_on([*problems, *effective("effective_on", effective_on)])
    fields = {"position": position, "state": state, "effective_on": effective_on, "note": note}
    with submission(clinic, by, request_key, "fit", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(Fit)
        on = min(effective_on, clock.today(zone))
        return s.add(Fit(clinic=clinic, unit=unit, happened_on=on, zone=zone, **fields))


def log_plan_line(*, by, request_key, clinic, unit, effective_on, position=None, **fields) -> PlanLine:
    """A plan line, or its next version: the newest of one code in effect holds."""
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *_own_position(position, unit)]
    may_be_logged.stop_on([*problems, *effective("effective_on", effective_on)])
    inputs = {"unit": unit, "effective_on": effective_on, "position": position, **fields}
    with submission(clinic, by, request_key, "plan line", inputs, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(PlanLine)
        on = min(effective_on, clock.today(zone))
        return s.add(PlanLine(clinic=clinic, happened_on=on, zone=zone, **inputs))


def _own_position(position: Position | None, unit: Unit | None, *, needed: bool = False):
    """A position that is missing where one is needed, or that sits on another unit."""
    if position is None:
        if needed:
            yield Problem("position", "The position is missing. Choose one of the unit’s.")
    elif unit is not None and position.unit_id != unit.pk:
        yield Problem("position", f"That position belongs to another unit than {unit.label}. Choose one of its own.")


def effective(field: str, day: date | None) -> Iterator[Problem]:
    """A day from which something holds, which is missing."""
    if day is None:
        yield Problem(field, "The day is missing. Say from which day on it holds.")


def log_counter(
    *, by, request_key, clinic, unit, counter, shown, on, at=None, offset=None, offset_reason=""
) -> CounterReading:
    """A counter as shown. Lower than before needs an offset or a reason; None repeats the last offset."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    fields = {"counter": counter, "shown": shown, "offset": offset, "offset_reason": offset_reason}
    inputs = {"unit": unit, "on": on, "at": at, **fields}
    fields["offset"] = offset = may_be_logged.offset_or_last(unit, counter, offset, on)
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *may_be_logged.not_in_future("on", on, at, zone)]
    problems += may_be_logged.counter_forward("shown", unit, counter, shown, offset, offset_reason, on)
    if not answered(by, request_key):
        may_be_logged.stop_on(problems)
    with submission(clinic, by, request_key, "counter reading", inputs, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(CounterReading)
        row = CounterReading(clinic=clinic, unit=unit, happened_on=on, happened_at=at, zone=zone, **fields)
        return s.add(row)
