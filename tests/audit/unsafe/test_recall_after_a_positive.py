"""Recall after a positive test, and the cause after a failed repeat: what ends them and what does not."""

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import air, bio, case, job, load, outcome, part, row, step

NARRATIVE = "CDC 2003 (MMWR 52 RR-17), narrative: if the mechanical and chemical indicators demonstrate that ..."
VI_F = "CDC 2003 (MMWR 52 RR-17) VI.F, positive spore test"
NEHA = "NEHA Body Art Model Code, 3rd edition, 8.11: until repaired and the exact reason found"
OLD = TESTED[:-2]
MODEL = {"regime": "neha-body-art-model"}


def positive(**more):
    return bio("2025-06-16", result="growth", known="2025-06-17", cycle="40", ref="bad", **more)


def negative(day, **more):
    return bio(day, result="pass", known=day, **more)


REPEAT = negative("2025-06-18", purpose="repeat")
AGAIN = bio("2025-06-18", result="growth", known="2025-06-18", purpose="repeat", ref="again")
EMPTY = tuple(negative(f"2025-06-{n}", chamber="empty") for n in (21, 22, 23))


def told(failed, *after, **more):
    return {"bio_tests": (*OLD, failed, *after, TESTED[-1])} | more


def steps(*actions, at=""):
    """A case with these steps done: (action, day)."""
    done = [step(day, action, done=day) for action, day in actions]
    moment = datetime.fromisoformat(f"{actions[0][1]}T{at}+00:00") if at else None
    return {"cases": (case("bad", "2025-06-17", *(replace(s, done_at=moment) for s in done)),)}


def repaired(day, letter="B"):
    return {"jobs": (job(day, tests=("V1", "V4"), reason="breakdown", class_stated=letter, parts=(part(day),)),)}


def inspected(*days):
    return case("sheet", "2025-06-20", *(step(d, "find cause", done=d) for d in days), kind="air removal")


FIRST = replace(air("2025-06-20", "fail"), row=row("2025-06-20", ref="sheet"))
SHEETS = {"air_removal": (FIRST, air("2025-06-22", "fail"), air("2025-06-24")), "type": "dynamic air removal"}

