"""Tests asked after an event. What the sources ask stands beside each."""

from dataclasses import replace

import pytest

from audit.judge.clocks.frequency import duty_clock
from audit.judge.clocks.spans import spans
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.audit.judge.clock_stories import BASE, a_duty
from tests.fact_builders import bio, clinic, document, event, job, load, on, outcome, part, placed, row, unit

INSTALLED = event("2024-01-08")
TORONTO = "ca-toronto-personal-services"


def facts_of(as_of, regime, **more):
    events = (INSTALLED, *more.pop("events", ()))
    held = unit("2024-01-08", type=more.pop("type", "gravity"), events=events, **more)
    return at(settle(held, clinic(held, regime="base"), regime, on(as_of)), on(as_of)).duty


def rules(name):
    """A set of rules without failure paths, so that nothing but the event asks for tests."""
    return replace(load_regime(name), failure=())


def clock(as_of, duty_id="biological-test-after-event", regime=TORONTO, **more):
    facts = facts_of(as_of, rules(regime), **more)
    return duty_clock(facts, next(d for d in facts.duties() if d.id == duty_id))


def of(duty, as_of, **more):
    facts = facts_of(as_of, replace(BASE, duties=(duty,)), **more)
    return duty_clock(facts, duty), spans(facts, duty, on("2024-01-01"), on(as_of))


def passes(day, count, **more):
    return tuple(bio(day, result="pass", known=day, cycle=str(n) if count > 1 else "", **more) for n in range(count))


DAILY = tuple(load(f"2025-03-{n:02}") for n in range(1, 32))
START = passes("2024-01-08", 3, purpose="installation")

WORK = {
    "major repair": {"class_stated": "C", "outcomes": (outcome("2025-03-10"),)},
    "repair": {"reason": "breakdown", "outcomes": (outcome("2025-03-10"),)},
    "on condition": {"parts": (part("2025-03-10", action="replaced on condition"),)},
    "planned part": {"parts": (part("2025-03-10"),)},
    "looked at": {"outcomes": (outcome("2025-03-10", what="not due"),), "end": "not worked on"},
    "planned work": {"outcomes": (outcome("2025-03-10"),)},
    "nothing mended": {
        "reason": "breakdown",
        "outcomes": (outcome("2025-03-10", what="not due"),),
        "end": "not worked on",
    },
}
# Toronto Public Health, BodySafe: three passes in a row before use after repair; of planned parts the text is silent
TORONTO_ASKS = [
    ("major repair", "biological-test-after-event", True),
    ("repair", "biological-test-after-event", True),
    ("on condition", "biological-test-after-event", True),
    ("planned part", "biological-test-after-event", False),
    ("planned part", "biological-test-after-planned-part", True),
    ("looked at", "biological-test-after-event", False),
    ("planned work", "biological-test-after-event", False),
    ("nothing mended", "biological-test-after-event", False),
]


@pytest.mark.parametrize(("work", "duty", "asks"), TORONTO_ASKS)
def test_which_work_asks_tests_after_it(work, duty, asks):
    said = clock("2025-03-10", duty, bio_tests=START, loads=DAILY, jobs=(job("2025-03-10", **WORK[work]),))
    assert (said is not None and said.state == "due" and str(said.due_on) == "2025-03-10") is asks


@pytest.mark.parametrize("kind", ["relocated", "loaner in", "installed"])
def test_moving_it_asks_three_passes_in_a_row(kind):
    """Toronto Public Health, BodySafe; ST79 clause 13 for three after relocation."""
    more = {"events": (event("2025-03-10", kind),), "loads": DAILY}
    assert clock("2025-03-10", bio_tests=START, **more).state == "due"
    assert clock("2025-03-11", bio_tests=START, **more).state == "overdue"
    two, three = START + passes("2025-03-11", 2), START + passes("2025-03-11", 3)
    said = clock("2025-03-11", bio_tests=two, **more)
    assert (said.state, said.note, said.forbids) == ("overdue", "1 more test(s) needed", True)
    assert clock("2025-03-11", bio_tests=three, **more).state == "ok"


# When somebody came to mend it and left, the time of the job itself, those of three tests; whether these prove it.
AFTER_WORK = [
    ("09:00", "14:00", "09:00", ("11:00", "15:00", "16:00"), False),
    ("09:00", "14:00", "09:00", ("15:00", "16:00", "17:00"), True),
    ("09:00", "14:00", "", ("13:59", "15:00", "16:00"), False),
    ("09:00", "14:00", "", ("14:01", "15:00", "16:00"), True),
    ("09:00", "", "09:00", ("15:00", "16:00", "17:00"), False),  # nobody knows when they left
    ("", "", "09:00", ("10:00", "11:00", "12:00"), True),
    ("", "", "09:00", ("08:00", "11:00", "12:00"), False),
]


