"""Laws of the path after a failure over made-up histories."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import unit_by_day
from audit.judge.biological import judge_tests
from audit.judge.response import replay_all
from tests.examples import examples
from tests.fact_builders import air, case, step, unit

from ..said_of_failures import DAY, path_of, regime_of, run

LAWS = settings(max_examples=examples(150), deadline=None, suppress_health_check=list(HealthCheck))
SHAPES = [
    path_of(same_cycle_type=True, return_passes=2, return_chamber="empty"),
    path_of(repeats=3, return_passes=3),
    path_of(return_passes=2, return_each_cycle_type=True, return_air_removal=2),
    path_of(cause_before_repeat=True),
]
BEGIN = DAY - timedelta(40)
lines = st.lists(
    st.tuples(
        st.integers(2, 39),
        st.sampled_from(["pass", "pass", "pass", "growth", "awaited"]),
        st.sampled_from(["wrapped", "wrapped", "open"]),
        st.sampled_from(["empty", "full"]),
    ),
    max_size=12,
    unique_by=lambda x: x[0],
)
paths = st.sampled_from(SHAPES)
causes = st.sets(st.integers(1, 39), max_size=3)
START = (0, "growth", "wrapped", "full"), (1, "growth", "wrapped", "full")


def made(history, causes, airs=()):
    tests = tuple(run(f"{BEGIN + timedelta(n)} {what} {kind} {chamber}") for n, what, kind, chamber in history)
    found = tuple(step(BEGIN + timedelta(n), "find cause", done=BEGIN + timedelta(n)) for n in sorted(causes))
    grown = [t for t in tests if any(r.test == "growth" for r in t.readings)]
    opened = tuple(case(t.row.origin, t.row.happened_on, *found) for t in grown)
    beside = tuple(air(BEGIN + timedelta(n)) for n in airs)
    return unit(type="dynamic air removal", bio_tests=tests, cases=opened, air_removal=beside)


def said(facts, path):
    facts = unit_by_day(facts, DAY)
    regime = regime_of(path)
    replays = replay_all(facts, regime, judge_tests(facts.bio_tests, regime.validity), [])
    return [(r.failed.origin, r.resolved_on, r.needs, r.passes, r.cause) for r in replays]


def still_out(facts, path):
    return any(resolved is None for _, resolved, *_ in said(facts, path))


@LAWS
@given(lines, causes, paths)
def test_one_more_pass_never_takes_a_unit_out(history, causes, path):
    history = [*START, *history]
    before = made(history, causes, airs=(20, 21, 22))
    extra = run(f"{DAY} pass wrapped empty")
    after = replace(before, bio_tests=(*before.bio_tests, extra), air_removal=(*before.air_removal, air(DAY)))
    assert not (still_out(after, path) and not still_out(before, path))


@LAWS
@given(lines, causes, paths, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(history, causes, path, random):
    facts = made([*START, *history], causes, airs=(20, 22, 24))
    names = ("bio_tests", "cases", "air_removal")
    mixed = {name: tuple(random.sample(getattr(facts, name), len(getattr(facts, name)))) for name in names}
    assert said(replace(facts, **mixed), path) == said(facts, path)


@LAWS
@given(lines, causes, st.lists(st.integers(2, 39), max_size=6, unique=True))
def test_passes_of_another_cycle_type_change_nothing(history, causes, others):
    """Where the rules ask the same cycle type: whatever passes or is awaited in another one."""
    path = SHAPES[0]
    facts = made([*START, *history], causes)
    more = tuple(run(f"{BEGIN + timedelta(n)} {what} rapid empty") for n in others for what in ("pass", "awaited"))
    assert said(replace(facts, bio_tests=(*facts.bio_tests, *more)), path) == said(facts, path)


@LAWS
@given(lines, causes, paths, st.lists(st.integers(0, 39), max_size=10, unique=True))
def test_tests_of_another_kind_change_nothing_unless_asked(history, causes, path, days):
    path = replace(path, return_air_removal=0)
    facts = made([*START, *history], causes)
    beside = tuple(air(BEGIN + timedelta(n)) for n in days)
    assert said(replace(facts, air_removal=beside), path) == said(facts, path)