ROWS = [
    history("one negative repeat, all right in both cycles", VI_F, word=Word.IN_SERVICE, **told(positive(), REPEAT)),
    history(
        "gauges of the failed cycle failed too", NARRATIVE, never=PERMITS, **told(positive(mechanical="fail"), REPEAT)
    ),
    history(
        "indicators of the failed cycle failed too",
        NARRATIVE,
        never=PERMITS,
        **told(positive(chemical="fail"), REPEAT),
    ),
    history(
        "the load of the failed cycle says that its gauges failed",
        NARRATIVE,
        never=PERMITS,
        loads=(load("2025-06-16", "40", mechanical="fail"),),
        **told(positive(), REPEAT),
    ),
    history(
        "the load of another cycle says so",
        NARRATIVE,
        word=Word.IN_SERVICE,
        loads=(load("2025-06-16", "41", mechanical="fail"),),
        **told(positive(), REPEAT),
    ),
    history(
        "a malfunction shown and no cause, three negative repeats",
        NARRATIVE,
        never=PERMITS,
        **told(positive(mechanical="fail"), REPEAT, *EMPTY),
    ),
    history(
        "a malfunction shown, the cause found, a negative repeat after it",
        NARRATIVE,
        word=Word.IN_SERVICE,
        **told(positive(mechanical="fail"), negative("2025-06-20")),
        **steps(("find cause", "2025-06-19")),
    ),
    history(
        "a malfunction shown, the cause found only after the repeat",
        NARRATIVE,
        never=PERMITS,
        bio_tests=(*OLD, positive(mechanical="fail"), REPEAT),
        **steps(("find cause", "2025-06-19")),
    ),
    history("a failed repeat and three negative, no cause", VI_F, never=PERMITS, **told(positive(), AGAIN, *EMPTY)),
    history(
        "a failed repeat, the cause, three negative",
        VI_F,
        word=Word.IN_SERVICE,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-19")),
    ),
    history(
        "the cause found on the day the repeat failed",
        VI_F,
        word=Word.IN_SERVICE,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-18")),
    ),
    history(
        "the cause found before the repeat, which refuted it",
        VI_F,
        never=PERMITS,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-17")),
    ),
    history(
        "confined, said on the day the repeat failed: it was not",
        "a cause refuted later is none",
        never=PERMITS,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("confine", "2025-06-18")),
    ),
    history(
        "a repair of class B after the failed repeat",
        VI_F,
        word=Word.IN_SERVICE,
        **told(positive(), AGAIN, *EMPTY),
        **repaired("2025-06-19"),
    ),
    history(
        "a routine part after it is no repair",
        VI_F,
        never=PERMITS,
        **told(positive(), AGAIN, *EMPTY),
        jobs=(job("2025-06-19", parts=(part("2025-06-19"),), outcomes=(outcome("2025-06-19"),)),),
    ),
    history(
        "one of the three after the cause is positive: that cause was none either",
        "a cause refuted later is none",
        never=PERMITS,
        bio_tests=(
            *OLD,
            positive(),
            AGAIN,
            bio("2025-06-20", result="growth", known="2025-06-20", chamber="empty"),
            *EMPTY,
        ),
        **steps(("find cause", "2025-06-19")),
    ),
    history(
        "the same with a new cause after it",
        VI_F,
        word=Word.IN_SERVICE,
        bio_tests=(
            *OLD,
            positive(),
            AGAIN,
            bio("2025-06-20", result="growth", known="2025-06-20", chamber="empty"),
            *EMPTY,
        ),
        **steps(("find cause", "2025-06-19"), ("repair", "2025-06-20")),
    ),
    history(
        "an air-removal test that failed again after its inspection, and then passed",
        "CDC 2008: not used until maintenance has inspected it and it passes; a cause refuted later is none",
        never=PERMITS,
        **SHEETS,
        cases=(inspected("2025-06-21"),),
    ),
    history(
        "the same, inspected again",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        word=Word.IN_SERVICE,
        **SHEETS,
        cases=(inspected("2025-06-21", "2025-06-23"),),
    ),
    history(
        "the reason found, not repaired",
        NEHA,
        never=PERMITS,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-19")),
        **MODEL,
    ),
    history(
        "repaired, the reason not found",
        NEHA,
        never=PERMITS,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("repair", "2025-06-19")),
        **MODEL,
    ),
    history(
        "repaired and the reason found",
        NEHA,
        word=Word.IN_SERVICE,
        **told(positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-19"), ("repair", "2025-06-20")),
        **MODEL,
    ),
    history(
        "repaired after the last test of the row",
        NEHA,
        never=PERMITS,
        bio_tests=(*OLD, positive(), AGAIN, *EMPTY),
        **steps(("find cause", "2025-06-19"), ("repair", "2025-06-24")),
        **MODEL,
    ),
    history(
        "positive in two cycle types, a repeat of one of them",
        VI_F,
        never=PERMITS,
        bio_tests=(
            *OLD,
            positive(),
            bio("2025-06-16", result="growth", known="2025-06-17", cycle_type="open"),
            REPEAT,
        ),
    ),
    history(
        "a second positive, run before the repeat and known after its run",
        "CDC 2003: the repeat is run after the failure was known",
        never=PERMITS,
        bio_tests=(
            *OLD,
            positive(),
            bio("2025-06-17", result="growth", known="2025-06-20"),
            bio("2025-06-18", result="pass", known="2025-06-21", purpose="repeat"),
        ),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def recall_of(**more):
    one = history("as said", opens=("step-open",), **more).values[0]
    return next(c.recall for c in one.judged().cases if c.kind == "biological")


def right(cycle):
    return load("2025-06-16", cycle, mechanical="pass")


ALL, OF_CYCLE = "recall: everything", "result of the failed cycle"


@pytest.mark.parametrize(
    ("results", "loads", "begins", "why"),
    [
        ({}, (), "none needed: the repeat passed", ""),
        ({"mechanical": "not recorded"}, (), ALL, f"the mechanical {OF_CYCLE} is not recorded"),
        ({"chemical": "not recorded"}, (), ALL, f"the chemical {OF_CYCLE} is not recorded"),
        ({"mechanical": "not recorded"}, (right("40"),), "none needed: the repeat passed", ""),
        ({"mechanical": "not recorded"}, (right("41"),), ALL, f"the mechanical {OF_CYCLE} is not recorded"),
        ({"mechanical": "fail"}, (), ALL, f"the mechanical {OF_CYCLE} failed too"),
        ({"chemical": "fail"}, (), ALL, f"the chemical {OF_CYCLE} failed too"),
    ],
)
def test_no_recall_rests_on_the_other_results_of_the_failed_cycle(results, loads, begins, why):
    """CDC 2003 (MMWR 52 RR-17), narrative; not recorded is not shown to be right."""
    said = recall_of(loads=loads, **told(positive(**results), REPEAT))
    assert said.startswith(begins) and why in said
    assert ("after the last negative spore test of 2025-06-11, up to 2025-06-17" in said) is bool(why)


@pytest.mark.parametrize("regime", ["us-dental-cdc-2003", "us-healthcare-cdc-2008", "neha-body-art-model"])
def test_loads_with_implants_are_named_whatever_the_rules_ask_of_others(regime):
    """CDC 2008 recommendation 16: objects other than implants need not be recalled after a single positive test."""
    loads = (load("2025-06-13", "38", True), load("2025-06-17", "", True), load("2025-06-14", "39"))
    said = recall_of(loads=loads, regime=regime, **told(positive(), REPEAT))
    assert said.startswith("recall") and said.endswith("implant loads: cycle 38 of 2025-06-13, 2025-06-17")


def test_a_load_with_an_implant_before_the_last_negative_test_is_not_named():
    loads = (load("2025-06-10", "30", True), load("2025-06-18", "50", True))
    assert "implant loads" not in recall_of(loads=loads, **told(positive(), REPEAT))


def test_what_is_said_where_no_recall_is_asked_reads_well():
    failed = (load("2025-06-26", "44", mechanical="fail"),)
    one = history("as said", opens=("case-open",), loads=failed).values[0].judged()
    (found,) = [f for f in one.findings if f.rule == "case-open"]
    assert found.message.endswith(
        "packs: none to recall under these rules; the load is not used; a person decides about it"
    )
    assert one.cases[0].recall.startswith("none to recall under these rules")
