"""What a scan points to in the records of a clinic, within the rights of who scanned it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.db.models import Q

from records import access
from records.forms import EntryContext
from records.models import Clinic, IndicatorLot, Part, PartLot, Placement, Unit
from records.scan.gs1 import CodeReading, Scan

SHORT = 8  # digits of a ref that are printed on a label to be typed by hand


@dataclass(frozen=True, slots=True)
class Match:
    """A row of the records. `kind` is "unit", "indicator lot", "part lot" or "part"; `ref` its first version."""

    kind: str
    ref: str
    title: str
    row: object

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots by which it goes, in capitals; none of a unit or a kind of part."""
        if self.kind not in ("indicator lot", "part lot"):
            return ()
        return tuple(sorted(_upper([self.row.lot, getattr(self.row, "receipt_lot", "")])))


def matches(ground: EntryContext, scan: Scan) -> list[Match]:
    """The units, boxes of indicators, part lots and parts that a reading or the label names. Five queries."""
    found = [Match("unit", str(u.origin), str(u), u) for u in _units(ground, scan)]
    lots = _upper(r.lot for r in scan.readings)
    numbers = _upper([*(r.gtin for r in scan.readings), *_own_numbers(scan.readings)])
    if scan.kind == "lot":
        numbers |= lots
    if lots:
        found += [Match("indicator lot", str(r.origin), str(r), r) for r in _boxes(ground, lots)]
        found += [Match("part lot", str(r.origin), str(r), r) for r in _part_lots(ground, lots)]
    if numbers:
        found += [Match("part", str(r.origin), f"Part {r}, number {r.number}", r) for r in _parts(ground, numbers)]
    return found


def _upper(texts) -> set[str]:
    return {text.strip().upper() for text in texts if text and text.strip()}


def _own_numbers(readings: tuple[CodeReading, ...]) -> list[str]:
    return [f.value for r in readings for f in r.fields if f.ai in ("240", "241")]


def _units(ground: EntryContext, scan: Scan) -> list[Unit]:
    serials = _upper(r.serial for r in scan.readings)
    names = _upper(r.lot for r in scan.readings) if scan.kind == "lot" else set()
    if not (scan.unit or serials or names):
        return []
    return [
        unit
        for unit in ground.units()
        if (scan.unit and unit.origin.hex.startswith(scan.unit.replace("-", "")))
        or unit.serial.upper() in serials | names
        or unit.label.upper() in names
    ]


def _any_of(field: str, values: set[str]) -> Q:
    found = Q()
    for value in values:
        found |= Q(**{f"{field}__iexact": value})
    return found


def _boxes(ground: EntryContext, lots: set[str]):
    return IndicatorLot.objects.in_force().filter(ground.lot_owners(), _any_of("lot", lots)).order_by("-id")


def _part_owners(ground: EntryContext) -> set[int]:
    company = ground.rights.company if ground.rights else None
    return {ground.clinic.pk} | ({company.pk} if company else set())


def _part_lots(ground: EntryContext, lots: set[str]):
    found = PartLot.objects.in_force().filter(owner__in=_part_owners(ground)).select_related("part")
    return found.filter(_any_of("lot", lots) | _any_of("receipt_lot", lots)).order_by("-id")


def _parts(ground: EntryContext, numbers: set[str]):
    return Part.objects.in_force().filter(_any_of("number", numbers), owner__in=_part_owners(ground)).order_by("-id")


def unit_of_label(account, label: str) -> tuple[Clinic, Unit] | None:
    """The unit that a label names by its ref or the ref's first digits, and the clinic where it stands now.

    None when there is no such unit at a clinic that the account may open, or when the digits fit several of them.
    """
    digits = label.replace("-", "").lower()
    if not SHORT <= len(digits) <= 32 or set(digits) - set("0123456789abcdef"):
        return None
    first, last = (uuid.UUID(digits.ljust(32, fill)) for fill in "0f")
    units = list(Unit.objects.origins().filter(ref__gte=first, ref__lte=last)[:9])
    open_to = {c.pk: c for c in access.clinics_of(account)} if units else {}
    placed = Placement.objects.in_force().filter(unit__in=units).order_by("effective_on", "id")
    at = {unit_id: clinic_id for unit_id, clinic_id in placed.values_list("unit_id", "clinic_id")}
    found = [
        (open_to[at[unit.pk]], unit)
        for unit in units
        if at.get(unit.pk) in open_to and access.units_of_clinic(open_to[at[unit.pk]]).filter(pk=unit.pk).exists()
    ]
    return found[0] if len(found) == 1 else None
