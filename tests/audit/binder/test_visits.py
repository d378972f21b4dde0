"""The service of a unit in tables of its own, people by name, and the rules of the period."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.editions import rules_followed
from audit.binder.sections import Table
from audit.regimes import all_regimes
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import column, section, table, words
from tests.bench import histories


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def binder():
    return made(*full.clinic())


def with_job(**changes) -> tuple:
    """The sample with its one job changed."""
    facts, judgement = sample.clinic()
    unit = facts.units[0]
    unit = replace(unit, jobs=(replace(unit.jobs[0], **changes),))
    return replace(facts, units=(unit, facts.units[1])), judgement


# ------------------------------------------------------------------------------------------------ visits


def test_each_visit_is_one_row_that_leads_to_its_record(binder):
    block = table(section(binder, "unit-1-service"), "Service visits")
    (row,) = block.rows
    assert [cell.text for cell in row[:5]] == [
        "4 Mar 2026",
        "planned\n1 of 5 tasks done\n2 parts\nclass: routine",
        "Tomasz Gładyś\nFjord Sterilizer Service (invented)",
        "pass: V1, V5\nnot applicable: V2",
        "released\nreleased: Tomasz Gładyś, technician\nreturned to use: Ilse Brandt, responsible person",
    ]
    assert row[0].to == row[6].to == "unit-1-job-1" and row[6].page == ""


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"conclusion": None}, "not concluded by the end of the period"),
        ({"signatures": ()}, "no signature on record"),
    ],
)
def test_a_visit_without_an_end_or_a_signature_says_so(changes, says):
    block = table(section(made(*with_job(**changes)), "unit-1-service"), "Service visits")
    assert says in column(block, "Conclusion, signatures")[0]


@pytest.mark.parametrize(
    ("lower", "upper", "found", "left", "outside"),
    [
        ("134", "137", "134", "137", False),
        ("134", "137", "133.9", "135", True),
        ("134", "137", "135", "137.1", True),
        (None, "0.13", None, "0.13", False),
        (None, "0.13", None, "0.131", True),
        (None, None, "1", "99", False),
    ],
)
def test_a_reading_at_its_limit_is_inside(lower, upper, found, left, outside):
    low, high, first, last = (None if v is None else Decimal(v) for v in (lower, upper, found, left))
    reading = f.ReadingFact(
        full.rows().row(date(2026, 3, 4)), "temperature", "°C", "drain", first, last, low, high, "", "T1", None
    )
    binder = made(*with_job(readings=(reading,)))
    block = next(b for b in section(binder, "unit-1-parts").blocks if "outside" in b.caption)
    assert bool(block.rows) is outside
    if not outside:
        assert block.empty == "Readings outside their limits: none; 1 reading in the period."


def test_parts_stand_under_their_position_with_the_page_of_their_job(binder):
    block = table(section(binder, "unit-1-parts"), "Parts by position")
    assert column(block, "Position") == ["cassette seal", "whole unit"]
    assert [row[6].to for row in block.rows] == ["unit-1-job-1"] * 2
    assert block.rows[0][6].page == block.rows[0][5].text


def test_a_unit_without_visits_has_a_sentence_and_no_table_of_parts(binder):
    assert table(section(binder, "unit-2-service"), "Service visits").empty == (
        "Service visits in the period: no record found."
    )
    assert not any(each.id == "unit-2-parts" for each in binder.sections)


# ------------------------------------------------------------------------------------------------ people


def test_people_are_named_with_what_they_did_and_what_is_on_file_of_them(binder):
    block = table(section(binder, "people"), "People named in the records of the period")
    rows = {row[0].text: [cell.text for cell in row[1:4]] for row in block.rows}
    assert list(rows) == ["Ida Lund", "Ilse Brandt", "Tomasz Gładyś"]
    assert rows["Ida Lund"] == [
        "51 spore tests read\n58 user checks signed",
        "3 Jun 2025 to\n26 May 2026",
        "on file, none that holds on this day",
    ]
    assert rows["Tomasz Gładyś"] == [
        "1 service job\n1 signature on a job", "4 Mar 2026", "Small steam sterilizers, no end stated",
    ]  # fmt: skip


def test_a_name_without_a_credential_says_so():
    block = table(section(made(*sample.clinic()), "people"), "People named in the records of the period")
    assert set(column(block, "Training and licences on the day of the answer")) == {"no record found under this name"}


# ------------------------------------------------------------------------------------------------ rules, ledgers


def terms(on: date, regime: str) -> f.TermsFact:
    row = histories.Log(regime).row(on)
    return f.TermsFact(row, on, "Example (invented)", "dental", "", "UTC", 0, regime)


def test_rules_are_told_for_each_stretch_of_the_period_in_its_edition():
    """Adopted from a day on; an edition from the day it is in force. Both ends inclusive."""
    known = all_regimes()
    old, new = known["us-dental-cdc-2003"], known["us-healthcare-cdc-2008"]
    facts = f.ClinicFacts(
        "c", "c", (terms(date(2025, 1, 1), old.id), terms(date(2025, 7, 1), new.id), terms(date(2025, 9, 1), "gone"))
    )
    told = rules_followed(facts, date(2024, 12, 1), date(2025, 12, 31))
    assert [(r.id, r.first, r.last) for r in told] == [
        (old.id, date(2025, 1, 1), date(2025, 6, 30)),
        (new.id, date(2025, 7, 1), date(2025, 8, 31)),
        ("gone", date(2025, 9, 1), date(2025, 12, 31)),
    ]
    assert [(r.edition, r.valid_from) for r in told] == [
        (old.edition, old.valid_from), (new.edition, new.valid_from), ("", None),
    ]  # fmt: skip


def test_an_edition_that_comes_into_force_within_the_period_begins_a_stretch():
    known = all_regimes()["us-dental-cdc-2003"]
    later = replace(known, edition="later", valid_from=date(2025, 4, 1), earlier=(known,))
    facts = f.ClinicFacts("c", "c", (terms(date(2025, 1, 1), known.id),))
    told = rules_followed(facts, date(2025, 2, 1), date(2025, 5, 1), {known.id: later})
    assert [(r.edition, r.first, r.last) for r in told] == [
        (known.edition, date(2025, 2, 1), date(2025, 3, 31)),
        ("later", date(2025, 4, 1), date(2025, 5, 1)),
    ]


def test_terms_written_again_with_the_same_rules_are_one_stretch():
    facts = f.ClinicFacts("c", "c", (terms(date(2025, 1, 1), "base"), terms(date(2025, 3, 1), "base")))
    told = rules_followed(facts, date(2025, 1, 1), date(2025, 3, 31))
    assert [(r.first, r.last) for r in told] == [(date(2025, 1, 1), date(2025, 3, 31))]


def test_rules_in_the_binder_are_those_printed_in_the_method(binder):
    assert [(r.id, r.edition, r.valid_from) for r in binder.rules] == [("invented-dental", "", None)]
    block = table(section(binder, "method-rules"), "Rules followed in the period")
    assert [[cell.text for cell in row] for row in block.rows] == [
        ["1 Jun 2025 to 31 May 2026", "invented-dental", "not on file", "not on file"]
    ]


def test_without_heads_given_those_of_the_facts_are_printed(binder):
    facts, _ = sample.clinic()
    (head,) = binder.heads
    assert (head.organisation, head.number, head.hash) == (facts.ref, facts.heads[0].number, facts.heads[0].hash)
    assert head.hash in words(section(binder, "cover")) and head.hash in words(section(binder, "method"))


def test_every_section_without_rows_is_words_and_no_table_of_nothing(binder):
    """A table without rows prints its sentence: none of them is blank."""
    empty = [b for each in binder.sections for b in each.blocks if isinstance(b, Table) and not b.rows]
    assert len(empty) > 5
    assert all(block.empty.endswith(".") for block in empty)


# Tables whose rows are words about rules, files and ledgers, or that lead to the section that names the rows.
WITHOUT_ROWS = {
    "Every question": "leads to each answer, which names them",
    "Attached papers": "names them",
    "Tamper check": "ledgers, not rows",
    "Rules followed in the period": "rules",
    "How long records are kept by these rules": "rules",
    "Sources behind the answers": "sources",
    "Rules to be confirmed": "rules",
    "What the tests say": "counts the duties of the table above it",
}
NAMED = {"Rows", "Entries"}


def test_every_table_names_the_rows_it_rests_on_or_leads_to_where_they_are(binder):
    """A column of rows, a page, or one of the few tables that rest on no row."""
    bare = {
        (each.id, block.caption)
        for each in binder.sections
        for block in each.blocks
        if isinstance(block, Table) and block.rows
        if not {column.title for column in block.columns} & {*NAMED, "Page"} and block.caption not in WITHOUT_ROWS
    }
    assert bare == {("unit-1-coverage", "From 1 Jun 2025 to 31 May 2026, both included")}


def test_counted_duties_lead_to_where_their_rows_stand():
    """Where the period is counted by itself, each duty leads to its tests, checks, visits or papers."""
    from audit.judge.evaluate import coverage_over, evaluate

    facts = histories.clinic(histories.unit(years=1, visits=2, loads=100, daily=True, failures=0))
    first = date(2025, 9, 1)
    binder = binder_contents(
        facts, evaluate(facts, histories.LAST), from_on=first, to_on=histories.LAST,
        coverage=coverage_over(facts, histories.LAST, first, histories.LAST),
    )  # fmt: skip
    counts = next(b for b in section(binder, "unit-1-coverage").blocks if isinstance(b, Table))
    leads = {row[0].text.split("\n")[0]: row[0].to for row in counts.rows}
    assert leads["Spore test (biological indicator)"] == "indicators-1"
    ids = {each.id for each in binder.sections}
    assert all(to in ids for to in leads.values())


def test_a_unit_that_was_moved_tells_where_it_stood_before():
    facts, judgement = sample.clinic()
    unit = facts.units[0]
    row = full.rows().row(date(2026, 1, 12))
    moved = f.PlacementFact(row, date(2026, 1, 12), "Store", "stored as spare")
    unit = replace(unit, placements=(moved, *unit.placements))
    block = section(made(replace(facts, units=(unit, facts.units[1])), judgement), "unit-1").blocks[0]
    told = {key: cell.text for key, cell in block.pairs}
    assert told["Room"] == "Store, stored as spare since 12 Jan 2026"
    assert told["Before that"].startswith("Room 2, in use from 4 Mar 2024 [")
