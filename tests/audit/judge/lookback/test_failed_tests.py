"""What a positive spore test, and a mechanical or penetration failure, put in doubt."""

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.lookback import last_good
from audit.judge.response import cases_of
from audit.judge.situation import settle
from audit.judge.usage import loads_within
from audit.regimes import LookBackRule, load_regime
from audit.regimes.source import Source
from tests.audit.judge.lookback.said import (
    DAY,
    NO_PATHS,
    RULES,
    backs,
    days_in,
    left_out,
    loads,
    of_kind,
    seal,
    taken,
)
from tests.fact_builders import air, bio, case, clinic, counter, event, job, leak, load, on, step, unit, user_check

SPORE, FAILURE = "positive spore test", "mechanical or penetration failure"
GOOD = bio("2025-06-02", result="pass", cycle="10")
WEEK = ("2025-06-01", "2025-06-03", "2025-06-05", "2025-06-07", "2025-06-09")
VACUUM = {"type": "dynamic air removal"}


def only(*args, **more):
    (back,) = backs(*args, **more)
    return back


# ------------------------------------------------------------------------------------------------ positive spore test


def test_everything_since_the_last_negative_spore_test_is_in_doubt():
    """CDC 2003 (MMWR 52 RR-17), VI.F: items "processed since the last negative spore test" (quoted from memory)."""
    back = only(bio_tests=(GOOD, bio("2025-06-05", result="growth", known="2025-06-07")), loads=loads(*WEEK))
    assert (back.kind, str(back.after), str(back.to)) == (SPORE, "2025-06-02", "2025-06-07")
    assert days_in(back) == ["2025-06-03", "2025-06-05", "2025-06-07"]
    assert left_out(back) == {"before the last good proof": 1, "after it was known": 1}
    assert back.evidence[0].text.startswith("spore test of 2025-06-05")


def test_the_rules_say_what_is_asked_and_the_case_which_recall():
    """CDC 2008 rec 16: after a single positive no recall of items other than implants (read as quoted)."""
    facts = {"bio_tests": (GOOD, bio("2025-06-05", result="growth", known="2025-06-07"))}
    said = only(regime="us-healthcare-cdc-2008", **facts)
    assert "none needed" in said.asked and "CDC" in str(said.source)
    rule = LookBackRule(SPORE, "look at each load", Source("invented rule"))
    regime = replace(load_regime(RULES), look_back=(rule,))
    said = only(regime=regime, **facts)
    assert said.asked.startswith("look at each load") and said.source == rule.source


@pytest.mark.parametrize(
    ("actions", "settled"),
    [
        ((), None),
        ((("find cause", "2025-06-08"),), None),
        ((("review", None),), None),
        ((("review", "2025-06-10"),), "2025-06-10"),
        ((("recall packs", "2025-06-12"), ("review", "2025-06-10")), "2025-06-10"),
    ],
)
def test_a_review_or_a_recall_of_packs_settles_it(actions, settled):
    failed = bio("2025-06-05", result="growth", known="2025-06-07")
    steps = [step("2025-06-07", action, done=done) for action, done in actions]
    held = case(failed.row.origin, "2025-06-07", *steps)
    back = only(bio_tests=(GOOD, failed), cases=(held,))
    assert (back.case, back.settled_on and str(back.settled_on)) == (held.row.origin, settled)


def test_where_packs_must_be_recalled_a_review_alone_settles_nothing():
    """CDC 2003 VI.F: after a repeat that is positive too, recall everything since the last negative test."""
    failed = bio("2025-06-05", result="growth", known="2025-06-07")
    again = bio("2025-06-08", result="growth", known="2025-06-09", purpose="repeat")
    for action, settled in (("review", None), ("recall packs", "2025-06-11")):
        held = case(failed.row.origin, "2025-06-07", step("2025-06-07", action, done="2025-06-11"))
        back = only(bio_tests=(GOOD, failed, again), cases=(held,))
        assert (back.settled_on and str(back.settled_on)) == settled
        assert len(back.evidence) == 2 and days_in(back) == []


def test_the_window_starts_before_the_first_run_that_failed_even_if_it_was_known_last():
    early = bio("2025-06-03", result="growth", known="2025-06-12", site="laboratory")
    between = bio("2025-06-04", result="pass", known="2025-06-05")
    late = bio("2025-06-05", result="growth", known="2025-06-06")
    back = only(bio_tests=(GOOD, early, between, late), loads=loads(*WEEK))
    assert (str(back.after), days_in(back)) == ("2025-06-02", ["2025-06-03", "2025-06-05"])


