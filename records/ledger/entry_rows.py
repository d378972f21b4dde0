"""What the rows of some entries are, in one query over every kind of fact: enough to list and to link them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import models
from django.db.models import F, Value
from django.db.models.functions import Cast

from records.models import fact_models

# The column that says in a few words which one it is, where the day alone would not.
SAID = {
    "conditionfinding": "component", "cyclerecording": "filename",
    "faultreport": "what", "faultsettled": "outcome", "fittedpart": "name",
    "followup": "what", "indicatorlot": "lot",
    "inspection": "office", "inspectionpoint": "what",
    "instrument": "name", "jobconclusion": "conclusion", "part": "name", "planline": "title",
    "pointmet": "outcome", "position": "name", "program": "name",
    "reading": "quantity", "signature": "meaning", "unit": "label", "unitevent": "kind", "usercheck": "kind",
    "verificationtest": "code", "visit": "servicer",
    "visitagreed": "visit_on", "visitcalledoff": "reason", "voiding": "reason",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One row of an entry. `said` is "" where the day says which one it is; `unit` the label, "" without a unit."""

    model: type
    entry_id: int
    line: int
    ref: UUID
    origin: UUID
    happened_on: date
    known_on: date | None
    zone: str
    amends_id: int | None
    amend_reason: str
    unit: str
    said: str

    @property
    def _meta(self):
        return self.model._meta

    def __str__(self):
        return self.said or f"{self._meta.verbose_name} of {self.happened_on}"


def _text(name: str | None):
    return Cast(F(name) if name else Value(""), models.TextField())


def _rows_of(model, place: int, entry_ids):
    names = {f.name for f in model._meta.concrete_fields}
    known_on = F("known_on") if "known_on" in names else Cast(Value(None), models.DateField(null=True))
    return (
        model.objects.filter(entry_id__in=entry_ids)
        .order_by()
        .annotate(
            a_place=Value(place, models.IntegerField()), a_known=known_on,
            a_unit=_text("unit__label" if "unit" in names else None), a_said=_text(SAID.get(model._meta.model_name)),
        )
        .values_list(
            "a_place", "entry_id", "line", "ref", "origin", "happened_on", "a_known", "zone", "amends_id",
            "amend_reason", "a_unit", "a_said",
        )
    )  # fmt: skip


def rows_by_entry(entry_ids) -> dict[int, list[EntryRow]]:
    """The rows of each entry, by the entry's id, in the order of their lines; one query."""
    kinds, ids = fact_models(), list(entry_ids)
    if not ids:
        return {}
    first, *rest = (_rows_of(model, place, ids) for place, model in enumerate(kinds))
    found = defaultdict(list)
    for place, *values, unit, said in first.union(*rest, all=True):
        row = EntryRow(kinds[place], *values, unit or "", said or "")
        found[row.entry_id].append(row)
    return {entry: sorted(rows, key=lambda r: r.line) for entry, rows in found.items()}
