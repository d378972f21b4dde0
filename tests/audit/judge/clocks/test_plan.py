"""Due items of the plan, as tables. Common practice, no source, unless a line says otherwise."""

from datetime import date

import pytest

from audit.judge.clocks.plan import plan_clocks
from tests.fact_builders import counter, event, fit, job, line, on, outcome, part, position, unit

FITTED, INSTALLED = (fit(),), (event("2024-01-10"),)


def clock_of(as_of, *, plan=None, code="replace-seal", fits=FITTED, events=INSTALLED, **facts):
    plan = (line(),) if plan is None else plan
    judged = unit(plan=plan, fits=fits, events=events, positions=(position(),), **facts)
    return next(c for c in plan_clocks(judged, on(as_of)) if c.id == f"plan:{code}")


EDGES = """
2025-12-10 | 0  | ok        | 2026-01-10 | 2026-01-11
2025-12-11 | 0  | due soon  | 2026-01-10 | 2026-01-11
2026-01-09 | 0  | due soon  | 2026-01-10 | 2026-01-11
2026-01-10 | 0  | due       | 2026-01-10 | 2026-01-11
2026-01-11 | 0  | overdue   | 2026-01-10 | 2026-01-11
2026-01-10 | 14 | due       | 2026-01-10 | 2026-01-25
2026-01-11 | 14 | in grace  | 2026-01-10 | 2026-01-25
2026-01-24 | 14 | in grace  | 2026-01-10 | 2026-01-25
2026-01-25 | 14 | overdue   | 2026-01-10 | 2026-01-25
"""


def rows(text):
    return [[cell.strip() for cell in row.split("|")] for row in text.strip().splitlines()]


@pytest.mark.parametrize(("as_of", "grace", "state", "due", "overdue"), rows(EDGES))
def test_states_on_both_sides_of_each_edge(as_of, grace, state, due, overdue):
    clock = clock_of(as_of, plan=(line(grace=int(grace)),))
    assert (clock.state, str(clock.due_on), str(clock.overdue_on)) == (state, due, overdue)


def test_never_done_and_never_installed_is_no_evidence():
    clock = clock_of("2024-01-11", events=())
    assert (clock.state, clock.due_on) == ("no evidence", None)


RESETS = [
    # what was done on 2025-06-01, which line, resets it?
    (dict(outcomes=(outcome("2025-06-01"),)), "replace-seal", True),
    (dict(outcomes=(outcome("2025-06-01", plan_line=""),)), "replace-seal", True),
    (dict(outcomes=(outcome("2025-06-01", position="filter", plan_line=""),)), "replace-seal", False),
    (dict(outcomes=(outcome("2025-06-01", what="not due"),)), "replace-seal", False),
    (dict(outcomes=(outcome("2025-06-01", what="not done"),)), "replace-seal", False),
    (dict(outcomes=(outcome("2025-06-01", "clean-seal", action="clean"),)), "replace-seal", False),
    (dict(outcomes=(outcome("2025-06-01", "clean-seal", action="clean"),)), "clean-seal", True),
    (dict(outcomes=(outcome("2025-06-01"),)), "clean-seal", True),
    (dict(parts=(part("2025-06-01"),)), "replace-seal", True),
    (dict(parts=(part("2025-06-01", action="replaced on condition"),)), "replace-seal", True),
    (dict(parts=(part("2025-06-01"),)), "clean-seal", True),
    (dict(parts=(part("2025-06-01", quantity=0),)), "replace-seal", False),
    (dict(parts=(part("2025-06-01"),)), "calibrate-seal", False),
    (dict(parts=(part("2025-06-01", action="found in place"),)), "replace-seal", False),
    (dict(parts=(part("2025-06-01", position="filter"),)), "replace-seal", False),
]


@pytest.mark.parametrize(("done", "code", "resets"), RESETS)
def test_what_resets_a_line(done, code, resets):
    plan = (line(), line("clean-seal", action="clean"), line("calibrate-seal", action="calibrate"))
    clock = clock_of("2025-06-02", plan=plan, code=code, jobs=(job("2025-06-01", **done),))
    assert str(clock.due_on) == ("2027-06-01" if resets else "2026-01-10")


def test_each_position_has_its_own_clock():
    plan = (line(), line("replace-filter", "filter"))
    fits = (fit(), fit("filter"))
    jobs = (job("2025-06-01", parts=(part("2025-06-01"),)),)
    due = [str(clock_of("2025-07-01", plan=plan, fits=fits, jobs=jobs, code=p.code).due_on) for p in plan]
    assert due == ["2027-06-01", "2026-01-10"]


@pytest.mark.parametrize(
    ("state", "answer", "words"),
    [("none", "not applicable", "not fitted"), ("unknown", "overdue", "unknown"), ("missing", "overdue", "")],
)
def test_fit_of_the_position(state, answer, words):
    clock = clock_of("2026-02-01", fits=(fit(state=state),))
    assert clock.state == answer and words in clock.note