@pytest.mark.parametrize("kind", ["withdrawn", "returned", "decommissioned"])
@pytest.mark.parametrize("day", ["2025-06-03", "2025-06-05", "2025-06-06", "2025-06-07", "2025-06-08"])
def test_no_withdrawal_shortens_the_window_nor_drops_a_load_from_it(day, kind):
    """Common practice, no source: a load that is on record after a withdrawal contradicts it, and is in doubt too."""
    tests = (GOOD, bio("2025-06-05", result="growth", known="2025-06-07"))
    more = {"bio_tests": tests, "loads": (*loads(*WEEK), load("2025-06-06", "20", implant=True))}
    without, back = only(**more), only(events=(event(day, kind),), **more)
    assert (str(back.to), back.loads) == ("2025-06-07", without.loads) and "after it was known" in left_out(back)
    assert any("cycle 20 of 2025-06-06" in e.text for e in back.loads)


def test_loads_of_the_day_of_the_proof():
    """The proof's own cycle is proven; a load that may have come after it is not. Common practice, no source."""
    good = bio("2025-06-02", result="pass", cycle="10", at="10:00")
    day = [
        load("2025-06-02", "10"),
        load("2025-06-02", "9"),  # no time: its number says that it came before
        load("2025-06-02", "11"),
        load("2025-06-02", "", at="09:59"),
        load("2025-06-02", "", at="10:01"),
        load("2025-06-02", "A"),
        load("2025-06-03", "10"),  # the counter began again: another cycle
    ]
    back = only(bio_tests=(good, bio("2025-06-05", result="growth")), loads=tuple(day))
    assert sorted(e.ref for e in back.loads) == sorted(day[n].row.ref for n in (2, 4, 5, 6))
    assert left_out(back) == {"before the last good proof": 2, "the cycle of the last good proof itself": 1}


def test_a_test_that_does_not_count_is_no_proof():
    tests = (GOOD, bio("2025-06-04", result="invalid"), bio("2025-06-05", result="growth"))
    assert str(only(bio_tests=tests).after) == "2025-06-02"
    assert only(bio_tests=tests[1:]).after is None


def test_what_is_not_logged_is_counted_by_the_counter():
    tests = (GOOD, bio("2025-06-05", result="growth", known="2025-06-07"))
    run = loads(*WEEK) + (load("2025-06-02", "10"),)
    counts = (counter("2025-06-02", 100), counter("2025-06-07", 110))
    back = only(bio_tests=tests, loads=run, counters=counts)
    # loads of 3, 5 and 7 June, one of them perhaps the failed test's own cycle, whose number is not known; those of
    # 2 June are in the first reading
    assert (
        back.unlogged
        == "counter rose by 10 from 2025-06-02 to 2025-06-07; 3 cycles logged in that time: 7 not logged"
    )
    assert "not known" in only(bio_tests=tests, loads=run, counters=counts[:1]).unlogged


# ------------------------------------------------------------------------------------------------ penetration


def test_a_mechanical_failure_reaches_back_to_the_last_negative_spore_test():
    """Tazewell County (Illinois) code 99.08(D): "positive biological indicator result or mechanical failure", back
    to "the last negative biological monitor result"."""
    run = loads(*WEEK[:3]) + (load("2025-06-06", "4", mechanical="fail"), load("2025-06-07", "5"))
    for rules in (RULES, "us-healthcare-st79-2017"):
        (back,) = of_kind(FAILURE, bio_tests=(GOOD,), loads=run, regime=rules)
        assert (str(back.after), str(back.to)) == ("2025-06-02", "2025-06-06")
        assert days_in(back) == ["2025-06-03", "2025-06-05", "2025-06-06"]
        assert left_out(back) == {"before the last good proof": 1, "after it was known": 1}


def test_a_mechanical_failure_of_the_cycle_of_a_spore_test_is_not_proven_by_that_test():
    tests = (GOOD, bio("2025-06-05", result="pass", mechanical="fail", cycle="20"))
    (back,) = of_kind(FAILURE, bio_tests=tests, loads=(load("2025-06-05", "20", mechanical="fail"),))
    assert str(back.after) == "2025-06-02" and len(back.evidence) == 2


