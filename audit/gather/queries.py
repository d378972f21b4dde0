"""The questions that gathering asks of the tables, each composed once in a process.

Gathering asks some forty questions that differ in nothing but whose rows they want, and composing one takes longer
than asking it. Where values may be several, a question is kept for each number of them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import cache, lru_cache

from django.db.models import Model, QuerySet

from records import models as m
from records.models.prepared import prepared, prepared_for

from .rows import PEOPLE

ENTRY = "entry__logged_by"
_SEVERAL = 50  # more values than this are asked for by a query composed for them alone


@prepared
def organisations() -> QuerySet[m.Organisation]:
    """Everybody in the register."""
    return m.Organisation.objects.all()


@prepared
def entries(owner: int) -> QuerySet[m.Entry]:
    """Every entry of the owner's ledger, with who logged it."""
    return m.Entry.objects.filter(ledger__organisation_id=owner).select_related("logged_by")


@prepared
def newest_entry(owner: int) -> QuerySet[m.Entry]:
    """The newest entry of the owner's ledger, in a list of one; an empty list where there is none."""
    return m.Entry.objects.filter(ledger__organisation_id=owner).order_by("-number")[:1]


@prepared
def companies(clinic: int) -> QuerySet[m.Agreement]:
    """(id of the company, when it was logged) of every version of every agreement with the clinic."""
    return m.Agreement.objects.filter(clinic=clinic).values_list("company_id", "entry__logged_at")


def of_clinic(model: type[Model], clinic: int) -> list:
    """Every version of the clinic's own rows, oldest first, with the people they name."""
    return _of_clinic(model)(clinic)


@cache
def _of_clinic(model: type[Model]) -> Callable[[int], list]:
    def compose(clinic: int) -> QuerySet:
        people, own = PEOPLE.get(model, ()), model.objects.filter(clinic_id=clinic).order_by("pk")
        return own.select_related(*people) if people else own

    return prepared(compose)


def among(model: type[Model], lookup: str, values: Collection, kind: str = "int") -> list:
    """Every version of the rows of which `lookup`, a path of fields, is one of the values; oldest first.

    With the people they name, and with their entries and who logged them. `kind`: "int" or "UUID".
    """
    if not values:
        return []
    if len(values) > _SEVERAL:
        return list(_among(model, lookup, values))
    return _several(model, lookup, kind, len(values))(*values)


def _among(model: type[Model], lookup: str, values: Collection) -> QuerySet:
    return (
        model.objects.filter(**{f"{lookup}__in": values}).order_by("pk").select_related(ENTRY, *PEOPLE.get(model, ()))
    )


@lru_cache(maxsize=300)
def _several(model: type[Model], lookup: str, kind: str, count: int) -> Callable[..., list]:
    return prepared_for((kind,) * count, lambda *values: _among(model, lookup, values))


def units(ids: Collection[int]) -> list[m.Unit]:
    """The units of these ids, in no order."""
    if not ids or len(ids) > _SEVERAL:
        return list(m.Unit.objects.filter(pk__in=ids)) if ids else []
    return _units(len(ids))(*ids)


@lru_cache(maxsize=_SEVERAL)
def _units(count: int) -> Callable[..., list]:
    return prepared_for(("int",) * count, lambda *ids: m.Unit.objects.filter(pk__in=ids))
