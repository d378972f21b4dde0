"""Rows of several kinds read in one query are, field by field, those that a query of each kind gives."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from records import clock
from records.ledger.entry_rows import rows_by_entry
from records.ledger.together import rows_together, with_related
from records.models import Entry, FittedPart, Reading, Signature, TaskOutcome, fact_models
from tests import world as build

from ..one_of_each import log_one_of_each

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(tmp_path):
    with clock.at(build.NOW):
        made = build.make(units=2)
        log_one_of_each(made, tmp_path)
        for unit in made.units:
            build.seal_replaced(made, build.TODAY, unit=unit)
        yield made


def fields_of(row) -> dict:
    return {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields}


def test_every_kind_of_fact_comes_as_a_plain_query_gives_it(world):
    kinds = fact_models()
    with CaptureQueriesContext(connection) as taken:
        found = rows_together(*(model.objects.all() for model in kinds))
    assert len(taken) == 1
    for model in kinds:
        plain = list(model.objects.order_by("pk"))
        assert plain or model._meta.model_name in {"invitation", "invitationend", "invitationuse"}, model
        for one, other in zip(found[model], plain, strict=True):
            assert fields_of(one) == fields_of(other)
            assert {k: repr(v) for k, v in fields_of(one).items()} == {
                k: repr(v) for k, v in fields_of(other).items()
            }


def test_what_rows_point_to_takes_one_query_a_kind(world):
    found = rows_together(*(m.objects.all() for m in (TaskOutcome, Reading, FittedPart, Signature)))
    skipped = frozenset({"entry", "amends", "clinic", "unit", "job"})
    with CaptureQueriesContext(connection) as taken:
        with_related(found, skipped)
    kinds = {
        f.related_model for rows in found.values() for r in rows for f in r._meta.concrete_fields
        if f.is_relation and f.name not in skipped and getattr(r, f.attname) is not None
    }  # fmt: skip
    assert len(taken) == len(kinds) >= 2
    with CaptureQueriesContext(connection) as after:
        names = [(str(r.position), r.position.pk) for r in found[TaskOutcome]]
    assert not after.captured_queries and names
    assert names == [(str(r.position), r.position.pk) for r in TaskOutcome.objects.order_by("pk")]


def test_the_rows_of_each_entry_are_all_there_in_order(world):
    ids = list(Entry.objects.values_list("pk", flat=True))
    with CaptureQueriesContext(connection) as taken:
        found = rows_by_entry(ids)
    assert len(taken) == 1
    for entry in ids:
        plain = [r for model in fact_models() for r in model.objects.filter(entry=entry)]
        plain.sort(key=lambda r: r.line)
        assert [(r.model, r.origin, r.ref, r.line, r.happened_on, r.amends_id) for r in found[entry]] == [
            (type(r), r.origin, r.ref, r.line, r.happened_on, r.amends_id) for r in plain
        ]
        assert [r.unit for r in found[entry]] == [r.unit.label if getattr(r, "unit_id", None) else "" for r in plain]
        assert [r.known_on for r in found[entry]] == [getattr(r, "known_on", None) for r in plain]
    assert rows_by_entry([]) == {}