@pytest.mark.parametrize(
    ("facts", "after"),
    [
        ({"air_removal": (air("2025-06-03"), air("2025-06-06", "fail"))}, "2025-06-03"),
        ({"leaks": (leak("2025-06-04"), leak("2025-06-06", "fail"))}, "2025-06-04"),
        ({"leaks": (leak("2025-06-06", "fail"), air("2025-06-04"))[:1]}, "2025-06-02"),  # none passed: the spore test
        ({"checks": (user_check("2025-06-05"), user_check("2025-06-06", result="fail"))}, "2025-06-05"),
        (
            {
                "checks": (
                    user_check("2025-06-03", cycle_type="wrapped"),
                    user_check("2025-06-05", cycle_type="unwrapped"),
                    user_check("2025-06-06", result="fail", cycle_type="wrapped"),
                )
            },
            "2025-06-03",
        ),
    ],
)
def test_a_failure_reaches_back_to_the_last_pass_of_its_kind(facts, after):
    """Common practice, no source."""
    (back,) = of_kind(FAILURE, unit(bio_tests=(GOOD,), loads=loads(*WEEK), **facts, **VACUUM))
    assert (str(back.after), str(back.to)) == (after, "2025-06-06")
    assert days_in(back) == [d for d in WEEK if after <= d <= "2025-06-06"]  # of the same day: order not known


def test_failures_in_a_row_are_one_look_back_up_to_the_last():
    days = ("2025-06-03", "2025-06-04", "2025-06-06", "2025-06-08", "2025-06-09")
    results = ("pass", "fail", "fail", "pass", "fail")
    checks = tuple(user_check(d, result=r) for d, r in zip(days, results, strict=True))
    said = of_kind(FAILURE, checks=checks, regime=NO_PATHS)
    assert [("and 1 more up to 2025-06-06" in b.trigger, " more" in b.trigger) for b in said] == [
        (False, False),
        (True, True),
    ]
    assert [(str(b.after), str(b.to), len(b.evidence)) for b in said] == [
        ("2025-06-08", "2025-06-09", 1),
        ("2025-06-03", "2025-06-06", 2),
    ]


def told(text):
    """Automatic control tests as "1 pass 08:00 #3": day of June, result, time and cycle where they are known."""
    out = []
    for each in text.split(", "):
        day, result, *more = each.split()
        at = next((w for w in more if ":" in w), "")
        cycle = next((w[1:] for w in more if w[0] == "#"), "")
        out.append(user_check(f"2025-06-{day:0>2}", result=result, at=at, cycle=cycle))
    return tuple(out)


@pytest.mark.parametrize(
    ("results", "windows"),
    [
        # the pass of the day may have come after the failure
        ("3 pass, 3 fail", ["all to 3"]),
        ("1 pass, 3 pass, 3 fail", ["1 to 3"]),
        ("3 pass, 3 fail, 3 pass, 4 fail", ["3 to 4", "all to 3"]),
        ("3 fail, 3 pass, 3 pass, 4 fail", ["3 to 4", "all to 3"]),
        # the pass of the day may have come before or after both failures: they are in a row
        ("1 pass, 3 fail, 3 pass, 3 fail", ["1 to 3"]),
        # what is shown counts: both times, or without them both cycle numbers
        ("3 pass 08:00, 3 fail 09:00, 3 pass, 4 fail", ["3 to 4", "3 to 3"]),
        ("1 pass, 3 pass 08:00, 3 fail 08:00", ["1 to 3"]),
        ("1 pass, 3 pass 09:00, 3 fail 08:00", ["1 to 3"]),
        ("1 pass, 3 pass 08:00, 3 fail", ["1 to 3"]),
        ("1 pass, 3 pass #7, 3 fail #8", ["3 to 3"]),
        ("1 pass, 3 pass 08:00 #7, 3 fail #8", ["3 to 3"]),
        ("1 pass, 3 pass #8, 3 fail #8", ["1 to 3"]),
        ("1 pass, 3 pass #9, 3 fail #8", ["1 to 3"]),
        ("1 pass, 3 pass #A, 3 fail #B", ["1 to 3"]),
        ("1 pass, 3 pass #\u00b2, 3 fail #\u00b3", ["1 to 3"]),  # digits that are no number
    ],
)
def test_of_one_day_only_what_is_shown_to_have_come_before_is_a_proof(results, windows):
    """In which order they were logged shows nothing. Common practice, no source."""
    checks = told(results)
    for logged in (checks, tuple(replace(c, row=replace(c.row, number=-c.row.number)) for c in checks)):
        said = of_kind(FAILURE, checks=logged, regime=NO_PATHS)
        assert [f"{b.after.day if b.after else 'all'} to {b.to.day}" for b in said] == windows


