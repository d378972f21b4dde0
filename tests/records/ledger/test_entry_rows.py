"""The rows of entries, of every kind in one query, are those that a query of each kind gives."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from records import clock
from records.ledger.entry_rows import rows_by_entry
from records.models import Entry, fact_models
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
