"""One fact, one telling: what an answer counts is what the tables of the same binder list."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from audit.binder.contents import binder_contents
from audit.binder.cover import open_findings
from audit.binder.not_asked import TITLE
from audit.binder.open_on_first_page import open_lines
from audit.binder.scope import scope
from audit.binder.sections import Table, to_json
from audit.facts.dates import add_months
from audit.judge.answers import not_asked_of
from audit.judge.evaluate import evaluate_under
from audit.judge.judgement import Severity
from audit.regimes import load_regime
from tests.fact_builders import (
    air,
    bio,
    clinic,
    credential,
    document,
    job,
    leak,
    load,
    look,
    on,
    unit,
    user_check,
    weekly,
)

AS_OF = date(2025, 6, 27)
PEOPLE = "People named in the records of the period"


def by(name, fact, **more):
    """The fact, logged by somebody of that name."""
    return replace(fact, row=replace(fact.row, logged_by=name), **more)


def run_by(run, read, day="2025-06-10"):
    return replace(bio(day, replace(look("2025-06-11"), read_by=read)), run_by=run)


TRAINED = {"credentials": (credential("2025-01-10", person="A. User"),)}
HISTORIES = {
    "one who ran a test, another who read it": {"bio_tests": (run_by("A. User", "B. Reader"),)},
    "one who only puts loads in": {
        "loads": (
            by("A. User", load("2025-06-10", "1"), loaded_by="C. Loader"),
            by("A. User", load("2025-06-11", "2")),
        )
    },
    "one who decides about loads": {
        "loads": (
            replace(
                by("A. User", load("2025-06-10", "1")),
                released_row=replace(load("2025-06-10", "1").row, logged_by="D. Decider"),
            ),
        )
    },
    "other tests and checks": {
        "air_removal": (by("E. Air", air("2025-06-10")),),
        "leaks": (by("F. Leak", leak("2025-06-10")),),
        "checks": (replace(user_check("2025-06-10"), signed_by="G. Signer"),),
    },
    "nobody but who is trained": {"loads": (by("A. User", load("2025-06-10", "1")),)},
}


def binder_of(*units, from_on="2024-06-27", **place):
    facts = clinic(*units, **place)
    judgement = evaluate_under(facts, load_regime("us-dental-cdc-2003"), AS_OF)
    made = binder_contents(facts, judgement, from_on=on(from_on), to_on=AS_OF)
    return made, judgement, facts


def table(binder, caption):
    found = (b for s in binder.sections for b in s.blocks if isinstance(b, Table) and b.caption == caption)
    return next(found)


@pytest.mark.parametrize("history", HISTORIES)
def test_the_people_an_answer_counts_are_those_that_the_table_lists(history):
    binder, judgement, _ = binder_of(
        unit(**HISTORIES[history]), from_on=add_months(AS_OF, -12).isoformat(), **TRAINED
    )
    (answer,) = (a for a in judgement.answers if a.id == "people-trained")
    listed = {row[0].text for row in table(binder, PEOPLE).rows}
    counted = int(re.search(r"of (\d+) (?:person|people) on record", answer.words).group(1))
    assert counted == len(listed | {"A. User"})
    untrained = set(re.findall(r"([A-Z]\. \w+) \(no training on record\)", answer.gap))
    assert untrained == listed - {"A. User"}


@pytest.mark.parametrize("from_on", ["2024-06-27", "2025-01-01", "2025-06-20", "2025-06-27"])
def test_the_spore_tests_of_the_list_and_those_before_it_are_those_that_the_answer_counts(from_on):
    tested = weekly("2024-06-03", "2025-06-25")
    binder, judgement, _ = binder_of(unit(bio_tests=tested), from_on=from_on)
    title = next(s.title for s in binder.sections if s.title.startswith("Spore tests (biological indicator)"))
    (answer,) = (a for a in judgement.answers if a.id == "last-spore-test")
    assert sum(map(int, re.findall(r"\d+", title))) == len(tested)
    assert f"{len(tested)} with a result on record" in answer.words


def test_what_is_not_asked_is_told_alike_in_the_pages_the_data_and_the_judgement():
    paper = document("pressure examination", "2025-01-15", "2027-01-14", unit="unit-1")
    binder, judgement, facts = binder_of(unit(documents=(paper,)))
    judged = not_asked_of(facts, judgement)
    assert [one.subject for one in binder.not_asked] == [one.subject for one in judged]
    printed = [row[0].text for row in table(binder, TITLE).rows if len(row) == 2]
    data = to_json(binder)["not_asked"]
    assert len(data) == len(judged) > 20
    for one, told in zip(judged, data, strict=True):
        (row,) = [text for text in printed if text.startswith(f"{one.subject} (")]
        assert row == f"{one.subject} ({told['told']})"
        assert (" (none: " in row) != bool(one.held) == bool(told["held"])
    assert any(text.startswith("the report of the pressure examination (") for text in printed)
    assert len(printed) == len(judged)


def test_nothing_that_is_asked_stands_among_what_is_not():
    binder, judgement, _ = binder_of(unit())
    asked = {a.question for a in judgement.answers}
    assert asked and not asked & {one.subject for one in binder.not_asked}
    assert {one.group for one in binder.not_asked} <= {
        "The units", "Spore tests", "After a failure", "Loads", "Service", "Pressure and validation",
        "People and procedures", "Keeping",
    }  # fmt: skip


@pytest.mark.parametrize("units", [1, 2, 5])
def test_the_points_that_have_no_room_on_the_first_page_are_counted_as_the_list_of_open_items_counts_them(units):
    """Alike points of several units share a line of the first page, and a row each in the chapter."""
    alike = [unit(ref=f"unit-{n}", jobs=(job("2025-03-03", signed=False),)) for n in range(units)]
    facts = clinic(*alike)
    judgement = evaluate_under(facts, load_regime("us-dental-cdc-2003"), AS_OF)
    held = scope(facts, judgement, date(2025, 1, 1), AS_OF)
    lines = [line for line in open_lines(held) if line.text.startswith("To put right.")]
    rows = [f for f in open_findings(held) if f.severity is Severity.PUT_RIGHT and "overdue" not in f.message]
    assert sum(line.points for line in lines) == len(rows) >= units
    assert len(lines) <= len(rows)