def test_a_case_reaches_back_to_what_lies_before_all_its_failures():
    """A failure without a time may have come before the pass of 8:00; of each cycle type its own pass counts."""
    (back,) = of_kind(FAILURE, checks=told("1 pass, 3 pass 08:00, 3 fail 09:00, 3 fail"))
    assert (str(back.after), len(back.evidence)) == ("2025-06-01", 2)
    (back,) = of_kind(FAILURE, checks=told("1 pass, 3 pass 08:00, 3 fail 09:00, 4 fail"))
    assert (str(back.after), len(back.evidence)) == ("2025-06-03", 2)
    types = (("02", "pass", "open"), ("04", "pass", "wrapped"), ("05", "fail", "wrapped"), ("06", "fail", "open"))
    checks = tuple(user_check(f"2025-06-{d}", result=r, cycle_type=t) for d, r, t in types)
    (back,) = of_kind(FAILURE, checks=checks)
    assert (str(back.after), len(back.evidence)) == ("2025-06-02", 2)
    (back,) = of_kind(FAILURE, checks=checks[1:])
    assert (back.after, len(back.evidence)) == (None, 2)


@pytest.mark.parametrize(
    ("good", "bad", "after"),
    [
        ({}, {}, "2025-06-02"),
        ({"at": "08:00"}, {}, "2025-06-02"),
        ({"at": "08:00"}, {"at": "12:00"}, "2025-06-05"),
        ({"at": "12:00"}, {"at": "12:00"}, "2025-06-02"),
        ({"cycle": "20"}, {"cycle": "21"}, "2025-06-05"),
        ({"cycle": "20"}, {"cycle": "20"}, "2025-06-02"),  # two indicators in one cycle, one of them with growth
    ],
)
def test_a_negative_spore_test_of_the_same_day(good, bad, after):
    """The look-back and the words of the case say the same window."""
    tests = (
        GOOD,
        bio("2025-06-05", result="pass", **good),
        bio("2025-06-05", result="growth", known="2025-06-07", **bad),
        bio("2025-06-08", result="growth", known="2025-06-09", purpose="repeat"),
    )
    facts = unit(bio_tests=tests)
    (back,) = of_kind(SPORE, facts)
    assert str(back.after) == after and len(back.evidence) == 2
    s = settle(facts, clinic(facts), load_regime(RULES), DAY)
    (held,) = cases_of(s.unit, list(s.replays), s.verdicts, DAY)
    assert f"after the last negative spore test of {after}" in held.recall


def test_where_the_rules_withdraw_the_unit_the_window_ends_with_the_first_failure_known():
    """What is run after that is run while out of service, an open item of its own."""
    checks = tuple(user_check(d, result="fail") for d in ("2025-06-04", "2025-06-06"))
    (back,) = of_kind(FAILURE, checks=checks, loads=loads(*WEEK))
    assert (str(back.to), len(back.evidence), days_in(back)) == ("2025-06-04", 2, ["2025-06-01", "2025-06-03"])
    regime = load_regime(RULES)
    paths = tuple(replace(p, withdraws=False) for p in regime.failure)
    (back,) = of_kind(FAILURE, checks=checks, loads=loads(*WEEK), regime=replace(regime, failure=paths))
    assert str(back.to) == "2025-06-06"


def test_where_the_rules_are_silent_it_is_common_practice_and_the_case_of_its_own_row():
    bad, other = user_check("2025-06-06", result="fail"), user_check("2025-06-01", "water", "fail")
    cases = (
        case(other.row.origin, "2025-06-01"),
        case(bad.row.origin, "2025-06-06", step("2025-06-06", "review", done="2025-06-07")),
    )
    silent = replace(NO_PATHS, look_back=())
    (back,) = of_kind(FAILURE, checks=(bad, other), cases=cases, regime=silent)
    assert (back.case, str(back.settled_on)) == (cases[1].row.origin, "2025-06-07")
    assert str(back.source) == "common practice, no source" and "passing test of that kind" in back.after_text
    (back,) = of_kind(FAILURE, loads=(load("2025-06-06", mechanical="fail"),), regime=silent)
    assert "Tazewell" in str(back.source) and back.after_text.startswith("no negative spore test")
    assert back.case == "" and back.settled_on is None


