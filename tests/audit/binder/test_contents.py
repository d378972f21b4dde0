"""The binder as data: what is in it, what is not, and that each part names its rows."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta

import pytest

from audit.binder.contents import binder_contents
from audit.binder.sections import EVERYTHING, Cell, Section, Table, to_json
from audit.judge.judgement import Severity
from tests.audit.binder import sample
from tests.audit.binder.paper import spaced


@pytest.fixture(scope="module")
def binder():
    return binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO)


def section(binder, id: str) -> Section:
    return next(each for each in binder.sections if each.id == id)


def table(where: Section, caption: str) -> Table:
    return next(b for b in where.blocks if isinstance(b, Table) and spaced(b.caption) == caption)


def headed(where: Section, title: str) -> Table:
    """The table of a section whose first column has that title."""
    return next(b for b in where.blocks if isinstance(b, Table) and b.columns[0].title == title)


def column(block: Table, title: str) -> list[str]:
    at = [each.title for each in block.columns].index(title)
    return [spaced(row[at].text) for row in block.rows]


def words(value) -> str:
    return spaced(json.dumps(to_json(value), ensure_ascii=False))


def cells(value):
    if isinstance(value, Cell):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from cells(each)
    elif is_dataclass(value):
        for field in fields(value):
            yield from cells(getattr(value, field.name))


def test_chapters_come_in_the_order_an_inspector_asks(binder):
    assert [each.id for each in binder.sections if each.level == 1] == [
        "cover", "answers", "open-items", "clinic", "unit-1", "unit-2", "loads", "changes", "appendices", "seal",
        "method", "index",
    ]  # fmt: skip


def test_every_link_leads_to_a_section(binder):
    ids = {each.id for each in binder.sections}
    links = {cell.to for cell in cells(binder.sections) if cell.to}
    assert len(ids) == len(binder.sections)
    assert {"unit-1", "unit-2", "method-rules"} <= links <= ids


def test_every_table_row_has_a_cell_for_each_column(binder):
    for part in binder.sections:
        for block in part.blocks:
            if isinstance(block, Table):
                wide = [sum(cell.span for cell in row) for row in block.rows]
                assert set(wide) <= {len(block.columns)}, (part.id, block.caption)


def test_open_items_stand_worst_first(binder):
    rows = table(section(binder, "open-items"), "Open items, worst first").rows
    assert [row[0].text for row in rows if len(row) == 1] == ["Forbids use", "Put right", "Note"]


def test_every_open_item_of_the_judgement_is_listed_with_its_way_out(binder):
    _, judgement = sample.clinic()
    every = [*judgement.findings, *(f for unit in judgement.units for f in unit.findings)]
    listed = words(section(binder, "open-items")).lower()
    assert len(every) == 3
    for finding in every:
        assert finding.message.lower() in listed and finding.way_out.lower() in listed


def test_forbidding_counts_units_out_of_service_and_items_that_forbid_use(binder):
    _, judgement = sample.clinic()
    assert sum(f.severity is Severity.FORBIDS for unit in judgement.units for f in unit.findings) == 1
    assert binder.forbidding == 2


def test_parts_are_sorted_by_lot_and_a_lot_that_cannot_be_read_says_so():
    everything = binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO, extent=EVERYTHING)
    block = table(section(everything, "lots"), "Parts fitted, by lot")
    assert column(block, "Lot") == ["B25-118\nreceipt lot: R-0931", "lot unreadable\nreceipt lot: R-0877"]


def test_corrections_late_entries_and_entries_from_paper_are_told_apart(binder):
    changes = section(binder, "changes")
    assert column(table(changes, "Corrections"), "Old, new") == ["lot: B25-113 → B25-118", "entered in error"]
    assert column(table(changes, "Late entries"), "What") == ["part", "part"]
    assert column(table(changes, "Transcribed from paper"), "Page it was copied from") == ["blue folder, page 12"]


@pytest.mark.parametrize(
    ("zone", "made_on"),
    [
        ("Europe/Warsaw", date(2026, 3, 8)),
        ("America/Chicago", date(2026, 3, 7)),
        ("Pacific/Auckland", date(2026, 3, 8)),
    ],
)
def test_a_correction_belongs_to_the_clinics_own_day(zone, made_on):
    """Made at 02:30 UTC on 8 March: still the 7th in Chicago."""
    facts, judgement = sample.clinic()
    made = replace(facts.corrections[0], logged_at=datetime(2026, 3, 8, 2, 30, tzinfo=UTC))
    facts = replace(facts, terms=(replace(facts.terms[0], zone=zone),), corrections=(made,))
    for day in (date(2026, 3, 7), date(2026, 3, 8)):
        binder = binder_contents(facts, judgement, from_on=day, to_on=day)
        shown = [block for block in section(binder, "changes").blocks if isinstance(block, Table)]
        assert any(block.caption == "Corrections" for block in shown) is (day == made_on)


def test_a_row_is_named_by_the_number_of_its_ledger_entry(binder):
    facts, _ = sample.clinic()
    row = facts.units[0].jobs[0].row
    assert f"{row.number}" in words(section(binder, "unit-1-job-1"))


def test_sources_below_read_show_their_grade(binder):
    block = table(section(binder, "method-rules"), "Sources behind the answers")
    assert column(block, "Grade") == ["read in the original", "from memory"]


@pytest.mark.parametrize(
    ("from_on", "to_on", "inside"),
    [
        (date(2026, 3, 4), date(2026, 3, 4), True),
        (date(2026, 3, 5), date(2026, 5, 31), False),
        (date(2025, 6, 1), date(2026, 3, 3), False),
    ],
)
def test_both_ends_of_the_period_are_inclusive(from_on, to_on, inside):
    """The service was on 4 March 2026."""
    made = binder_contents(*sample.clinic(), from_on=from_on, to_on=to_on)
    assert any(each.id == "unit-1-job-1" for each in made.sections) is inside
    everything = binder_contents(*sample.clinic(), from_on=from_on, to_on=to_on, extent=EVERYTHING)
    assert bool(table(section(everything, "lots"), "Parts fitted, by lot").rows) is inside


def test_identity_and_standing_are_those_of_the_day_of_the_answer_whatever_the_period():
    made = binder_contents(*sample.clinic(), from_on=date(2020, 1, 1), to_on=date(2020, 1, 2))
    page = section(made, "unit-1")
    assert "■ Out of service" in words(page) and "SN-ÆØÅ-0091" in page.aside
    assert not any(isinstance(b, Table) and b.caption == "What happened to it" for b in page.blocks)


def test_nothing_that_happened_after_the_day_of_the_answer_is_shown():
    facts, judgement = sample.clinic()
    early = replace(judgement, as_of=date(2026, 3, 3))
    made = binder_contents(facts, early, from_on=sample.FROM, to_on=sample.TO)
    assert not any(each.id == "unit-1-job-1" for each in made.sections)


def test_a_period_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="ends before it starts"):
        binder_contents(*sample.clinic(), from_on=sample.TO, to_on=sample.TO - timedelta(days=1))


def test_a_clinic_without_units_gives_honest_gaps():
    made = binder_contents(*sample.empty_clinic(), from_on=sample.FROM, to_on=sample.TO)
    told = words(made)
    for gap in (
        "No unit on record for this clinic.",
        "Nothing is open on this day.",
        "no record found of what this clinic is and follows",
        "no ledger entry on record",
    ):
        assert gap in told
    assert made.forbidding == 0


def test_contents_are_plain_json(binder):
    told = to_json(binder)
    assert json.loads(json.dumps(told)) == told
    assert told["kind"] == "Binder" and told["as_of"] == "2026-05-31"


def test_json_refuses_what_is_not_a_plain_value():
    with pytest.raises(TypeError, match="plain values only"):
        to_json(object())
