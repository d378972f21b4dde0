"""The plan of a company's stops: working state, read beside what is owed and written over as it changes.

What is owed is computed (`audit.planning.round`); a plan only names it. Agreements with a clinic are facts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db import transaction
from django.db.models import Max

from audit.models import PlannedStop, PlannedWork
from audit.planning.round import ClinicWork, WorkItem
from records import access, clock
from records.models import Account, VisitAgreed

KEPT_DAYS = 60  # plans older than that are not shown any more


@dataclass(slots=True)
class StopShown:
    """A planned stop with what is still owed on it; `gone` counts what is done or fell away since."""

    row: PlannedStop
    agreed: VisitAgreed | None = None
    items: list[WorkItem] = field(default_factory=list)
    gone: int = 0

    @property
    def units(self) -> tuple[str, ...]:
        """Origins of the units with work on it, each once."""
        return tuple(dict.fromkeys(item.unit for item in self.items))

    @property
    def out(self) -> bool:
        """Whether a unit on it may not be used."""
        return any(item.out for item in self.items)


def people_of(company) -> list[Account]:
    """Whom of the company's people work can be given to, by name; two queries."""
    people = access.members(company).filter(role__in=access.LOGGING_ROLES).values("person_id")
    accounts = Account.objects.filter(person_id__in=people, is_active=True)
    return sorted(accounts, key=lambda each: (each.full_name, each.pk))


def stops_of(company, works: Iterable[ClinicWork], *, on: date | None = None, clinics=None) -> list[StopShown]:
    """The company's stops of that day, None: of the last sixty days and all to come; three queries.

    Only those at clinics that it serves today. In order of day, person and place.
    """
    rows = PlannedStop.objects.filter(company=company).select_related("clinic", "given_to", "changed_by")
    rows = rows.filter(clinic__in=access.clinics_of_company(company) if clinics is None else clinics)
    rows = rows.filter(on=on) if on else rows.filter(on__gte=clock.today() - timedelta(days=KEPT_DAYS))
    shown = {
        row.pk: StopShown(row) for row in rows.order_by("on", "given_to__last_name", "given_to_id", "place", "pk")
    }
    owed = {(w.clinic, i.unit, i.id): i for w in works for i in w.items}
    for work in PlannedWork.objects.filter(stop__in=list(shown)).order_by("id"):
        stop = shown[work.stop_id]
        item = owed.get((stop.row.clinic.slug, str(work.unit), work.item))
        if item is None:
            stop.gone += 1
        else:
            stop.items.append(item)
    told = {stop.row.agreed for stop in shown.values() if stop.row.agreed}
    facts = {row.origin: row for row in VisitAgreed.objects.in_force().filter(origin__in=told)} if told else {}
    for stop in shown.values():
        stop.agreed = facts.get(stop.row.agreed)
        stop.items.sort(key=lambda i: (not i.out, not i.overdue, i.day or date.min, i.label, i.title))
    return list(shown.values())


def by_item(stops: Iterable[StopShown]) -> dict[tuple[str, str, str], StopShown]:
    """For each thing owed the stop it stands on; of several the latest."""
    return {item.key: stop for stop in stops for item in stop.items}


@transaction.atomic
def give(company, clinic, items: list[WorkItem], *, by, given_to, on: date, hour: str) -> PlannedStop:
    """Put these on the stop of that person at the clinic on that day; it is made where there is none."""
    mine = PlannedStop.objects.select_for_update().filter(company=company, clinic=clinic)
    stop = mine.filter(given_to=given_to, on=on).first()
    changed = {"changed_by": by, "changed_at": clock.now()}
    if stop is None:
        place = _next_place(company, given_to, on)
        stop = PlannedStop.objects.create(
            company=company, clinic=clinic, given_to=given_to, on=on, hour=hour, place=place, **changed
        )
    elif hour and stop.agreed is None:
        stop.hour = hour
    stop.changed_by, stop.changed_at = by, changed["changed_at"]
    stop.save()
    for item in items:
        PlannedWork.objects.filter(stop__in=mine.exclude(pk=stop.pk), unit=item.unit, item=item.id).delete()
        PlannedWork.objects.get_or_create(stop=stop, unit=item.unit, item=item.id)
    mine.filter(works=None, agreed=None).exclude(pk=stop.pk).delete()
    return stop


def _next_place(company, given_to, on: date) -> int:
    same = PlannedStop.objects.filter(company=company, given_to=given_to, on=on)
    return (same.aggregate(last=Max("place"))["last"] or 0) + 1


@transaction.atomic
def move(stop: PlannedStop, *, by, up: bool) -> None:
    """One place up or down among the stops of the same person and day; at the end it stays where it is."""
    same = PlannedStop.objects.select_for_update().filter(
        company=stop.company_id, given_to=stop.given_to_id, on=stop.on
    )
    rows = list(same.order_by("place", "pk"))
    at = next(n for n, row in enumerate(rows) if row.pk == stop.pk)
    to = at - 1 if up else at + 1
    if 0 <= to < len(rows):
        rows[at], rows[to] = rows[to], rows[at]
    for place, row in enumerate(rows, start=1):
        if row.place != place:
            row.place, row.changed_by, row.changed_at = place, by, clock.now()
            row.save(update_fields=["place", "changed_by", "changed_at"])


def change(stop: PlannedStop, *, by, **fields) -> None:
    """Another person, day, hour or agreement; on another person or day it goes to the end."""
    before = (stop.given_to_id, stop.on)
    for name, value in fields.items():
        setattr(stop, name, value)
    if (stop.given_to_id, stop.on) != before:
        stop.place = _next_place(stop.company, stop.given_to, stop.on)
    stop.changed_by, stop.changed_at = by, clock.now()
    stop.save()
