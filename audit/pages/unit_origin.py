"""Where a unit comes from: the edition of a template that it follows, and whether it is lent or another stands in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q

from records.models import LoanerHere, UnitEvent, UnitFromTemplate


@dataclass(frozen=True, slots=True)
class UnitOrigin:
    """`template`: the edition that it follows; `lent`: the unit itself is lent; `stand_ins`: loaners in its place."""

    template: UnitFromTemplate | None
    lent: LoanerHere | None
    stand_ins: tuple[LoanerHere, ...]


def origin_of(unit_ref: str, as_of: date) -> UnitOrigin:
    """As it stood at the end of that day; a loan that was ended by then is none. Two queries."""
    rows = UnitFromTemplate.objects.in_force().filter(unit__ref=unit_ref, happened_on__lte=as_of)
    out = UnitEvent.objects.in_force().filter(
        unit=OuterRef("unit"), kind="loaner out", happened_on__gte=OuterRef("happened_on"), happened_on__lte=as_of,
        entry_id__gt=OuterRef("entry_id"),
    )  # fmt: skip
    of_unit = Q(unit__ref=unit_ref) | Q(instead_of__ref=unit_ref)
    loans = LoanerHere.objects.in_force().filter(of_unit, ~Exists(out), happened_on__lte=as_of)
    loans = list(loans.select_related("unit", "instead_of").order_by("happened_on", "id"))
    lent = [each for each in loans if str(each.unit.ref) == unit_ref]
    others = tuple(each for each in loans if str(each.unit.ref) != unit_ref)
    return UnitOrigin(rows.order_by("happened_on", "id").last(), lent[-1] if lent else None, others)