def test_the_newest_version_in_effect_holds_and_a_retired_line_is_gone():
    plan = (line(), line(months=12, day="2024-06-01"), line(months=6, day="2025-06-01"))
    assert str(clock_of("2025-05-31", plan=plan).due_on) == "2025-01-10"
    assert str(clock_of("2025-06-01", plan=plan).due_on) == "2024-07-10"
    gone = unit(plan=(line(), line(day="2025-01-01", retired=True)), events=(event("2024-01-10"),))
    assert plan_clocks(gone, date(2025, 1, 1)) == ()
    assert len(plan_clocks(gone, date(2024, 12, 31))) == 1


def test_a_decided_postponement_moves_the_day_it_is_overdue_and_shows_who():
    put_off = outcome("2025-12-01", what="deferred", until="2026-06-01", by="C. Decider", why="renewed in 2024")
    for as_of, state in (("2026-01-11", "in grace"), ("2026-06-01", "in grace"), ("2026-06-02", "overdue")):
        clock = clock_of(as_of, jobs=(job("2025-12-01", outcomes=(put_off,)),))
        assert (clock.state, str(clock.due_on)) == (state, "2026-01-10")
        assert "C. Decider" in clock.note and "renewed in 2024" in clock.note


def test_a_postponement_decided_on_the_day_it_counts_from_holds():
    put_off = outcome("2024-01-10", what="deferred", until="2026-06-01", by="C. Decider", why="renewed at once")
    clock = clock_of("2026-02-01", jobs=(job("2024-01-10", outcomes=(put_off,)),))
    assert (clock.state, str(clock.overdue_on)) == ("in grace", "2026-06-02")


@pytest.mark.parametrize("lacking", [{"by": ""}, {"why": ""}, {"until": None}])
def test_a_postponement_without_decision_moves_nothing(lacking):
    put_off = {"until": "2026-06-01", "by": "C. Decider", "why": "young"} | lacking
    clock = clock_of(
        "2026-01-11", jobs=(job("2025-12-01", outcomes=(outcome("2025-12-01", what="deferred", **put_off),)),)
    )
    assert clock.state == "overdue"


def test_a_postponement_never_makes_a_line_stricter_and_ends_with_the_next_renewal():
    early = outcome("2025-12-01", what="deferred", until="2025-12-15", by="C", why="w")
    assert str(clock_of("2025-12-20", jobs=(job("2025-12-01", outcomes=(early,)),)).overdue_on) == "2026-01-11"
    late = outcome("2025-12-01", what="deferred", until="2030-01-01", by="C", why="w")
    jobs = (job("2025-12-01", outcomes=(late,)), job("2026-03-01", parts=(part("2026-03-01"),)))
    clock = clock_of("2026-03-02", jobs=jobs)
    assert (str(clock.overdue_on), clock.note) == ("2028-03-02", "")


CYCLES = [
    # counter readings (day, shown), limit in cycles, due, projected
    ([("2024-01-10", 0), ("2024-02-19", 400)], 1000, "2024-04-19", True),  # 10 a day, 600 left
    ([("2024-01-10", 0), ("2024-02-06", 270)], 1000, "2024-03-05", False),  # 27 days are too few: good for 28 more
    ([("2024-01-10", 0), ("2024-02-07", 280)], 1000, "2024-04-19", True),  # 28 days: 10 a day, 720 left
    ([("2024-01-10", 0), ("2024-03-10", 1000)], 1000, "2024-03-10", False),  # read, not projected
    ([("2024-01-10", 0), ("2024-03-10", 999)], 1000, "2024-03-11", True),
    ([("2024-01-10", 5), ("2024-03-10", 5)], 1000, None, False),  # not running
    ([("2024-01-20", 100), ("2024-02-19", 400)], 1000, "2024-04-19", True),  # carried back 10 days: 0 on the 10th
]


@pytest.mark.parametrize(("shown", "limit", "due", "projected"), CYCLES)
def test_cycles_are_projected_from_readings(shown, limit, due, projected):
    counters = tuple(counter(day, n) for day, n in shown)
    clock = clock_of("2024-03-15", plan=(line(months=None, cycles=limit),), counters=counters)
    assert (clock.due_on and str(clock.due_on), clock.projected) == (due, projected)


def test_whichever_comes_first():
    counters = (counter("2024-01-10", 0), counter("2024-02-19", 400))
    assert str(clock_of("2024-03-01", plan=(line(months=1, cycles=1000),), counters=counters).due_on) == "2024-02-10"
    first = clock_of("2024-03-01", plan=(line(months=24, cycles=1000),), counters=counters)
    assert (str(first.due_on), first.projected) == ("2024-04-19", True)


def test_an_offset_after_a_reset_counts_on():
    counters = (counter("2024-01-10", 0), counter("2024-02-19", 0, offset=400))
    assert (
        str(clock_of("2024-03-01", plan=(line(months=None, cycles=1000),), counters=counters).due_on) == "2024-04-19"
    )