@pytest.mark.parametrize(
    ("test", "after"),
    [
        ({"at": "10:00"}, "2025-06-06"),
        ({"at": "15:00"}, "2025-06-02"),
        ({}, "2025-06-02"),  # the order is not known
        ({"cycle": "3"}, "2025-06-06"),
        ({"cycle": "5"}, "2025-06-02"),
        ({"cycle": "4", "at": "10:00"}, "2025-06-02"),  # the cycle that failed
        ({"cycle": "4"}, "2025-06-02"),
    ],
)
def test_a_spore_test_of_the_same_day_proves_only_if_it_came_before(test, after):
    same_day = bio("2025-06-06", result="pass", **test)
    failed = load("2025-06-06", "4", at="14:00" if "at" in test else "", mechanical="fail")
    (back,) = of_kind(FAILURE, bio_tests=(GOOD, same_day), loads=(failed,))
    assert str(back.after) == after


@pytest.mark.parametrize("kind", ["air_removal", "leaks"])
def test_a_test_that_does_not_apply_puts_nothing_in_doubt(kind):
    """A gravity unit has no vacuum: EN 13060 type N; the entry is flagged, not failed (common practice)."""
    bad = {"air_removal": (air("2025-06-06", "fail"),), "leaks": (leak("2025-06-06", "fail"),)}[kind]
    assert backs(**{kind: bad}) == ()
    assert len(backs(unit(type="cassette", **{kind: bad}))) == 1


@pytest.mark.parametrize("kind", ["safety check", "water", "thermometer comparison"])
def test_other_checks_put_no_load_in_doubt(kind):
    assert backs(checks=(user_check("2025-06-06", kind, "fail"),)) == ()


def test_newest_first():
    checks = tuple(
        user_check(f"2025-06-0{n}", result=r) for n, r in ((1, "pass"), (2, "fail"), (3, "pass"), (4, "fail"))
    )
    tests = (GOOD, bio("2025-06-03", result="growth", known="2025-06-03"))
    said = backs(checks=checks, bio_tests=tests)
    assert [b.kind for b in said] == [FAILURE, SPORE, FAILURE]


def test_a_visit_inside_is_named_with_what_was_measured_and_fitted():
    tests = (GOOD, bio("2025-06-05", result="growth"))
    jobs = tuple(job(d, parts=(seal(d),), readings=(taken(d),)) for d in ("2025-06-04", "2025-06-01"))
    back = only(bio_tests=tests, jobs=jobs)
    assert [len(back.parts), len(back.readings)] == [1, 1] and "2025-06-04" in back.parts[0].text


@pytest.mark.parametrize(("at", "many"), [("11:00", 1), ("09:00", 0), ("", 1)])
def test_a_visit_on_the_day_of_the_proof(at, many):
    proof = bio("2025-06-02", result="pass", at="10:00")
    visit = job("2025-06-02", parts=(seal("2025-06-02"),))
    if at:
        visit = replace(visit, row=replace(visit.row, happened_at=datetime.fromisoformat(f"2025-06-02T{at}+00:00")))
    back = only(bio_tests=(proof, bio("2025-06-05", result="growth")), jobs=(visit,))
    assert len(back.parts) == many


def test_helpers_about_tests():
    tests = (GOOD, bio("2025-06-05", result="growth"), bio("2025-06-03", result="pass", cycle="11"))
    facts = unit(bio_tests=tests)
    s = settle(facts, clinic(facts), load_regime(RULES), DAY)
    assert last_good(s.unit, s.verdicts, tests[1]).row == tests[2].row
    assert last_good(s.unit, s.verdicts, tests[0]) is None
    cycles = [("2025-06-03", "11"), ("2025-06-03", ""), ("2025-06-04", "11")]  # of these the first is that of a test
    run = replace(s.unit, loads=tuple(load(day, number) for day, number in cycles))
    held = loads_within(run, on("2025-06-01"), None)
    assert [(x.row.happened_on.isoformat(), x.cycle_number) for x in held] == cycles[1:]
