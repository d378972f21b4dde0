"""What an edition of a template says, and what stands on one unit of that kind: positions, plan, parts, readings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from records.models import (
    TemplateKit,
    TemplateLine,
    TemplatePart,
    TemplatePosition,
    TemplateReading,
    Unit,
    UnitFromTemplate,
    UnitPart,
    UnitReading,
    UnitTemplate,
)

from .settled import first_versions


@dataclass(frozen=True)
class TemplateContent:
    """The rows of one edition; those of a unit are compared with it by `keyed`."""

    template: UnitTemplate
    positions: tuple
    lines: tuple
    parts: tuple
    kits: tuple
    readings: tuple

    def kits_with(self, part) -> str:
        """The names of the edition's kits that hold that part."""
        found = (k.kit.name for k in self.kits if k.kit.components.filter(part__origin=part.origin).exists())
        return ", ".join(found)[:120]


def content_of(template: UnitTemplate) -> TemplateContent:
    """Every row of an edition, in its order. Five queries."""
    return contents_of([template])[template.pk]


def contents_of(editions: list[UnitTemplate]) -> dict[int, TemplateContent]:
    """The rows of several editions, by the id of each. Five queries, however many."""
    found = {}
    rows = [_by_edition(model, editions, *related) for model, *related in _KINDS]
    for edition in editions:
        found[edition.pk] = TemplateContent(edition, *(tuple(kind.get(edition.pk, ())) for kind in rows))
    return found


_KINDS = (
    (TemplatePosition,), (TemplateLine, "position"), (TemplatePart, "position", "part"), (TemplateKit, "kit"),
    (TemplateReading,),
)  # fmt: skip


def _by_edition(model, editions, *related: str) -> dict[int, list]:
    found: dict[int, list] = {}
    for row in model.objects.in_force().filter(template__in=editions).select_related(*related).order_by("line"):
        found.setdefault(row.template_id, []).append(row)
    return found


def followed(unit: Unit) -> UnitFromTemplate | None:
    """The edition that the unit follows; None where it follows none."""
    rows = UnitFromTemplate.objects.in_force().filter(unit=unit)
    return rows.order_by("happened_on", "id").last()


def parts_of(unit: Unit, on: date) -> list[UnitPart]:
    """The parts that belong to the unit on that day: the newest row of each, without those given up."""
    rows = UnitPart.objects.filter(unit=unit, effective_on__lte=on).select_related("position")
    return _held(rows, lambda row: part_key(row, row.position))


def parts_of_units(days: Mapping[str, date]) -> dict[str, list[UnitPart]]:
    """By the ref of each of these units the parts that belong to it on its day; one query."""
    rows = UnitPart.objects.filter(unit__ref__in=list(days)).select_related("unit", "position")
    newest = {
        (str(row.unit.ref), part_key(row, row.position)): row
        for row in first_versions(rows.order_by("effective_on", "id"))
        if row.effective_on <= days[str(row.unit.ref)]
    }
    found: dict[str, list[UnitPart]] = {}
    for (ref, _), row in newest.items():
        if not row.retired:
            found.setdefault(ref, []).append(row)
    return found


def readings_of_units(refs: Iterable[str], on: date) -> dict[str, list[UnitReading]]:
    """By the ref of each of these units the readings that a visit to it takes on that day."""
    rows = UnitReading.objects.filter(unit__ref__in=list(refs), effective_on__lte=on).select_related("unit")
    found: dict[str, list[UnitReading]] = {}
    for row in _held(rows, lambda each: f"{each.unit.ref} {reading_key(each)}"):
        found.setdefault(str(row.unit.ref), []).append(row)
    return found


def readings_of(unit: Unit, on: date) -> list[UnitReading]:
    """The readings that a visit to the unit takes on that day, without those given up."""
    return _held(UnitReading.objects.filter(unit=unit, effective_on__lte=on), reading_key)


def _held(rows, key: Callable[[Any], str]) -> list:
    newest = {key(row): row for row in first_versions(rows.order_by("effective_on", "id"))}
    return [row for row in newest.values() if not row.retired]


def part_key(row, position) -> str:
    """By what a part that belongs to a place is found again: its number, else its name, and the place."""
    return f"part:{(row.number or row.name).casefold()}@{position.code if position else ''}"


def reading_key(row) -> str:
    """By what a reading is found again: its quantity and point."""
    return f"reading:{row.quantity.casefold()}@{row.point.casefold()}"
