"""Slow oracles: a diary kept day by day, written without the engine's own helpers, against the engine."""

from datetime import date, timedelta

from dateutil.relativedelta import relativedelta
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.biological import judge_tests
from audit.clocks.plan import plan_clocks
from audit.facts import unit_by_day
from audit.regimes import load_regime
from audit.response import replay_all
from tests.fact_builders import bio, case, event, fit, job, line, outcome, part, position, step, unit

FIRST = date(2025, 1, 1)
LOTS = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
offsets = st.integers(0, 60)


def day_of(n):
    return FIRST + timedelta(days=n)


# ------------------------------------------------------------------------------------------------ the plan


@LOTS
@given(
    months=st.integers(1, 2),
    grace=st.integers(0, 10),
    done=st.lists(
        st.tuples(st.integers(1, 150), st.sampled_from(["renew", "part", "clean", "found in place"])), max_size=4
    ),
    installed=st.booleans(),
)
def test_the_plan_against_a_diary(months, grace, done, installed):
    jobs = []
    for n, what in done:
        day = day_of(n)
        acts = {
            "renew": {"outcomes": (outcome(day),)},
            "clean": {"outcomes": (outcome(day, "clean-seal", action="clean"),)},
            "part": {"parts": (part(day),)},
            "found in place": {"parts": (part(day, action="found in place"),)},
        }[what]
        jobs.append(job(day, **acts))
    facts = unit(
        events=(event(FIRST),) if installed else (),
        plan=(line(months=months, lead=7, grace=grace),),
        positions=(position(),),
        fits=(fit(),),
        jobs=tuple(jobs),
    )
    renewed_on = {day_of(n) for n, what in done if what in ("renew", "part")}
    last = FIRST if installed else None
    for n in range(200):
        today = day_of(n)
        last = today if today in renewed_on else last
        said = plan_clocks(unit_by_day(facts, today), today)[0]
        if last is None:
            assert said.state == "no evidence"
            continue
        due = last + relativedelta(months=months)
        late = (today - due).days
        if late > grace:
            expected = "overdue"
        elif late > 0:
            expected = "in grace"
        else:
            expected = "due" if late == 0 else ("due soon" if late >= -7 else "ok")
        assert (said.state, said.due_on) == (expected, due), today


# ------------------------------------------------------------------------------------------------ the failure path


def diary(results, causes, repeats, passes):
    """Day -> out of service?, from results known on the day of their cycle, one a day, in order.

    A small machine of three states, written from the words of the rule alone.
    """
    out, state, count = {}, "in use", 0
    for n in range(61):
        for what in [w for d, w in causes if d == n] + [w for d, w in results if d == n]:
            if what == "growth":
                state = {"in use": "repeat", "repeat": "cause", "cause": "cause", "row": "row"}[state]
                count = 0
            elif what == "cause" and state == "cause":
                state, count = "row", 0
            elif what == "pass" and state in ("repeat", "row"):
                count += 1
                if count == (repeats if state == "repeat" else passes):
                    state, count = "in use", 0
        out[n] = state != "in use"
    return out


@LOTS
@given(
    st.dictionaries(offsets, st.sampled_from(["pass", "growth", "growth", "invalid"]), max_size=14),
    st.sets(st.integers(0, 60), max_size=3),
    st.sampled_from(["us-dental-cdc-2003", "us-healthcare-cdc-2008"]),
)
def test_the_path_after_a_failure_against_a_diary(results, causes, rules):
    results = dict(sorted(results.items()))
    causes = {c for c in causes if c not in results}  # on one day the order of cause and test is not known
    tests = tuple(
        bio(day_of(n), result=what, known=day_of(n), chamber="empty", purpose="repeat") for n, what in results.items()
    )
    failed = [t for t, what in zip(tests, results.values(), strict=True) if what == "growth"]
    steps = tuple(step(day_of(n), "find cause", done=day_of(n)) for n in sorted(causes))
    facts = unit(bio_tests=tests, cases=tuple(case(t.row.origin, t.row.happened_on, *steps) for t in failed[:1]))
    if len({*failed}) > 1:  # every failure may be the one that opens a case: the steps hang on each
        facts = unit(bio_tests=tests, cases=tuple(case(t.row.origin, FIRST, *steps) for t in failed))
    regime = load_regime(rules)
    path = regime.path("biological")
    expected = diary(
        [(n, what) for n, what in results.items() if what != "invalid"],
        [(n, "cause") for n in causes],
        path.repeats,
        path.return_passes,
    )
    for n in range(61):
        today = unit_by_day(facts, day_of(n))
        replays = replay_all(today, regime, judge_tests(today.bio_tests, regime.validity), [])
        assert any(r.resolved_on is None for r in replays if r.path.kind == "biological") is expected[n], day_of(n)
