"""A company's units that are lent: which there are, where each is, and that one is not lent any more."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from records import access
from records.models import (
    Loan,
    LoanEnd,
    PoolUnit,
    PoolUnitEnd,
    StockPlace,
)

from . import may_be_logged
from .errors import NotYours, Problem
from .stock import own_place
from .submission import submission
from .templates import PLATE as PLATE_OF_TEMPLATE


def refuse_unless_lends(by, owner) -> None:
    """Raises NotYours for who may not lend the owner's units: only its technicians and dispatchers."""
    if not access.may_visit_for(by, owner):
        raise NotYours(f"Units of {owner.name} are lent by its technicians and dispatchers. Ask one of them.")


# ------------------------------------------------------------------------------------------------- where they are


@dataclass(frozen=True)
class PoolLine:
    """A unit to lend with its loans, the first one first, each with its `end` or None; and what ended its lending."""

    unit: PoolUnit
    loans: tuple[Loan, ...]
    gone: PoolUnitEnd | None

    @property
    def open_loan(self) -> Loan | None:
        """The loan that it is on now."""
        return next((loan for loan in self.loans if loan.end is None), None)

    @property
    def place(self) -> StockPlace:
        """The store where it stands, or stood last."""
        ends = [loan.end for loan in self.loans if loan.end]
        return max(ends, key=lambda end: (end.happened_on, end.pk)).place if ends else self.unit.place

    @property
    def free(self) -> bool:
        """Whether it stands in a store and may be lent."""
        return self.gone is None and self.open_loan is None


def pool_of(owner) -> list[PoolLine]:
    """Every unit that the owner lends or lent, by label. Four queries."""
    units = list(PoolUnit.objects.in_force().filter(owner=owner.pk).select_related("place").order_by("label", "id"))
    ends = {end.loan.origin: end for end in _rows(LoanEnd, owner, "loan", "place")}
    gone = {end.pool_unit.origin: end for end in _rows(PoolUnitEnd, owner, "pool_unit")}
    loans: dict = {}
    for loan in _rows(Loan, owner, "pool_unit", "clinic"):
        loan.end = ends.get(loan.origin)
        loans.setdefault(loan.pool_unit.origin, []).append(loan)
    return [PoolLine(unit, tuple(loans.get(unit.origin, ())), gone.get(unit.origin)) for unit in units]


def _rows(model, owner, *related: str):
    return model.objects.in_force().filter(owner=owner.pk).select_related(*related).order_by("happened_on", "id")


def line_of(owner, unit: PoolUnit | None) -> PoolLine | None:
    """The unit with its loans; None where it is none of the owner's."""
    return next((line for line in pool_of(owner) if unit is not None and line.unit.origin == unit.origin), None)


# --------------------------------------------------------------------------------------------------------- the pool


def log_pool_unit(
    *, by, request_key, owner, label, serial, place, on, template=None, maker="", model="", equipment_type="",
    chamber_litres=None, udi="",
) -> PoolUnit:  # fmt: skip
    """A unit that the owner lends from the day `on`; it stands in the store `place`.

    `template`: an edition in the owner's books, whose plate it has then. Raises Refused, NotYours,
    SubmissionConflict.
    """
    refuse_unless_lends(by, owner)
    zone = may_be_logged.zone_of(owner)
    plate = {"maker": maker, "model": model, "equipment_type": equipment_type, "chamber_litres": chamber_litres}
    if template is not None:
        plate = {name: getattr(template, name) for name in PLATE_OF_TEMPLATE}
    fields = {"label": label.strip(), "serial": serial.strip(), "udi": udi.strip(), "place": place, **plate}
    inputs = {"on": on, "template": template, **fields}
    with submission(owner, by, request_key, "unit to lend", inputs) as s:
        if s.repeated:
            return s.first(PoolUnit)
        may_be_logged.stop_on(list(_pool_problems(owner, fields, template, on, zone)))
        row = PoolUnit(owner_id=owner.pk, happened_on=on, zone=zone, **fields)
        row.template = template.ref if template else None
        return s.add(row)


def _pool_problems(owner, fields: dict, template, on, zone) -> Iterator[Problem]:
    yield from may_be_logged.not_in_future("on", on, None, zone)
    if template is not None and template.owner_id != owner.pk:
        yield Problem("template", "That template is not in your books. Choose one of the list.")
    for name in ("label", "serial", "maker", "model"):
        if not str(fields[name] or "").strip():
            yield Problem(
                name, "This is missing. Read it off the plate, or choose the template of this type of unit."
            )
    yield from a_store("place", owner, fields["place"])
    for line in pool_of(owner):
        if plate_key(line.unit) == (_plain(fields["maker"]), _plain(fields["serial"])):
            yield Problem("serial", f"A unit with serial {fields['serial']} is in the pool already. Open that one.")


def a_store(name: str, owner, place: StockPlace | None) -> Iterator[Problem]:
    """A store that is missing, or is not the owner's."""
    if place is None:
        yield Problem(name, "In which store? Choose one, or add it on the page of parts first.")
    yield from own_place(name, owner, place)


def _plain(text: str) -> str:
    return " ".join((text or "").casefold().split())


def plate_key(unit) -> tuple[str, str]:
    """By what one unit is found again: its maker and serial, without case."""
    return _plain(unit.maker), _plain(unit.serial)


def end_pool_unit(*, by, request_key, owner, pool_unit, reason, on) -> PoolUnitEnd:
    """The unit is not lent any more from that day on. Refused while it stands at a clinic."""
    refuse_unless_lends(by, owner)
    zone = may_be_logged.zone_of(owner)
    fields = {"pool_unit": pool_unit, "reason": reason.strip()}
    with submission(owner, by, request_key, "unit not lent any more", {"on": on, **fields}) as s:
        if s.repeated:
            return s.first(PoolUnitEnd)
        line = line_of(owner, pool_unit)
        problems = [*may_be_logged.not_in_future("on", on, None, zone), *free_problems("", line)]
        if not fields["reason"]:
            problems.append(Problem("reason", "Why is it not lent any more? Say it in a few words."))
        may_be_logged.stop_on(problems)
        return s.add(PoolUnitEnd(owner_id=owner.pk, happened_on=on, zone=zone, **fields))


def free_problems(name: str, line: PoolLine | None) -> Iterator[Problem]:
    """A unit that the owner does not lend, or that is at a clinic."""
    if line is None or line.gone is not None:
        yield Problem(name, "That unit is not one of those that you lend. Choose one of the list.")
    elif line.open_loan is not None:
        since = line.open_loan.happened_on
        yield Problem(
            name, f"{line.unit.label} is at {line.open_loan.clinic.name} since {since}. Take it back first."
        )
