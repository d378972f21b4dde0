"""What is signed on the day of the proof, what is recalled, and who was told: the edges of each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from audit.regimes.model import NoticeRule
from audit.regimes.source import Source
from tests.fact_builders import air, bio, event, load, row, step, user_check

from ..said_of_failures import cases, one_case, path_of, run

FAILED = "2025-03-10 growth"


def moment(day, time):
    return datetime.fromisoformat(f"{day}T{time}+00:00") if time else None


def read(line, time="", **more):
    """A spore test known on its own day, at the time where one is given."""
    made = run(line, **more)
    return replace(made, readings=tuple(replace(r, known_at=moment(r.known_on, time)) for r in made.readings))


def done(day, action="return", time="", **more):
    return replace(step(day, action, done=day, **more), done_at=moment(day, time))


# ------------------------------------------------------------------------------------------------ the return

# When it was signed, when the result of the repeat was known, whether that is the return.
SIGNED = [
    ("2025-03-10", "13:00", "12:00", False),
    ("2025-03-11", "11:00", "12:00", False),
    ("2025-03-11", "12:00", "12:00", True),
    ("2025-03-11", "13:00", "12:00", True),
    ("2025-03-11", "", "12:00", True),
    ("2025-03-11", "11:00", "", True),
    ("2025-03-12", "08:00", "12:00", True),
]


@pytest.mark.parametrize(("day", "signed", "known", "counts"), SIGNED)
def test_a_return_signed_before_the_proof_is_none(day, signed, known, counts):
    """By the times where both are known. Common practice, no source."""
    lines = [FAILED, read("2025-03-11 pass", known)]
    said = one_case(path_of(), lines, (done(day, time=signed),))
    (told,) = [s for s in said.steps if s.action == "return"]
    assert said.resolved_on == date(2025, 3, 11)
    assert (told.done_on is not None, "that is no return" in told.note) == (counts, not counts)


@pytest.mark.parametrize(("day", "signed", "known", "counts"), SIGNED)
def test_an_event_that_returns_it_before_the_proof_is_none(day, signed, known, counts):
    lines = [FAILED, read("2025-03-11 pass", known)]
    back = replace(event(day, "returned", "mended"), row=row(day, at=signed))
    said = one_case(path_of(), lines, events=(back,))
    (told,) = [s for s in said.steps if s.action == "return"]
    assert ([e.ref for e in told.evidence] == [back.row.ref]) is counts
    assert counts or told.note == "proven by the tests; no return is signed"


@pytest.mark.parametrize(("last", "time", "counts"), [("12:00", "10:00", False), ("12:00", "12:30", True)])
def test_of_two_results_that_prove_it_the_last_one_known_is_the_proof(last, time, counts):
    lines = [FAILED, read("2025-03-11 pass", "09:00", cycle="1"), read("2025-03-11 pass", last, cycle="2")]
    said = one_case(path_of(repeats=2), lines, (done("2025-03-11", time=time),))
    (told,) = [s for s in said.steps if s.action == "return"]
    assert (said.passes, told.done_on is not None) == (2, counts)


def test_of_two_results_that_prove_it_one_without_a_time_leaves_the_order_open():
    lines = [FAILED, read("2025-03-11 pass", "12:00", cycle="1"), read("2025-03-11 pass", cycle="2")]
    said = one_case(path_of(repeats=2), lines, (done("2025-03-11", time="10:00"),))
    assert [s.note for s in said.steps if s.action == "return"] == [""]


# ------------------------------------------------------------------------------------------------ what stops it


def test_where_several_failures_stop_the_unit_it_is_out_from_the_last_of_them():
    loads = tuple(load(f"2025-03-{n}", str(n), mechanical="fail") for n in (10, 12, 14))

    def withdrawn(least):
        said = one_case(path_of("mechanical", withdraws_from=least), [], loads=loads)
        return [s.note for s in said.steps if s.action == "withdraw"]

    assert withdrawn(2) == ["by the rules out of service from 2025-03-12"]
    assert withdrawn(3) == ["by the rules out of service from 2025-03-14"]
    assert withdrawn(4) == withdrawn(0) == []


def test_a_step_of_the_path_to_withdraw_stands_once():
    steps = [s for s in one_case(path_of(), [FAILED]).steps if s.action == "withdraw"]
    assert len(steps) == 1 and "several failed" not in steps[0].title


# ------------------------------------------------------------------------------------------------ recall

AT_ONCE = path_of(recall="at once", recall_words="everything")
REPEAT = path_of(recall="repeat failed", recall_words="everything")
ALWAYS = "implants are always recalled"


def implant(day, cycle=""):
    return load(day, cycle, True)


def test_rules_that_ask_no_recall_ask_none_whatever_else_of_the_cycle_failed():
    grown = bio("2025-03-10", result="growth", known="2025-03-10", mechanical="fail")
    assert one_case(path_of(recall="none stated"), [grown]).recall.startswith("none to recall under these rules")


def test_what_is_said_before_the_repeat_in_the_words_of_the_kind():
    assert one_case(REPEAT, [FAILED]).recall.startswith("none needed: unless the repeat is positive too")
    checks = (user_check("2025-03-10", result="fail"),)
    other = path_of("automatic control", recall="repeat failed")
    assert one_case(other, [], checks=checks).recall.startswith("none needed: unless the repeat fails too")


@pytest.mark.parametrize(("words", "said"), [("", ALWAYS), ("each implant", "each implant")])
def test_implants_are_recalled_in_the_words_of_the_rules_or_else_in_plain_ones(words, said):
    """CDC 2008 recommendation 16: objects other than implants need not be recalled."""
    grown, loads = bio("2025-03-10", result="growth", known="2025-03-10", cycle="40"), (implant("2025-03-10", "40"),)
    for path in (path_of(implant_words=words), replace(AT_ONCE, implant_words=words)):
        assert f"{said}; implant loads: cycle 40 of 2025-03-10" in one_case(path, [grown], loads=loads).recall


def test_the_cycle_of_an_air_removal_test_holds_no_implants():
    """Its number and day may be those of a load that was logged with it; what it shows is not of goods."""
    failed = replace(air("2025-03-10", "fail"), cycle_number="7")
    more = {"air_removal": (failed,), "loads": (implant("2025-03-10", "7"),), "type": "dynamic air removal"}
    for recall in ("at once", "none stated"):
        assert "implant" not in one_case(path_of("air removal", recall=recall, implant_words=""), [], **more).recall


@pytest.mark.parametrize(
    ("number", "other", "named"),
    [
        ("5", ("2025-03-10", "5"), True),
        ("5", ("2025-03-10", "6"), False),
        ("5", ("2025-03-11", "5"), False),
        ("5", ("2025-03-09", "5"), False),
        ("", ("2025-03-10", ""), False),
    ],
)
def test_after_a_failure_of_gauges_the_implants_of_that_cycle_alone_are_recalled(number, other, named):
    failed = bio("2025-03-10", result="pass", known="2025-03-11", cycle=number, mechanical="fail")
    said = one_case(path_of("mechanical"), [failed], loads=(implant(*other),)).recall
    assert said.startswith("recall implants") is named and ("implant loads" in said) is named


@pytest.mark.parametrize(("cycle", "always"), [("40", True), ("41", False), ("", False)])
def test_a_recall_of_all_says_so_of_implants_where_the_failed_cycle_held_one(cycle, always):
    grown = bio("2025-03-10", result="growth", known="2025-03-10", cycle="40")
    said = one_case(AT_ONCE, [grown], loads=(implant("2025-03-10", cycle), load("2025-03-10", "40"))).recall
    assert (f"; {AT_ONCE.implant_words or ALWAYS}" in said) is always and "implant loads: " in said


def test_a_recall_of_all_without_an_implant_says_nothing_of_them():
    grown = bio("2025-03-10", result="growth", known="2025-03-10", cycle="40")
    assert "implant" not in one_case(AT_ONCE, [grown], loads=(load("2025-03-10", "40"),)).recall


def test_one_failed_cycle_with_an_implant_among_several_is_enough():
    grown = bio("2025-03-10", result="growth", known="2025-03-10", cycle="40", implant=True)
    said = one_case(AT_ONCE, [grown, "2025-03-11 growth"]).recall
    assert f"; {AT_ONCE.implant_words or ALWAYS}" in said and said.endswith("implant loads: cycle 40 of 2025-03-10")


def test_why_nothing_shows_that_the_unit_worked_is_said_only_where_that_decides():
    """CDC 2003 (MMWR 52 RR-17), narrative: the recall rests on it where a repeat has not failed."""
    grown = bio("2025-03-10", result="growth", known="2025-03-10", mechanical="not recorded")
    why = "the mechanical result of the failed cycle is not recorded"
    assert one_case(REPEAT, [grown]).recall.endswith(why)
    assert why not in one_case(AT_ONCE, [grown]).recall
    assert why not in one_case(replace(REPEAT, return_passes=1), [grown, "2025-03-11 growth"]).recall


CONFINES = path_of(recall="at once", recall_words="everything", unless_confined=True)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (done("2025-03-10", "confine", outcome="wrong tray"), "confined to it, 2025-03-10 (wrong tray)"),
        (done("2025-03-10", "confine"), "confined to it, 2025-03-10 (confine)"),
        (step("2025-03-10", "confine", due="2025-03-12"), "everything"),
        (done("2025-03-10", "review"), "everything"),
    ],
)
def test_only_a_cause_that_was_confined_narrows_the_recall(told, words):
    assert words in one_case(CONFINES, [FAILED], (told,)).recall


# ------------------------------------------------------------------------------------------------ notices

SOURCE = Source("as named beside the test")
DAYS = NoticeRule("the health authority", 1, "business days", "US-MT", "always", SOURCE)  # ARM 37.112.131
HOURS = NoticeRule("the health authority", 24, "hours", "", "always", SOURCE)  # N.J.A.C. 8:27-5.4


def notice(rule, lines, *steps):
    said = one_case(path_of(notices=(rule,)), lines, steps, as_of=date(2025, 3, 14))
    return next(s for s in said.steps if s.title == f"Tell {rule.who}")


@pytest.mark.parametrize(
    ("within", "measure", "words"),
    [
        (0, "business days", "the same day"),
        (1, "business days", "within 1 business day"),
        (2, "business days", "within 2 business days"),
        (24, "hours", "within 24 hours"),
    ],
)
def test_a_deadline_in_words(within, measure, words):
    rule = replace(DAYS, within=within, measure=measure)
    assert f"({words} from 2025-03-13)" in notice(rule, ["2025-03-13 growth"]).note


def test_one_call_that_names_nobody_answers_the_only_notice_and_two_do_not():
    call = done("2025-03-13", "notify", outcome="called")
    assert notice(DAYS, ["2025-03-13 growth"], call).state == "done"
    assert notice(DAYS, ["2025-03-13 growth"], call, done("2025-03-13", "notify", outcome="wrote")).state == "open"


def test_the_first_of_several_calls_counts():
    calls = [done(f"2025-03-{n}", "notify", outcome="the health authority knows") for n in (14, 13)]
    told = notice(DAYS, ["2025-03-12 growth"], *calls)
    assert (told.state, told.done_on) == ("done", date(2025, 3, 13))


@pytest.mark.parametrize(
    ("rule", "known", "told", "state"),
    [
        (DAYS, "08:00", ("2025-03-11", "20:00"), "done"),  # 36 hours, and one business day
        (HOURS, "08:00", ("2025-03-11", "20:00"), "late"),
        (HOURS, "08:00", ("2025-03-11", "08:00"), "done"),
        (HOURS, "08:00", ("2025-03-11", ""), "done"),  # in whole days
        (HOURS, "", ("2025-03-11", "20:00"), "done"),
        (HOURS, "", ("2025-03-12", "20:00"), "late"),
    ],
)
def test_the_clock_decides_where_hours_are_asked_and_both_times_are_known(rule, known, told, state):
    lines = [read(FAILED, known)]
    assert notice(rule, lines, done(told[0], "notify", told[1])).state == state


# ------------------------------------------------------------------------------------------------ further failures


def test_a_further_failure_that_the_proof_answers_opens_no_case_and_one_of_another_type_does():
    path = path_of(same_cycle_type=True)
    lines = [FAILED, "2025-03-10 growth", "2025-03-11 pass"]
    assert len(cases(path, lines)) == 1
    other = cases(path, [FAILED, "2025-03-10 growth open", "2025-03-11 pass"])
    assert sorted((str(c.resolved_on), len(c.evidence)) for c in other) == [("2025-03-11", 1), ("None", 1)]


def test_a_later_failure_of_another_type_keeps_its_own_case_once_the_first_is_proven():
    path = path_of(same_cycle_type=True)
    said = cases(path, [FAILED, "2025-03-11 growth open", "2025-03-12 pass"])
    assert [(c.resolved_on is not None, len(c.evidence)) for c in said] == [(False, 1), (True, 1)]


def test_a_failure_stands_in_one_case_alone():
    path = path_of(same_cycle_type=True, return_passes=1, return_each_cycle_type=True)
    said = cases(path, [FAILED, "2025-03-10 growth open", "2025-03-11 growth"])
    assert sorted(len(c.evidence) for c in said) == [1, 2]


@pytest.mark.parametrize(
    ("cycle", "at", "good", "named"),
    [
        ("3", "", "3", False),
        ("4", "09:00", "3", False),
        ("4", "11:00", "3", True),
        ("4", "", "3", True),  # by the numbers it came after
        ("2", "", "3", False),
        ("", "", "", True),
        ("", "", "3", True),
    ],
)
def test_of_the_day_of_the_last_negative_test_a_load_counts_unless_it_is_shown_to_lie_before(cycle, at, good, named):
    last = bio("2025-03-08", result="pass", known="2025-03-08", cycle=good, at="10:00")
    loads = (load("2025-03-08", cycle, True, at=at),)
    assert ("implant loads" in one_case(REPEAT, [last, FAILED], loads=loads).recall) is named