@pytest.mark.parametrize(("came", "left", "own", "times", "proven"), AFTER_WORK)
def test_what_ran_before_the_work_ended_proves_nothing_of_it(came, left, own, times, proven):
    work = job("2025-03-10", at=own, arrived=came, departed=left, **WORK["repair"])
    tests = [bio("2025-03-10", result="pass", known="2025-03-10", cycle=f"{n}", at=t) for n, t in enumerate(times)]
    said = clock("2025-03-10", bio_tests=(*START, *tests), loads=DAILY, jobs=(work,))
    assert (said.state == "ok") is proven, said.note


def test_a_failure_starts_the_row_again():
    tests = (*START, *passes("2025-03-11", 2), bio("2025-03-12", result="growth", known="2025-03-12"))
    more = {"events": (event("2025-03-10", "relocated"),), "loads": DAILY}
    assert clock("2025-03-13", bio_tests=(*tests, *passes("2025-03-13", 2)), **more).note == "1 more test(s) needed"
    assert clock("2025-03-13", bio_tests=(*tests, *passes("2025-03-13", 3)), **more).state == "ok"


def test_a_full_chamber_where_the_rules_ask_one():
    """N.J.A.C. 8:27-5.4(a), (b): a laboratory, a fully loaded chamber, a place in it, after any repair."""
    more = {"regime": "us-nj-body-art", "jobs": (job("2025-03-10", **WORK["repair"]),)}
    asked = {"chamber": "full", "site": "laboratory", "place": "at the centre, toward the front"}

    def state(**other):
        return clock("2025-03-13", bio_tests=passes("2025-03-11", 1, **(asked | other)), **more).state

    assert state() == "ok"
    for other in ({"chamber": "empty"}, {"chamber": "not stated"}, {"site": "clinic"}, {"place": ""}):
        assert state(**other) == "overdue", other


def test_a_result_still_awaited_counts_only_where_use_is_not_forbidden_before():
    awaited = (bio("2025-03-11"),)
    free, strict = (a_duty("after-event", events=("relocated",), forbids=f) for f in (False, True))
    moved = {"events": (event("2025-03-10", "relocated"),)}
    assert of(free, "2025-03-12", bio_tests=awaited, **moved)[0].state == "ok"
    assert of(free, "2025-03-20", bio_tests=awaited, **moved)[0].state == "overdue"  # 24 h and 7 days are over
    said = of(strict, "2025-03-12", bio_tests=awaited, **moved)[0]
    assert (said.state, said.note) == ("overdue", "1 more test(s) needed; a result is awaited")


def test_each_cycle_type_in_use_has_its_own_row():
    """ST79 clause 13 as quoted: each type of cycle in use; those of the last twelve months, common practice."""
    duty = a_duty("after-event", events=("relocated",), passes=2, each_cycle_type=True)
    more = {"events": (event("2025-03-10", "relocated"),)}
    loads = (
        load("2024-03-09", program="rubber"),
        load("2025-01-01", program="wrapped"),
        load("2025-01-02", program="x"),
    )
    tests = passes("2025-03-11", 2, cycle_type="Wrapped ")
    assert (
        of(duty, "2025-03-12", bio_tests=tests, loads=loads, **more)[0].note
        == "2 more test(s) needed in cycle type 'x'"
    )
    tests += passes("2025-03-12", 2, cycle_type="x")
    assert of(duty, "2025-03-12", bio_tests=tests, loads=loads, **more)[0].state == "ok"


SAME_DAY = [
    # time of the move, time of the test, purpose, whether it counts as run after the move
    ("12:00", "11:59", "routine", False),
    ("12:00", "12:00", "routine", False),
    ("12:00", "12:01", "routine", True),
    ("12:00", "", "routine", False),
    ("", "12:01", "routine", False),
    ("", "", "routine", False),
    ("", "", "requalification", True),
    ("12:00", "", "after repair", True),
    ("", "12:01", "repeat", True),
    ("", "", "installation", True),
    ("12:00", "11:59", "requalification", False),  # where times are known they decide
]


