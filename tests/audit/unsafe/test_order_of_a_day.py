"""What of one day proves what: where both times are known they decide, else only what the person said of the test."""

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import air, bio, case, leak, look, row, step, user_check, weekly

CDC = "CDC 2003 (MMWR 52 RR-17) VI.F, positive spore test; the order: common practice, no source"
DYNAMIC = {"type": "dynamic air removal", "regime": "us-dental-cdc-2003"}
OLD = TESTED[:-2]  # up to 11 June; the next test is the failure


def grown(day="2025-06-24", at="", **more):
    """A positive test known on its own day, at `at` where it is named."""
    reading = look(day, "growth")
    known = datetime.fromisoformat(f"{day}T{at}+00:00") if at else None
    return bio(day, replace(reading, known_at=known), at=at, **more)


def passed(day="2025-06-24", at="", **more):
    return bio(day, result="pass", known=day, at=at, **more)


def caused(failed, day, at="", action="find cause", kind="biological"):
    done = replace(step(day, action, done=day), done_at=datetime.fromisoformat(f"{day}T{at}+00:00") if at else None)
    return (case(failed.row.origin, failed.row.happened_on, done, kind=kind),)


def recorded(failed, day, at):
    """An inspection without a time of its own, recorded as done at `at`."""
    (held,) = caused(failed, day, kind="air removal")
    (done,) = held.followups
    logged = datetime.fromisoformat(f"{day}T{at}+00:00")
    return (replace(held, followups=(replace(done, row=replace(done.row, logged_at=logged)),)),)


def leaked(day, result="pass", at="", **more):
    fact = leak(day, result)
    moment = datetime.fromisoformat(f"{day}T{at}+00:00") if at else None
    return replace(fact, row=replace(fact.row, happened_at=moment), **more)


def sheet(day, result="pass", at="", **more):
    fact = air(day, result)
    moment = datetime.fromisoformat(f"{day}T{at}+00:00") if at else None
    return replace(fact, row=replace(fact.row, happened_at=moment), **more)


TWICE = (grown("2025-06-16"), grown("2025-06-17", purpose="repeat"))
FOUND = caused(TWICE[0], "2025-06-18", "14:00")


def three(at, *, purpose="routine"):
    """Three negative tests with it empty, the first on the day of the cause."""
    first = passed("2025-06-18", at, chamber="empty", purpose=purpose)
    return (first, *(passed(f"2025-06-{n}", chamber="empty") for n in (19, 20)))


def bios(*tests):
    return {"bio_tests": (*OLD, *tests)}


