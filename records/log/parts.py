"""Parts and receipts of part lots, in the books of who received them."""

from __future__ import annotations

from records import access, clock
from records.models import Part, PartLot

from . import may_be_logged, stock
from .errors import NotYours, Problem
from .submission import submission


def _refuse_unless_theirs(by, owner) -> None:
    if not access.memberships(by).filter(organisation=owner, role__in=access.PARTS_ROLES).exists():
        raise NotYours(f"Parts in the books of {owner.name} are entered by its stores, or by who records visits.")


def log_part(*, by, request_key, owner, name, component, number="") -> Part:
    """A kind of spare part in the owner's books, dated today there; its lots are logged apart. Raises NotYours."""
    _refuse_unless_theirs(by, owner)
    fields = {"name": name, "component": component, "number": number}
    with submission(owner, by, request_key, "part", fields) as s:
        if s.repeated:
            return s.first(Part)
        zone = may_be_logged.zone_of(owner)
        return s.add(Part(owner=owner.organisation_ptr, happened_on=clock.today(zone), zone=zone, **fields))


def log_part_lot(
    *, by, request_key, owner, part, receipt_lot, on, lot="", expiry=None, quantity=None, place=None
) -> PartLot:  # fmt: skip
    """A receipt. It always has our own number; the printed lot where there is one.

    `on` is the day of receipt, today there at the latest; `expiry` the last day on which it may be fitted. `quantity`
    is how many came and `place` where they were put; without both it is not known how many there are until they are
    counted.
    """
    _refuse_unless_theirs(by, owner)
    zone = may_be_logged.zone_of(owner)
    problems = list(may_be_logged.not_in_future("on", on, None, zone))
    if part.owner_id != owner.pk:
        problems.append(Problem("part", "That part is not in your books. Add it first."))
    problems += stock.received_problems(owner, quantity, place)
    may_be_logged.stop_on(problems)
    fields = {"part": part, "receipt_lot": receipt_lot, "lot": lot, "expiry": expiry}
    put = {} if place is None else {"quantity": quantity, "place": place}
    with submission(owner, by, request_key, "part lot", {"on": on, **fields, **put}) as s:
        if s.repeated:
            return s.first(PartLot)
        row = s.add(PartLot(owner=owner.organisation_ptr, happened_on=on, zone=zone, **fields))
        if place is not None:
            stock.put_received(s, owner, row, quantity, place)
        return row