@pytest.mark.parametrize(("moved_at", "tested_at", "purpose", "after"), SAME_DAY)
def test_on_the_day_of_the_event_only_a_test_shown_or_said_to_have_run_after_it_counts(
    moved_at, tested_at, purpose, after
):
    """Common practice, no source."""
    duty = a_duty("after-event", events=("relocated",))
    moved = replace(event("2025-03-10", "relocated"), row=row("2025-03-10", at=moved_at))
    tests = (bio("2025-03-10", result="pass", known="2025-03-10", at=tested_at, purpose=purpose),)
    said = of(duty, "2025-03-11", events=(moved,), bio_tests=tests)[0]
    assert said.state == ("ok" if after else "overdue")


def test_of_two_events_of_one_day_the_test_must_come_after_both():
    duty = a_duty("after-event", events=("relocated",))
    tests = (bio("2025-03-10", result="pass", known="2025-03-10", at="13:00"),)
    first, later, untimed = (
        replace(event("2025-03-10", "relocated"), row=row("2025-03-10", at=at)) for at in ("12:00", "14:00", "")
    )
    for moves, state in (((first,), "ok"), ((first, later), "overdue"), ((first, untimed), "overdue")):
        assert of(duty, "2025-03-11", events=moves, bio_tests=tests)[0].state == state


def test_a_load_of_the_day_of_the_proof_is_not_before_it():
    duty = a_duty("after-event", events=("relocated",))
    tests = passes("2025-03-12", 1)
    for day, result in (("2025-03-11", "met late"), ("2025-03-12", "met")):
        more = {"events": (event("2025-03-10", "relocated"),), "loads": (load(day),), "bio_tests": tests}
        assert [s.result for s in of(duty, "2025-03-13", **more)[1]] == [result]


def test_it_falls_due_no_earlier_than_the_return_to_use():
    duty = a_duty("after-event", events=("relocated",))
    more = {
        "events": (event("2025-03-10", "relocated"),),
        "placements": (placed("2024-01-08"), placed("2025-03-11", "stored as spare"), placed("2025-04-07")),
    }
    assert of(duty, "2025-03-20", **more)[0].state == "not applicable"
    said = of(duty, "2025-04-07", **more)[0]
    assert (said.state, str(said.due_on), str(said.overdue_on)) == ("due", "2025-04-07", "2025-04-08")


IDLE = [
    # Toronto Public Health, BodySafe: unused for more than two weeks; 14 days, derived. Last used on 1 March.
    ("2025-03-15", "ok", "2025-03-16"),
    ("2025-03-16", "overdue", "2025-03-16"),
    ("2025-04-16", "overdue", "2025-03-16"),
]


@pytest.mark.parametrize(("as_of", "state", "due"), IDLE)
def test_unused_for_more_than_two_weeks(as_of, state, due):
    before = tuple(load(f"2025-02-{n:02}") for n in range(1, 29))
    said = clock(as_of, bio_tests=passes("2025-02-01", 3), loads=before + DAILY[:1])
    assert (said.state, str(said.due_on), str(said.overdue_on)) == (state, due, due)


def test_used_again_after_two_weeks_and_a_day_asks_the_tests():
    used, first = (load("2025-03-01"), load("2025-03-16")), passes("2025-03-01", 3)
    assert clock("2025-03-17", bio_tests=first, loads=(used[0], load("2025-03-15"))).state == "ok"
    said = clock("2025-03-17", bio_tests=first, loads=used)
    assert (said.state, str(said.due_on)) == ("overdue", "2025-03-16")
    assert "unused for too long on 2025-03-16" in said.counts_from.text
    assert clock("2025-03-17", bio_tests=first + passes("2025-03-17", 3), loads=used).state == "ok"


def test_where_no_load_is_logged_only_store_and_withdrawal_show_it_unused():
    """Common practice, no source."""
    weeks = {"placements": (placed("2024-01-08"), placed("2025-03-01", "stored as spare"), placed("2025-03-15"))}
    assert clock("2025-03-16", bio_tests=START, **weeks).state == "overdue"
    fewer = {"placements": (placed("2024-01-08"), placed("2025-03-01", "stored as spare"), placed("2025-03-14"))}
    assert clock("2025-03-16", bio_tests=START, **fewer).state == "ok"
    assert clock("2025-06-16", bio_tests=START).state == "ok"


def test_a_validation_after_a_major_repair():
    """RACGP 2023: validation at installation and when a change may affect the outcome."""
    more = {"regime": "au-racgp-2023", "jobs": (job("2025-03-10", **WORK["major repair"]),)}
    papers = (document("validation report", "2025-02-01"),)
    assert clock("2025-03-11", "validation-after-event", documents=papers, **more).state == "overdue"
    papers += (document("validation report", "2025-03-11"),)
    assert clock("2025-03-11", "validation-after-event", documents=papers, **more).state == "ok"