ROWS = [
    history("failed and passed on one day, no times", CDC, never=PERMITS, **bios(grown(), passed())),
    history("the time of the failure alone", CDC, never=PERMITS, **bios(grown(at="08:00"), passed())),
    history("the time of the pass alone", CDC, never=PERMITS, **bios(grown(), passed(at="15:00"))),
    history("the pass came first by both times", CDC, never=PERMITS, **bios(grown(at="14:00"), passed(at="08:00"))),
    history("both at one moment", CDC, never=PERMITS, **bios(grown(at="14:00"), passed(at="14:00"))),
    history(
        "the pass came later by both times", CDC, word=Word.IN_SERVICE, **bios(grown(at="08:00"), passed(at="14:00"))
    ),
    history("called the repeat, no times", CDC, word=Word.IN_SERVICE, **bios(grown(), passed(purpose="repeat"))),
    history(
        "called the repeat, with times",
        CDC,
        word=Word.IN_SERVICE,
        **bios(grown(at="08:00"), passed(at="14:00", purpose="repeat")),
    ),
    history(
        "called the repeat, run the day before it was known",
        CDC,
        never=PERMITS,
        **bios(grown(), passed("2025-06-23", purpose="repeat")),
    ),
    history(
        "two repeats of one day, one failed and one passed",
        CDC,
        never=PERMITS,
        **bios(grown("2025-06-23"), grown(purpose="repeat"), passed(purpose="repeat")),
    ),
    history(
        "the pass and the failure are the same cycle",
        CDC,
        never=PERMITS,
        **bios(grown(at="08:00", cycle="7"), passed(at="08:05", cycle="7")),
    ),
    history("of a later day", CDC, word=Word.IN_SERVICE, **bios(grown(), passed("2025-06-25"))),
    history(
        "three in a row, the first at 08:00 of the day of the cause at 14:00",
        CDC,
        never=PERMITS,
        cases=FOUND,
        **bios(*TWICE, *three("08:00")),
    ),
    history("the first without a time", CDC, never=PERMITS, cases=FOUND, **bios(*TWICE, *three(""))),
    history(
        "the first at 15:00", CDC, word=Word.IN_SERVICE, cases=FOUND, **bios(*TWICE, *three("15:00"), TESTED[-1])
    ),
    history(
        "the first without a time, called a requalification",
        CDC,
        word=Word.IN_SERVICE,
        cases=FOUND,
        **bios(*TWICE, *three("", purpose="requalification"), TESTED[-1]),
    ),
    history(
        "a failed leak test and a pass of the same day",
        never=PERMITS,
        leaks=(leaked("2025-06-25", "fail"), leaked("2025-06-25")),
        **DYNAMIC,
    ),
    history(
        "the same, called a repeat",
        word=Word.IN_SERVICE,
        leaks=(leaked("2025-06-25", "fail"), leaked("2025-06-25", purpose="repeat")),
        **DYNAMIC,
    ),
    history(
        "the same, by both times",
        word=Word.IN_SERVICE,
        leaks=(leaked("2025-06-25", "fail", "08:00"), leaked("2025-06-25", at="09:00")),
        **DYNAMIC,
    ),
    history(
        "an air-removal test that passed at 08:00 of the day of its inspection at 10:00",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        never=PERMITS,
        air_removal=(failed := sheet("2025-06-23", "fail"), sheet("2025-06-24", at="08:00")),
        cases=caused(failed, "2025-06-24", "10:00", kind="air removal"),
        **DYNAMIC,
    ),
    history(
        "the same at 11:00",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        word=Word.IN_SERVICE,
        air_removal=(failed := sheet("2025-06-23", "fail"), sheet("2025-06-24", at="11:00")),
        cases=caused(failed, "2025-06-24", "10:00", kind="air removal"),
        **DYNAMIC,
    ),
    history(
        "the inspection has no time; the test that passed at 11:00 was run after it was recorded at 10:30",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        word=Word.IN_SERVICE,
        air_removal=(failed := sheet("2025-06-23", "fail"), sheet("2025-06-24", at="11:00")),
        cases=recorded(failed, "2025-06-24", "10:30"),
        **DYNAMIC,
    ),
    history(
        "the same, recorded only at 11:30",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        never=PERMITS,
        air_removal=(failed := sheet("2025-06-23", "fail"), sheet("2025-06-24", at="11:00")),
        cases=recorded(failed, "2025-06-24", "11:30"),
        **DYNAMIC,
    ),
    history(
        "a control test that failed and one called a repeat, on one day",
        word=Word.IN_SERVICE,
        checks=(user_check("2025-06-25", result="fail"), replace(user_check("2025-06-25"), purpose="repeat")),
    ),
    history(
        "a control test that failed between two that passed, on one day without times",
        never=PERMITS,
        checks=(user_check("2025-06-25"), user_check("2025-06-25", result="fail"), user_check("2025-06-25")),
    ),
]


@pytest.mark.parametrize("told", ROWS)
def test_never_usable_by_mistake(told):
    holds(told)


# A follow-up of 8 July without a time, last written at that moment; an air-removal test passed at 7:00 in New York.
@pytest.mark.parametrize(
    ("written", "word"),
    [
        ("2025-07-08T01:00", Word.OUT),  # 21:00 of 7 July there: written as something to do
        ("2025-07-08T03:59", Word.OUT),
        ("2025-07-08T04:00", Word.IN_SERVICE),  # midnight there
        ("2025-07-08T10:59", Word.IN_SERVICE),
        ("2025-07-08T11:01", Word.OUT),  # after the test
    ],
)
def test_the_day_on_which_a_cause_was_recorded_is_the_clinic_s_own(written, word):
    failed = replace(air("2025-07-07", "fail"), row=row("2025-07-07", at="12:00", ref="failed"))
    again = replace(air("2025-07-08"), row=row("2025-07-08", at="11:00"))
    found = step("2025-07-08", "find cause", done="2025-07-08")
    found = replace(found, row=replace(found.row, logged_at=datetime.fromisoformat(f"{written}+00:00")))
    opened = case("failed", "2025-07-07", found, kind="air removal")
    holds(
        history("air", word=word, as_of="2025-07-09", type="dynamic air removal", regime="us-dental-cdc-2003",
                bio_tests=weekly("2025-01-01", "2025-07-09"), air_removal=(failed, again), cases=(opened,),
                jobs=()).values[0]
    )  # fmt: skip
