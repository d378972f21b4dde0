"""Questions composed once give the same rows, in the same order and with the same people, as those composed anew."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from audit.gather import queries
from audit.gather.books import Books
from audit.gather.read import _Tables
from audit.gather.rows import PEOPLE
from records import clock
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db
OF_CLINIC = (*_Tables.SIMPLE, *_Tables.LEAVES)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        made = build.make()
        for days in (3, 2, 1):
            build.spore_test(made, build.TODAY - timedelta(days=days))
            build.seal_replaced(made, build.TODAY - timedelta(days=days))
        build.unit_at(made.clinic, made.people["coordinator"], "Unit 2")
        yield made


def columns(rows) -> list[tuple]:
    return [tuple(getattr(r, f.attname) for f in r._meta.concrete_fields) for r in rows]


def along(rows) -> list[dict]:
    """Per row the related rows that were read with it, with theirs."""
    return [
        {name: (columns([own]), along([own])) for name, own in r._state.fields_cache.items() if own is not None}
        for r in rows
    ]


def are_the_same(asked: list, plain: list) -> None:
    assert asked == plain and [type(r) for r in asked] == [type(r) for r in plain]
    assert columns(asked) == columns(plain) and along(asked) == along(plain)
    assert [(r._state.db, r._state.adding) for r in asked] == [(r._state.db, r._state.adding) for r in plain]


def test_what_is_compared_is_there(world):
    tests = queries.of_clinic(m.BioTest, world.clinic.pk)
    assert len(tests) == 3 and [list(one) for one in along(tests)] == [["run_by"]] * 3
    (entry, *_) = queries.entries(world.clinic.pk)
    assert list(along([entry])[0]) == ["logged_by"]


@pytest.mark.parametrize("model", OF_CLINIC, ids=lambda model: model.__name__)
def test_rows_of_the_clinic(world, model, django_assert_num_queries):
    for clinic in (world.clinic.pk, 0, world.clinic.pk):
        plain = (
            model.objects.filter(clinic_id=clinic).order_by("pk").select_related(*PEOPLE.get(model, ()) or (None,))
        )
        with django_assert_num_queries(1):
            asked = queries.of_clinic(model, clinic)
        are_the_same(asked, list(plain))


@pytest.mark.parametrize("model", (*Books.TABLES, m.IndicatorLot), ids=lambda model: model.__name__)
def test_rows_of_several_owners(world, model, django_assert_num_queries):
    every = list(m.Organisation.objects.values_list("pk", flat=True))
    for owners in ({world.clinic.pk}, set(every), {0}, set(range(-60, 0)) | set(every)):
        plain = model.objects.filter(owner_id__in=owners).order_by("pk")
        with django_assert_num_queries(1):
            asked = queries.among(model, "owner_id", owners)
        are_the_same(asked, list(plain.select_related(queries.ENTRY, *PEOPLE.get(model, ()))))


def test_units_and_what_was_entered_in_error(world):
    units = list(m.Unit.objects.order_by("pk"))
    assert len(units) == 3
    for n in (1, 2, 3):
        origins = {u.origin for u in units[:n]}
        plain = m.Unit.objects.filter(origin__in=origins).order_by("pk").select_related(queries.ENTRY)
        are_the_same(queries.among(m.Unit, "origin", origins, "UUID"), list(plain))
        are_the_same(sorted(queries.units({u.pk for u in units[:n]}), key=lambda u: u.pk), units[:n])
    assert queries.among(m.Unit, "origin", {uuid4()}, "UUID") == queries.units({0}) == []
    build.log.void(
        row=queries.of_clinic(m.BioTest, world.clinic.pk)[0], reason="not run",
        by=world.people["coordinator"], request_key=build.key(),
    )  # fmt: skip
    path = "entry__ledger__organisation_id"
    plain = m.Voiding.objects.filter(entry__ledger__organisation_id=world.clinic.pk).order_by("pk")
    assert len(plain) == 2  # the test, and with it its reading
    are_the_same(queries.among(m.Voiding, path, {world.clinic.pk}), list(plain.select_related(queries.ENTRY)))


def test_without_values_nothing_is_asked(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert queries.among(m.Unit, "origin", set(), "UUID") == queries.units(set()) == []


def test_registers_entries_and_agreements(world):
    are_the_same(queries.organisations(), list(m.Organisation.objects.all()))
    for owner in (*m.Organisation.objects.values_list("pk", flat=True), 0):
        own = m.Entry.objects.filter(ledger__organisation_id=owner)
        are_the_same(queries.entries(owner), list(own.select_related("logged_by")))
        are_the_same(queries.newest_entry(owner), list(own.order_by("-number")[:1]))
        plain = m.Agreement.objects.filter(clinic=owner).values_list("company_id", "entry__logged_at")
        assert queries.companies(owner) == list(plain)
