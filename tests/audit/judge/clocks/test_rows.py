"""What was done for a duty, row by row: what counts, what it is called, and what a test lacks of what is asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.clocks.build import awaited_note
from audit.judge.clocks.rows import lacking, rows_of
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.audit.judge.clock_stories import BASE, a_duty
from tests.fact_builders import (
    air,
    bio,
    clinic,
    conclude,
    document,
    event,
    job,
    leak,
    on,
    outcome,
    part,
    unit,
    user_check,
)

DAY = "2025-03-10"


def facts_of(*, place=None, as_of="2025-06-01", regime=BASE, **facts):
    held = unit("2024-01-08", events=(event("2024-01-08"),), **facts)
    return at(settle(held, clinic(held, regime="base", **(place or {})), regime, on(as_of)), on(as_of)).duty


def told(duty, **facts):
    """Each row: its result, whether it counts, its text."""
    rows = rows_of(facts_of(**facts), duty)
    return [(rows.result(f), rows.counts(f), rows.told(f).text) for f in rows.facts]


def of(subject, **more):
    return replace(a_duty("calendar-week"), subject=subject, **more)


# ------------------------------------------------------------------------------------------------ spore tests

UNKNOWN = "how full the chamber was is not recorded"
LACKS = [
    ({}, {}, ""),
    ({"site": "laboratory"}, {"site": "laboratory"}, ""),
    ({"site": "laboratory"}, {}, "read in the clinic, and a laboratory is asked"),
    ({"chamber": "full"}, {"chamber": "full"}, ""),
    ({"chamber": "full"}, {"chamber": "empty"}, "empty chamber, and a full one is asked"),
    ({"chamber": "empty"}, {"chamber": "full"}, "full chamber, and an empty one is asked"),
    ({"chamber": "full"}, {"chamber": "not stated"}, f"{UNKNOWN}, and a full one is asked"),
    ({"place": "in front"}, {"place": "door side"}, ""),
    ({"place": "in front"}, {"place": " "}, "where in the chamber it lay is not recorded (in front)"),
]  # fmt: skip


@pytest.mark.parametrize(("asks", "test", "lacks"), LACKS)
def test_what_a_spore_test_lacks_of_what_is_asked(asks, test, lacks):
    duty = of("biological", **asks)
    made = bio(DAY, result="pass", **({"chamber": "any"} | test))
    assert lacking(made, duty) == lacks
    ((result, counts, text),) = told(duty, bio_tests=(made,))
    assert (result, counts) == (("invalid", False) if lacks else ("passed", True))
    assert text == f"spore test of {DAY}: passed" + (f"; not as the rules ask: {lacks}" if lacks else "")


def test_a_failed_test_that_lacks_something_has_failed_all_the_same():
    duty = of("biological", chamber="full")
    ((result, counts, _),) = told(duty, bio_tests=(bio(DAY, result="growth", chamber="empty"),))
    assert (result, counts) == ("failed", False)


@pytest.mark.parametrize(
    ("site", "words"), [("clinic", "incubating, awaited by "), ("laboratory", "sent, awaited by ")]
)
def test_a_test_still_awaited_says_until_when(site, words):
    facts = facts_of(bio_tests=(bio("2025-05-31", site=site),))
    rows = rows_of(facts, of("biological"))
    assert awaited_note(facts, rows, rows.facts[0]).startswith(words)
    known = facts_of(bio_tests=(bio("2025-05-31", result="pass", known="2025-05-31"),))
    rows = rows_of(known, of("biological"))
    assert awaited_note(known, rows, rows.facts[0]) == awaited_note(known, rows, None) == ""


# ------------------------------------------------------------------------------------------------ checks


def test_air_removal_and_leak_tests_count_once_they_have_a_result():
    made = (air("2025-03-10"), air("2025-03-11", "fail"), air("2025-03-12", "not done"))
    assert told(of("air removal"), air_removal=made) == [
        ("passed", True, "air-removal test of 2025-03-10: passed"),
        ("failed", True, "air-removal test of 2025-03-11: failed"),
        ("not done", False, "air-removal test of 2025-03-12: not done"),
    ]
    assert [text for _, _, text in told(of("air leak"), leaks=(leak(DAY),))] == [
        "air-leak test of 2025-03-10: passed"
    ]


def test_checks_of_the_kind_count_signed_where_that_is_asked():
    made = (
        user_check("2025-03-10"),
        user_check("2025-03-11", signed=""),
        user_check("2025-03-12", result="fail"),
        user_check("2025-03-13", result="not done"),
        user_check("2025-03-14", "safety check"),
    )
    name = "automatic control of 2025-03"
    cdc = load_regime("us-dental-cdc-2003")
    assert told(of("automatic control", signed=True), checks=made, regime=cdc) == [
        ("passed", True, f"{name}-10: passed"),
        ("invalid", False, f"{name}-11: doesn't count: not signed"),
        ("failed", True, f"{name}-12: failed"),
        ("not done", False, f"{name}-13: not done"),
    ]
    unsigned = told(of("automatic control"), checks=made, regime=cdc)
    assert [counts for _, counts, _ in unsigned] == [True, True, True, False]
    assert [result for result, *_ in unsigned] == ["passed", "passed", "failed", "not done"]
    kept = replace(cdc, failure=tuple(replace(p, withdraws=False) for p in cdc.failure))
    assert not told(of("automatic control"), checks=made, regime=kept)[2][1]
    free = replace(cdc, failure=())  # a failure stops nothing there: then having tested is not enough
    found = told(of("automatic control"), checks=made, regime=free)
    assert [(result, counts) for result, counts, _ in found][2] == ("failed", False)


# ------------------------------------------------------------------------------------------------ work and papers

WORK = {"outcomes": (outcome(DAY),)}
SERVICED = [
    (job(DAY, **WORK), ("passed", True, "done")),
    (job(DAY, parts=(part(DAY),)), ("passed", True, "done")),
    (job(DAY, parts=(part(DAY, action="found in place"),)), ("not done", False, "not done")),
    (job(DAY, outcomes=(outcome(DAY, what="not due"),)), ("not done", False, "not done")),
    (job(DAY, outcomes=(outcome(DAY, what="not due"), outcome(DAY))), ("passed", True, "done")),
    (job(DAY, end="not released", **WORK), ("failed", True, "done, not released")),
    (job(DAY, end="not worked on", **WORK), ("not done", False, "not done")),
    (job(DAY, end="", **WORK), ("not done", False, "not done")),
    (job(DAY, conclusion=conclude(DAY, "limited"), **WORK), ("passed", True, "done")),
]


@pytest.mark.parametrize(("made", "said"), SERVICED)
def test_what_is_servicing(made, said):
    result, counts, words = said
    assert told(of("servicing"), jobs=(made,)) == [(result, counts, f"servicing of {DAY}: {words}")]


def paper(kind="validation report", first=DAY, last=None, unit=""):
    return document(kind, first, last, unit=unit)


def titles(subject, *, own=(), place=(), as_of="2025-06-01"):
    found = told(of(subject), documents=own, place={"documents": place}, as_of=as_of)
    return [text for _, _, text in found]


def test_whose_paper_answers_a_duty():
    word = "validation report of 2025-03-10"
    assert titles("validation report", own=(paper(),)) == [word]
    assert titles("validation report", place=(paper(unit="unit-1"),)) == [word]
    assert titles("validation report", place=(paper(unit="unit-2"),)) == []
    assert titles("validation report", place=(paper(),)) == []
    assert titles("validation report", place=(paper("insurance", unit="unit-1"),)) == []
    assert titles("instructions", place=(paper("instructions"),)) == ["instructions of 2025-03-10"]
    assert titles("validation report", own=(paper("insurance"),)) == []


def test_a_paper_counts_from_its_first_day_in_the_order_of_these():
    later = replace(paper(first="2025-03-10", last="2026-03-09"), valid_from=on("2025-05-01"))
    assert titles("validation report", own=(later, paper(first="2025-03-20"))) == [
        "validation report of 2025-03-20",
        "validation report of 2025-05-01, valid until 2026-03-09",
    ]
    assert titles("validation report", own=(later,), as_of="2025-04-30") == []
    assert len(titles("validation report", own=(later,), as_of="2025-05-01")) == 1


# ------------------------------------------------------------------------------------------------ by day


def test_both_ends_of_a_stretch_are_inside():
    duty = of("air removal")
    rows = rows_of(facts_of(air_removal=(air("2025-03-10"), air("2025-03-11", "not done"), air("2025-03-12"))), duty)
    first, last = on("2025-03-10"), on("2025-03-12")
    assert [rows.day(f).day for f in rows.within(first, last)] == [10, 11, 12]
    assert [rows.day(f).day for f in rows.counting(first, last)] == [10, 12]
    assert [k.result for k in rows.kept(on("2025-03-11"), last)] == ["not done", "passed"]
    assert rows.day(rows.last()).day == 12 and rows.day(rows.last(on("2025-03-11"))).day == 10
    assert rows.last(on("2025-03-09")) is None
