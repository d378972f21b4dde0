"""Since when a unit is in service: what ended last, each kind of it alone. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import LocalDutyFact
from audit.judge.clocks.hours import known_since
from audit.judge.judgement import Word
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.audit.unsafe.table import BEGUN, TESTED, history
from tests.audit.unsafe.test_unknown_use import TORONTO, three
from tests.fact_builders import bio, clinic, counter, document, event, load, on, row, unit

FLORIDA = "us-fl-dental"
EARLY = on("2020-01-01")


def since(as_of="2025-06-27", **facts):
    said = history("since", word=Word.IN_SERVICE, as_of=as_of, **facts).values[0].judged().standing
    assert said.word is Word.IN_SERVICE, said.reason
    return str(said.since)


def own(duty, every, count):
    return {"local_duties": (LocalDutyFact(row("2020-01-01"), EARLY, duty, every, count, "invented"),)}


# ------------------------------------------------------------------------------------------------ papers


@pytest.mark.parametrize(("events", "first", "said"), [
    ((), "2025-03-03", "2025-03-03"),  # without an installation there was no evidence until then
    ((BEGUN,), "2025-03-03", "2025-01-01"),  # from an installation on it is due a year later
])  # fmt: skip
def test_a_first_paper_begins_it_where_there_was_no_evidence(events, first, said):
    paper = (document("pressure examination", first, unit="unit-1"),)
    tests = (bio("2024-12-31", result="pass", known="2024-12-31"), *TESTED)
    facts = {"events": events, "day": "2025-01-01", "documents": paper, "bio_tests": tests if events else tests}
    assert since(place=own("pressure-examination", "rolling-months", 12), **facts) == said


# ------------------------------------------------------------------------------------------------ events


def moved(*, proven, loads=()):
    """Moved on 20 June; three passes in a row on the day `proven` (Toronto Public Health, BodySafe)."""
    tests = [replace(t, row=row(str(on(proven)))) if str(t.row.happened_on) == "2025-06-23" else t for t in three()]
    tests = [
        replace(t, readings=tuple(replace(r, row=row(proven), known_on=on(proven)) for r in t.readings))
        if t.row.happened_on == on(proven) else t for t in tests
    ]  # fmt: skip
    used = tuple(load(f"2025-{m:02}-{d:02}") for m in range(1, 7) for d in range(2, 20, 4))
    return {"regime": TORONTO, "bio_tests": tuple(tests), "loads": (*used, *loads),
            "events": (BEGUN, event("2025-06-20", "relocated"))}  # fmt: skip


@pytest.mark.parametrize("proven", ["2025-06-21", "2025-06-24"])
@pytest.mark.parametrize("used", [(), (load("2025-06-21", "L1"),)])
def test_an_event_that_forbade_use_ends_with_its_tests(proven, used):
    assert since(**moved(proven=proven, loads=used)) == proven


# ------------------------------------------------------------------------------------------------ weeks


@pytest.mark.parametrize("between", [(), (bio("2025-06-11", result="invalid", known="2025-06-11"),)])
def test_a_week_in_which_nothing_counted_ends_with_the_next_test(between):
    tests = (*(t for t in TESTED if t.row.happened_on < on("2025-06-09")), *between)
    after = bio("2025-06-17", result="pass", known="2025-06-17")
    assert since(bio_tests=(*tests, after, TESTED[-1])) == "2025-06-17"
    monday = bio("2025-06-16", result="pass", known="2025-06-16")
    assert since(bio_tests=(*tests, monday, TESTED[-1])) == "2025-01-01", "no day was overdue"


# ------------------------------------------------------------------------------------------------ hours


def hours(*told, name="hours"):
    return tuple(counter(day, shown, counter=name) for day, shown in told)


RISING = (("2025-01-10", 10), ("2025-02-10", 20), ("2025-06-20", 60))
KNOWN = [
    # loads, counters, since when the hours are known; the last test was on 1 June
    ((), (), "2025-06-01"),
    ((load("2025-02-03", minutes="30"), load("2025-03-03", minutes="30")), (), "2025-02-03"),
    ((load("2025-02-03", minutes="30"), load("2025-03-03")), (), "2025-06-01"),
    ((load("2025-02-03", minutes="30"),), hours(*RISING, name="cycles"), "2025-02-03"),
    ((), hours(*RISING), "2025-02-10"),  # the first by which a rate was known
    ((), (*hours(*RISING), *hours(("2025-01-05", 1), ("2025-02-06", 9), name="cycles")), "2025-02-10"),
    ((), hours(*RISING[:1]), "2025-06-01"),
    ((), hours(("2025-01-10", 10), ("2025-01-20", 20)), "2025-06-01"),  # too near for a rate
    ((), hours(("2025-01-10", 10), ("2025-02-10", 20), ("2025-06-10", 5)), "2025-06-10"),  # it fell on that day
    ((), hours(("2025-01-10", 10), ("2025-02-10", 20), ("2025-05-10", 5)), "2025-06-01"),
]  # fmt: skip


@pytest.mark.parametrize(("loads", "counters", "day"), KNOWN)
def test_since_when_the_hours_are_known(loads, counters, day):
    held = unit("2025-01-01", events=(BEGUN,), loads=loads, counters=counters)
    facts = at(
        settle(held, clinic(held, regime=FLORIDA), load_regime(FLORIDA), on("2025-06-27")), on("2025-06-27")
    ).duty
    assert str(known_since(facts, on("2025-06-01"))) == day


def test_in_florida_it_is_in_service_since_the_hours_are_known():
    tests = tuple(bio(f"2025-{m:02}-{d:02}", result="pass", known=f"2025-{m:02}-{d:02}") for m in range(1, 7)
                  for d in (1, 15))  # fmt: skip
    facts = {"regime": FLORIDA, "bio_tests": tests}
    assert since(loads=(load("2025-02-03", minutes="30"),), **facts) == "2025-02-03"
    assert since(counters=hours(*RISING), **facts) == "2025-02-10"
    fresh = {"regime": FLORIDA, "bio_tests": (), "events": (event("2025-06-20"),), "as_of": "2025-06-22"}
    assert since(loads=(load("2025-06-21", minutes="30"),), **fresh) == "2025-06-21"
