"""What one spore test counts for. Sources: CDC 2003 VI.F item 6 (control, same lot), EN 285:1996 17.2.2.7."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import LotFact
from audit.judge.biological import awaited_until, judge_test, run_of, shown_before
from audit.regimes import load_regime
from tests.examples import examples
from tests.fact_builders import bio, look, lot

VALIDITY = load_regime("us-dental-cdc-2003").validity
RUN = "2025-03-03"
# As `audit.gather` gives a box that was entered in error.
UNKNOWN = LotFact("", "biological", "not known", "", None, 0, None, None)

TABLE = [
    # test, control, hours, heat, verdict, words in the reason
    ("no growth", "growth", "24", "57", "passed", "no growth"),
    ("no growth", "growth", "23", "57", "awaited", "after 23 h"),
    ("growth", "growth", "6", "57", "failed", "growth in the test"),
    ("growth", "no growth", "24", "57", "failed", "growth in the test"),
    ("no growth", "no growth", "24", "57", "invalid", "control did not grow"),
    ("no growth", "not stated", "24", "57", "invalid", "does not state the control"),
    ("no growth", "no result", "24", "57", "invalid", "no result"),
    ("no result", "growth", "24", "57", "invalid", "not tested"),
    ("no growth", "growth", "24", "55", "passed", ""),
    ("no growth", "growth", "24", "54.9", "invalid", "54.9"),
    ("no growth", "growth", "24", "60", "passed", ""),
    ("no growth", "growth", "24", "60.1", "invalid", "60.1"),
    ("no growth", "growth", "24", None, "passed", ""),
    ("growth", "growth", "24", "80", "failed", ""),
]


@pytest.mark.parametrize(("test", "control", "hours", "heat", "verdict", "words"), TABLE)
def test_verdict(test, control, hours, heat, verdict, words):
    said = judge_test(bio(RUN, look("2025-03-04", test, control, hours, heat)), VALIDITY)
    assert (said.verdict, words in said.reason) == (verdict, True)


@pytest.mark.parametrize(
    ("expiry", "verdict"), [("2025-03-02", "invalid"), ("2025-03-03", "passed"), (None, "passed")]
)
def test_the_lot_must_not_have_expired_before_the_cycle(expiry, verdict):
    assert judge_test(bio(RUN, result="pass", lot_=lot(expiry=expiry)), VALIDITY).verdict == verdict


@pytest.mark.parametrize(("control", "reason"), [(lot("L2"), "another lot"), (None, "no control")])
def test_a_control_of_the_same_lot_is_needed(control, reason):
    said = judge_test(bio(RUN, result="pass", control=control), VALIDITY)
    assert said.verdict == "invalid" and reason in said.reason
    grown = judge_test(bio(RUN, result="growth", control=control), VALIDITY)
    assert grown.verdict == "failed"


BLANK = replace(lot(), ref="lot-other", name="")


@pytest.mark.parametrize(
    ("of_test", "of_control", "verdict"),
    [
        (lot(), replace(lot(), ref="other", name="Another invented indicator"), "invalid"),
        (lot(), replace(lot(), ref="other", name="INVENTED  indicator"), "passed"),
        (lot("L 1a"), replace(lot("l1A"), name="inventedindicator"), "passed"),
        (lot(), BLANK, "invalid"),
        (BLANK, replace(BLANK, ref="third"), "invalid"),  # nobody knows whether they are of one product
        (BLANK, replace(BLANK), "passed"),  # the very box
        (lot(hours=0), lot(hours=0), "invalid"),  # the hours of the label are not known
        (lot("  "), lot("  "), "invalid"),
    ],
)
def test_the_control_is_of_the_same_product_and_lot_without_case_and_blanks(of_test, of_control, verdict):
    assert judge_test(bio(RUN, result="pass", lot_=of_test, control=of_control), VALIDITY).verdict == verdict
    assert judge_test(bio(RUN, result="growth", lot_=of_test, control=of_control), VALIDITY).verdict == "failed"


@pytest.mark.parametrize(
    ("run_at", "read_on", "read_at", "hours", "verdict"),
    [
        ("", "2025-03-02", "", "24", "invalid"),  # before the cycle
        ("08:00", "2025-03-03", "07:59", "24", "invalid"),
        ("08:00", "2025-03-04", "08:00", "24", "passed"),
        ("08:00", "2025-03-04", "07:30", "24", "awaited"),  # rounded up, and half an hour too soon
        ("08:00", "2025-03-04", "07:00", "24", "invalid"),  # 23 hours lie between
        ("08:00", "2025-03-04", "20:00", "36", "passed"),
        ("08:00", "2025-03-04", "20:00", "37", "invalid"),
        ("", "2025-03-04", "", "47.9", "passed"),
        ("", "2025-03-04", "", "48", "passed"),  # days alone contradict no less
        ("", "2025-03-04", "", "48.1", "invalid"),
        ("", "2025-03-03", "", "24", "passed"),
        ("", "2025-03-03", "", "25", "invalid"),
    ],
)
def test_hours_stated_must_fit_between_cycle_and_reading(run_at, read_on, read_at, hours, verdict):
    reading = look(read_on, hours=hours, at=read_at)
    assert judge_test(bio(RUN, reading, at=run_at), VALIDITY).verdict == verdict
    grown = look(read_on, "growth", hours=hours, at=read_at)
    said = judge_test(bio(RUN, grown, at=run_at), VALIDITY)
    assert said.verdict == "failed" and said.known_on >= date(2025, 3, 3)


def test_a_good_reading_mends_one_that_contradicts_itself():
    early = look(RUN, hours="48")
    assert judge_test(bio(RUN, early), VALIDITY).verdict == "invalid"
    assert judge_test(bio(RUN, early, look("2025-03-05", hours="48")), VALIDITY).verdict == "passed"


def test_a_control_that_grew_does_not_shrink():
    grown, shrunk = look("2025-03-04"), look("2025-03-05", control="no growth", hours="30")
    assert judge_test(bio(RUN, grown), VALIDITY).verdict == "passed"
    said = judge_test(bio(RUN, grown, shrunk), VALIDITY)
    assert (said.verdict, said.reason) == ("invalid", "control read as grown, and later as not grown")


def test_heat_outside_the_label_at_any_reading_counts_against_the_test():
    hot, right = look("2025-03-04", heat="61"), look("2025-03-05", hours="40")
    assert judge_test(bio(RUN, hot, right), VALIDITY).verdict == "invalid"


@pytest.mark.parametrize(
    ("of_test", "of_control", "reason"),
    [
        (UNKNOWN, UNKNOWN, "the lot it was run with is not known"),
        (UNKNOWN, lot(), "the lot it was run with is not known"),
        (lot(), UNKNOWN, "the lot of its control is not known"),
    ],
)
def test_a_box_that_nobody_knows_proves_nothing(of_test, of_control, reason):
    """Neither its last day nor its hours are known, and two boxes that nobody knows are not the same one."""
    said = judge_test(bio(RUN, result="pass", lot_=of_test, control=of_control), VALIDITY)
    assert (said.verdict, said.reason) == ("invalid", reason)
    assert judge_test(bio(RUN, result="growth", lot_=of_test, control=of_control), VALIDITY).verdict == "failed"


def test_early_growth_stands_even_when_a_later_reading_shows_none():
    said = judge_test(bio(RUN, look("2025-03-03", "growth", hours="6"), look("2025-03-04")), VALIDITY)
    assert (said.verdict, said.known_on) == ("failed", date(2025, 3, 3))


def test_the_day_known_is_when_the_clinic_could_act():
    said = judge_test(bio(RUN, look("2025-03-05", "growth", known="2025-03-08", report="LAB 7")), VALIDITY)
    assert said.known_on == date(2025, 3, 8)


@pytest.mark.parametrize(
    ("run_at", "read_on", "read_at", "verdict"),
    [
        ("08:00", "2025-03-04", "08:00", "passed"),
        ("08:00", "2025-03-04", "07:59", "awaited"),
        ("", "2025-03-04", "", "invalid"),  # between 0 and 48 hours: nobody can tell
        ("", "2025-03-05", "", "passed"),  # at least 24 hours whatever the times
        ("", "2025-03-03", "", "awaited"),
    ],
)
def test_hours_not_stated_are_taken_from_times_and_bounded_by_days(run_at, read_on, read_at, verdict):
    reading = look(read_on, hours=None, at=read_at)
    assert judge_test(bio(RUN, reading, at=run_at), VALIDITY).verdict == verdict


def test_a_laboratory_report_stands_for_its_own_incubation():
    reading = look("2025-03-04", hours=None, report="LAB 7")
    assert judge_test(bio(RUN, reading, site="laboratory"), VALIDITY).verdict == "passed"
    # Read in the clinic a report says nothing of the hours, nor does any where the days leave no time for them.
    assert judge_test(bio(RUN, reading), VALIDITY).verdict == "invalid"
    soon = look(RUN, hours=None, report="LAB 7")
    assert judge_test(bio(RUN, soon, site="laboratory"), VALIDITY).verdict == "awaited"


@pytest.mark.parametrize(
    ("site", "hours", "last"),
    [("clinic", 24, "2025-03-11"), ("clinic", 25, "2025-03-12"), ("laboratory", 48, "2025-03-17")],
)
def test_how_long_a_result_may_take(site, hours, last):
    assert str(awaited_until(bio(RUN, site=site, lot_=lot(hours=hours)), VALIDITY)) == last


@settings(max_examples=examples(300), deadline=None)
@given(
    st.sampled_from(["no growth", "growth", "no result"]),
    st.sampled_from(["growth", "no growth", "no result", "not stated"]),
    st.sampled_from([None, "23.9", "24", "48"]),
    st.sampled_from([None, "54.9", "55", "60", "60.1"]),
    st.sampled_from(["same", "other", "product", "copy", "unknown", None]),
    st.sampled_from(["2025-01-05", "2025-01-06", None]),
    st.sampled_from(["2025-01-05", "2025-01-06", "2025-01-07", "2025-01-08"]),
    st.tuples(st.sampled_from(["", "08:00"]), st.sampled_from(["", "07:30", "08:00"])),
)
def test_the_glance_says_what_the_rules_one_by_one_say(
    grown, control, hours, heat, control_lot, expiry, read_on, times
):
    """The quick look at a plain test against the same test with a reading beside that changes nothing."""
    box = lot(expiry=expiry)
    others = {
        "same": box,
        "other": lot("L2"),
        "product": replace(box, name="another"),
        "copy": replace(box),
        "unknown": UNKNOWN,
        None: None,
    }
    run_at, read_at = times
    reading = look(read_on, grown, control, hours=hours, heat=heat, at=read_at)
    early = look("2025-01-06", "no growth", "no result", hours="1", heat=None, at="08:01" if run_at else "")
    plain = bio("2025-01-06", reading, lot_=box, control=others[control_lot], at=run_at)
    slow = replace(plain, readings=(early, reading))
    validity = load_regime("base").validity
    said, expected = judge_test(plain, validity), judge_test(slow, validity)
    assert (said.verdict, said.known_on) == (expected.verdict, expected.known_on)


@pytest.mark.parametrize(
    ("one", "other", "shown"),
    [
        # "day, time, cycle": by day, whatever else is said
        ("1 23:00 9", "2 01:00 8", True),
        ("2", "1", False),
        # of one day by both times, and by the cycle numbers only without them
        ("1 08:00 9", "1 09:00 8", True),
        ("1 09:00 8", "1 08:00 9", False),
        ("1 08:00", "1 08:00", False),
        ("1 08:00", "1", False),
        ("1", "1 08:00", False),
        ("1", "1", False),
        ("1 - 8", "1 - 10", True),
        ("1 - 10", "1 - 8", False),
        ("1 08:00 8", "1 - 10", True),
        ("1 - 8", "1", False),
        ("1 - A", "1 - B", False),
        ("1 - \u00b2", "1 - \u00b3", False),  # digits, but no number
        # two results of one cycle
        ("1 08:00 8", "1 09:00 8", False),
        ("1 - 8", "1 - 8", False),
    ],
)
def test_which_run_is_shown_to_have_come_first(one, other, shown):
    """Common practice, no source."""

    def a_run(text):
        day, at, cycle = [*text.split(), "-", "-"][:3]
        return run_of(bio(f"2025-06-0{day}", at=at.strip("-"), cycle=cycle.strip("-")))

    assert shown_before(a_run(one), a_run(other)) is shown
