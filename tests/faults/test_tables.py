"""Broken tables, shortened (`python -m tests.faults.tables` reads thousands), and that none is recorded by half."""

from __future__ import annotations

import pytest

from audit.issue.jobs import tables as way_in
from records import clock
from records import models as m
from records.brought import record
from records.files import table_file
from tests import world as build
from tests.faults import tables


def test_a_hundred_broken_tables_are_read_refused_or_asked_about():
    told = tables.run(100, seed=7)
    assert told.faults == []
    assert min(told.what[each] for each in ("refused", "asked", "faulty")) > 3, told.what


def test_a_fault_would_be_told(monkeypatch):
    def falls_over(content, name):
        raise RuntimeError("fell over")

    monkeypatch.setattr(table_file, "read", falls_over)
    told = tables.run(3, seed=7)
    assert len(told.faults) == 3 and "fell over" in told.faults[0]


def waiting(world, rows: int = 6):
    """A table of good loads, looked through and right."""
    lines = [f"Unit 1,2025-03-{n + 1:02},{n},wrapped,pass,Ann Old" for n in range(1, rows + 1)]
    text = "\n".join(["Sterilizer,Date,Cycle no,Program,Gauges,Operator", *lines])
    sheets = table_file.read(text.encode(), "loads.csv")
    by = world.people["coordinator"]
    table = way_in.take_in(world.clinic, by, "loads", "loads.csv", table_file.packed(sheets), rows)
    table.mapping, table.source = way_in.proposal(table, sheets[0]).to_json(), {"who": "Old Hand"}
    table.confirmed = ["unit-out"]
    way_in.want(table, "judge")
    assert (table.found["right"], table.found["wrong"]) == (rows, [])
    return table


@pytest.mark.django_db
@pytest.mark.parametrize("at", [0, 3, 5])
def test_what_breaks_in_the_middle_leaves_no_half_and_the_next_try_records_all(monkeypatch, at):
    """The program fails at a row, after entries of other rows were written in the same transaction."""
    monkeypatch.setattr(record, "ROWS_OF_ENTRY", 2)
    with clock.at(build.NOW):
        table = waiting(build.make())
        entries, plain, done = m.Entry.objects.count(), record.Judge.write, []

        def breaks(judge, told):
            done.append(told.number)
            if len(done) == at + 1:
                raise RuntimeError("the power went")
            plain(judge, told)

        with monkeypatch.context() as broken:
            broken.setattr(record.Judge, "write", breaks)
            way_in.want(table, "record")
        assert table.state == "failed" and "Nothing of it was recorded" in table.problem
        assert (m.Entry.objects.count(), m.Load.objects.count()) == (entries, 0)
        way_in.want(table, "record")
        assert (table.state, len(table.entries), m.Load.objects.count()) == ("done", 3, 6)


@pytest.mark.django_db
def test_two_workers_that_both_take_a_table_for_theirs_record_it_once():
    with clock.at(build.NOW):
        table = waiting(build.make())
        way_in.BroughtTable.objects.filter(pk=table.pk).update(state="running", worker="one", step="record")
        table.refresh_from_db()
        way_in.run(table, "another")
        table.refresh_from_db()
        assert (table.state, m.Load.objects.count()) == ("running", 0)
        way_in.run(table, "one")
        way_in.run(table, "one")
        table.refresh_from_db()
        assert (table.state, m.Load.objects.count()) == ("done", 6)
