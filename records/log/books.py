"""What an organisation enters in its own books: credentials, instruments with calibrations, part recall notices."""

from __future__ import annotations

from django.db import transaction

from records import access, clock
from records.models import Calibration, Credential, Instrument, PartRecall

from . import lending, may_be_logged, moves, row_rules
from .errors import NotYours, Problem
from .naming import name_in
from .submission import submission


def _refuse_unless_logging(by, owner) -> None:
    """Only people of the organisation who may record at all."""
    if not access.may_log_for(by, owner):
        raise NotYours(
            f"You may not record in the books of {owner.name}. Ask somebody who belongs to it and may record."
        )


def _of_day(on, owner) -> list[Problem]:
    return list(may_be_logged.not_in_future("on", on, None, may_be_logged.zone_of(owner)))


def _write(model, what, *, by, request_key, owner, on, fields, person=None):
    """`person` is the name of the field that names somebody, with the name as typed."""
    inputs = {"on": on, **fields} | (dict([person]) if person else {})
    with submission(owner, by, request_key, what, inputs) as s:
        if s.repeated:
            return s.first(model)
        row = model(owner_id=owner.pk, happened_on=on, zone=may_be_logged.zone_of(owner), **fields)
        if person:
            setattr(row, person[0], name_in(owner, person[1], by))
        return s.add(row)


def log_credential(*, by, request_key, owner, kind, title, valid_from, person="", valid_to=None) -> Credential:
    """What somebody is trained or licensed for, "" for the account itself. `valid_to` is the last valid day."""
    _refuse_unless_logging(by, owner)
    span = {"valid_from": valid_from, "valid_to": valid_to}
    on = min(valid_from, clock.today(may_be_logged.zone_of(owner))) if valid_from else None
    missing = [] if valid_from else [Problem("valid_from", "From which day is it valid? Enter the day on the paper.")]
    may_be_logged.stop_on([*missing, *row_rules.document(span.get)])
    fields = {"kind": kind, "title": title, **span}
    return _write(
        Credential, "credential", by=by, request_key=request_key, owner=owner, on=on, fields=fields,
        person=("person", person),
    )  # fmt: skip


def log_instrument(*, by, request_key, owner, name, kind, on, serial="") -> Instrument:
    """A measuring instrument, in use since `on`. Readings name it by `name`."""
    _refuse_unless_logging(by, owner)
    may_be_logged.stop_on(_of_day(on, owner))
    fields = {"name": name, "kind": kind, "serial": serial}
    return _write(Instrument, "instrument", by=by, request_key=request_key, owner=owner, on=on, fields=fields)


def log_calibration(
    *, by, request_key, owner, instrument, certificate, result, valid_to, on, as_found=""
) -> Calibration:
    """An instrument compared with a reference on `on`. `valid_to` is the last day it holds."""
    _refuse_unless_logging(by, owner)
    problems = _of_day(on, owner)
    if instrument is None or instrument.owner_id != owner.pk:
        problems.append(Problem("instrument", "That instrument is not in your books. Add it first."))
    fields = {"certificate": certificate, "result": result, "as_found": as_found, "valid_to": valid_to}
    problems += row_rules.calibration(({"happened_on": on} | fields).get)
    may_be_logged.stop_on(problems)
    fields |= {"instrument": instrument}
    return _write(Calibration, "calibration", by=by, request_key=request_key, owner=owner, on=on, fields=fields)


def log_part_recall(
    *, by, request_key, owner, part, issued_by, reason, action, on, number="", lot="", made_from=None, made_to=None
) -> PartRecall:  # fmt: skip
    """A notice received on `on` that a part is in doubt. An empty number or lot means all; the days are inclusive.

    It is carried after the parts it means in units that moved to another clinic: see `records.log.moves`.
    """
    _refuse_unless_logging(by, owner)
    fields = {"part": part, "number": number, "lot": lot, "made_from": made_from, "made_to": made_to}
    fields |= {"issued_by": issued_by, "reason": reason, "action": action}
    may_be_logged.stop_on([*_of_day(on, owner), *row_rules.part_recall(fields.get)])
    said = {"by": by, "request_key": request_key}
    with transaction.atomic():
        row = _write(PartRecall, "part recall notice", owner=owner, on=on, fields=fields, **said)
        moves.carry_after_moves(notice=row, **said)
        lending.carry_after_loans(notice=row, **said)
        return row
