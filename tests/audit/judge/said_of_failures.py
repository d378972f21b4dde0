"""The cases of one unit under a failure path made for the test, from short lines of results."""

from dataclasses import replace
from datetime import date

from audit.facts import unit_by_day
from audit.judge.biological import judge_tests
from audit.judge.response import cases_of, replay_all
from audit.regimes import load_regime
from tests.fact_builders import bio, case, on, unit

DAY = date(2025, 6, 1)
BASE = load_regime("us-dental-cdc-2003")
PLAIN = {
    "repeats": 1,
    "repeat_chamber": "any",
    "same_cycle_type": False,
    "needs_normal": False,
    "cause_before_repeat": False,
    "return_passes": 0,
    "return_chamber": "any",
    "return_each_cycle_type": False,
    "return_air_removal": 0,
    "return_order": "",
    "recall": "none stated",
    "unless_confined": False,
    "recall_scope": "since last pass",
    "notices": (),
}


def path_of(kind="biological", **words):
    """The path of CDC 2003 for a kind with everything but its steps replaced: plain, and as named."""
    found = BASE.path(kind) or replace(BASE.path("air leak"), kind=kind)
    return replace(found, **(PLAIN | words))


def regime_of(*paths):
    return replace(BASE, failure=paths)


def run(line, **more):
    """ "2025-03-10 growth wrapped empty": a spore test known on its own day."""
    day, what, *words = line.split()
    chamber = next((w for w in words if w in ("empty", "full")), "full")
    cycle_type = next((w for w in words if w not in ("empty", "full")), "wrapped")
    result = "" if what == "awaited" else what
    known = {"known": on(day)} if result else {}
    return bio(day, result=result, chamber=chamber, cycle_type=cycle_type, **(known | more))


def cases(path, lines, steps=(), as_of=DAY, **more):
    """All cases after the runs in `lines`; the steps stand in the case of the first failure."""
    tests = tuple(line if not isinstance(line, str) else run(line) for line in lines)
    failed = [t for t in tests if any(r.test == "growth" for r in t.readings)]
    if failed and steps:
        more["cases"] = (case(failed[0].row.origin, failed[0].row.happened_on, *steps),)
    facts = unit_by_day(unit(bio_tests=tests, **more), as_of)
    regime = regime_of(path)
    verdicts = judge_tests(facts.bio_tests, regime.validity)
    return cases_of(facts, replay_all(facts, regime, verdicts, []), verdicts, as_of)


def one_case(*args, **more):
    (found,) = cases(*args, **more)
    return found
