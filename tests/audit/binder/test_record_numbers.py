"""Rows are named by the number of their entry: the same in every binder, found again in the data and in the index."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from audit.binder.contents import binder_contents
from audit.binder.index import initials
from audit.binder.scope import paired, record_number, scope
from audit.binder.sections import EVERYTHING, Table
from audit.facts.heads import LedgerHead
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import section, table


@pytest.mark.parametrize(
    ("number", "line", "letter", "name"),
    [(486, 1, "", "486"), (486, 0, "", "486"), (486, 13, "", "486.13"), (16, 1, "s", "s16"), (16, 2, "t", "t16.2")],
)
def test_a_row_is_named_by_entry_line_and_ledger(number, line, letter, name):
    assert record_number(number, line, letter) == name


def test_rows_of_another_ledger_carry_its_letter_in_the_order_of_the_heads():
    facts, judgement = full.clinic()
    heads = [LedgerHead(ref, ref, 1, "a" * 64) for ref in (facts.ref, "first company", "second company")]
    asked = scope(facts, judgement, sample.FROM, sample.TO, heads=tuple(heads))
    row = facts.units[0].row
    names = [asked.number_of(replace(row, ledger=each)) for each in ("", "first company", "second company", "gone")]
    assert names == [f"{letter}{row.number}" for letter in ("", "s", "t", "s")]


def test_short_numbers_stand_two_to_a_line():
    assert paired(["408", "409", "411", "486.13", "s16"]) == "408, 409\n411\n486.13\ns16"


def test_what_is_no_row_of_the_clinic_goes_by_the_start_of_its_ref():
    asked = scope(*full.clinic(), sample.FROM, sample.TO)
    assert asked.row("f" * 32) == "f" * 8


def test_the_data_name_each_row_that_a_record_column_names():
    facts, judgement = full.clinic()
    binder = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    known = dict(binder.named)
    shown = {
        name
        for each in binder.sections
        for block in each.blocks
        if isinstance(block, Table)
        for row in block.rows
        for cell in row
        if cell.proof
        for name in re.split(r", |\n", cell.text)
        if re.fullmatch(r"\d+(\.\d+)?", name)
    }
    assert len(shown) > 50 and shown - set(known) <= {str(c.number) for c in facts.corrections} | entries_of_ranges(
        binder
    )
    job = facts.units[0].jobs[0].row
    assert known[str(job.number)] == job.ref[:8]


def entries_of_ranges(binder) -> set[str]:
    """Entries that a cell names alone though it counts many: those belong to no row by themselves."""
    return {
        cell.text
        for each in binder.sections
        for block in each.blocks
        if isinstance(block, Table)
        for row in block.rows
        for cell in row
        if cell.proof and cell.text.isdigit()
    } - {name for name, _ in binder.named}


def test_the_index_holds_each_entry_of_the_period_once_but_those_of_loads():
    facts, judgement = full.clinic()
    binder = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    rows = [row for row in table(section(binder, "index"), "Entries").rows if len(row) > 1]
    numbers = [int(row[0].text) for row in rows]
    assert numbers == sorted(set(numbers))
    tests = {t.row.number for t in facts.units[0].bio_tests if sample.FROM <= t.row.happened_on <= sample.TO}
    loads = {load.row.number for load in facts.units[0].loads}
    assert tests <= set(numbers) and not loads & set(numbers)


def indexed(**more) -> int:
    """How many rows the index of one month has."""
    made = binder_contents(*full.clinic(), from_on=date(2026, 5, 1), to_on=sample.TO, **more)
    return len(table(section(made, "index"), "Entries").rows)


def test_everything_on_record_indexes_the_entries_before_the_period_too():
    assert indexed(extent=EVERYTHING) > indexed() + 50


def test_people_of_the_same_initials_are_told_apart():
    assert initials(["Mei Castellanos", "Max Carter", "Tariq Halloran"]) == {
        "Mei Castellanos": "MC", "Max Carter": "MC2", "Tariq Halloran": "TH",
    }  # fmt: skip


def test_an_unknown_extent_is_refused():
    with pytest.raises(ValueError, match="no extent of a binder"):
        binder_contents(*full.clinic(), from_on=sample.FROM, to_on=sample.TO, extent="half of it")