def test_what_became_of_each_event():
    duty = a_duty("after-event", events=("relocated",))
    moves = tuple(event(f"2025-{n:02}-03", "relocated") for n in (2, 3, 4, 5, 6))
    loads = (load("2025-02-10"), load("2025-03-12"), load("2025-04-20"))
    tests = (*passes("2025-02-05", 1), *passes("2025-03-20", 1))
    said = of(duty, "2025-06-10", events=moves, loads=loads, bio_tests=tests)[1]
    assert [(str(s.start), str(s.end), s.result) for s in said] == [
        ("2025-02-03", "2025-02-05", "met"),
        ("2025-03-03", "2025-03-20", "met late"),
        ("2025-04-03", "2025-05-02", "missed"),
        ("2025-05-03", "2025-06-03", "exempt"),
        ("2025-06-03", "2025-06-10", "open"),
    ]
    assert [e.text for e in said[0].proof] == [
        "relocated on 2025-02-03",
        "spore test of 2025-02-05: passed",
    ]


def test_a_failure_of_the_day_of_the_event_starts_the_row_again_time_or_no_time():
    duty = a_duty("after-event", events=("relocated",), passes=2)
    moved = {"events": (event("2025-03-10", "relocated"),)}
    first = bio("2025-03-10", result="pass", known="2025-03-10", purpose="requalification")
    failed = bio("2025-03-10", result="growth", known="2025-03-10")
    second = bio("2025-03-11", result="pass", known="2025-03-11")
    assert of(duty, "2025-03-12", bio_tests=(first, second), **moved)[0].state == "ok"
    said = of(duty, "2025-03-12", bio_tests=(first, failed, second), **moved)[0]
    assert said.note == "1 more test(s) needed"


def test_a_paper_of_the_very_day_is_of_the_event():
    more = {"regime": "au-racgp-2023", "jobs": (job("2025-03-10", **WORK["major repair"]),)}
    papers = (document("validation report", "2025-03-10"),)
    assert clock("2025-03-11", "validation-after-event", documents=papers, **more).state == "ok"


def told(duty, as_of, *moves, **more):
    said = of(duty, as_of, events=tuple(event(day, "relocated") for day in moves), **more)[1]
    return [(str(s.start)[5:], str(s.end)[5:], s.result) for s in said]


def test_a_stretch_ends_on_the_day_the_result_was_known_where_use_is_forbidden_before():
    tests = (bio("2025-03-11", result="pass", known="2025-03-14"),)
    free, strict = (a_duty("after-event", events=("relocated",), forbids=f) for f in (False, True))
    assert told(free, "2025-03-20", "2025-03-10", bio_tests=tests) == [("03-10", "03-11", "met")]
    assert told(strict, "2025-03-20", "2025-03-10", bio_tests=tests) == [("03-10", "03-14", "met")]


def test_a_stretch_of_today_and_two_of_days_that_follow_each_other():
    duty = a_duty("after-event", events=("relocated",))
    assert told(duty, "2025-03-10", "2025-03-10") == [("03-10", "03-10", "open")]
    assert told(duty, "2025-03-20", "2025-03-10", "2025-03-11") == [
        ("03-10", "03-11", "exempt"),
        ("03-11", "03-20", "open"),
    ]
    assert len(told(duty, "2025-03-20", "2025-03-10", "2025-03-10")) == 1


def test_one_result_that_is_awaited_leaves_the_whole_awaited():
    duty = a_duty("after-event", events=("relocated",), passes=2)
    tests = (bio("2025-03-11", result="pass", known="2025-03-11"), bio("2025-03-12"))
    assert told(duty, "2025-03-13", "2025-03-10", bio_tests=tests) == [("03-10", "03-12", "awaited")]


def test_a_unit_that_begins_in_store_is_not_unused_for_too_long():
    places = (placed("2024-01-08", "stored as spare"), placed("2025-03-01"))
    assert clock("2025-03-02", bio_tests=START, placements=places).state == "ok"


def test_a_test_after_the_next_event_proves_nothing_of_the_one_before():
    duty = a_duty("after-event", events=("relocated",))
    found = told(duty, "2025-03-20", "2025-03-10", "2025-03-15", bio_tests=passes("2025-03-16", 1))
    assert found == [("03-10", "03-15", "exempt"), ("03-15", "03-16", "met")]
