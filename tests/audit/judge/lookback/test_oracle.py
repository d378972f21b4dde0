"""A slow diary, read day by day and row by row from the words of the rules alone, against the engine."""

from datetime import timedelta

from hypothesis import HealthCheck, example, given, settings

from audit.facts import in_order, unit_by_day
from audit.judge.biological import judge_tests
from audit.regimes import load_regime
from tests.audit.judge.lookback.histories import FIRST, LAST, LENGTH, histories
from tests.audit.judge.lookback.said import NO_PATHS, RULES, backs
from tests.examples import examples
from tests.fact_builders import clinic, load, unit, user_check

MANY = settings(max_examples=examples(200), deadline=None, suppress_health_check=list(HealthCheck))


def came_before(load, proof_day, proof_at, proof_cycle):
    """Whether the load is shown to have come before the proof, or to be its cycle: never a guess."""
    day = load.row.happened_on
    if day < proof_day:
        return True
    if day > proof_day:
        return False
    if load.cycle_number and load.cycle_number == proof_cycle:
        return True
    if load.row.happened_at and proof_at:
        return load.row.happened_at <= proof_at
    numbers = (load.cycle_number, proof_cycle)
    return all(n.isdigit() for n in numbers) and int(numbers[0]) < int(numbers[1])


def inside(facts, proof, to):
    """Every load of every day up to the end that is not shown to have come before the proof."""
    out = set()
    for n in range(LENGTH + 1):
        today = FIRST + timedelta(days=n)
        for one in facts.loads:
            if one.row.happened_on == today <= to and not (proof and came_before(one, *proof)):
                out.add(one.row.ref)
    return out


def run(fact):
    return fact.row.happened_on, fact.row.happened_at, getattr(fact, "cycle_number", "")


def came_first(one, other):
    """Whether one result is shown to have come before another: of one day by both times, else by both numbers."""
    (day, at, cycle), (other_day, other_at, other_cycle) = one, other
    if day != other_day:
        return day < other_day
    if cycle and cycle == other_cycle:
        return False
    if at and other_at:
        return at < other_at
    return cycle.isdecimal() and other_cycle.isdecimal() and int(cycle) < int(other_cycle)


def proof_of(passed, failures):
    """The last pass shown to have come before every one of the failures."""
    proof = None
    for one in in_order(passed):
        if all(came_first(run(one), run(bad)) for bad in failures):
            proof = one
    return proof


def spore_passes(facts):
    verdicts = judge_tests(facts.bio_tests, load_regime(RULES).validity)
    return [t for t in facts.bio_tests if verdicts[t.row.origin].verdict == "passed"]


@MANY
@given(histories())
def test_positive_spore_tests(history):
    facts, place = history
    verdicts = judge_tests(facts.bio_tests, load_regime(RULES).validity)
    passed = spore_passes(unit_by_day(facts, LAST))
    for back in backs(facts, place=place, as_of=LAST):
        if back.kind != "positive spore test":
            continue
        refs = [e.ref for e in back.evidence]
        failing = [t for t in facts.bio_tests if t.row.ref in refs]
        known = min(verdicts[t.row.origin].known_on for t in failing)
        good = proof_of(passed, failing)
        proof = run(good) if good else None
        assert (back.to, back.after) == (known, proof[0] if proof else None), "whatever was withdrawn before"
        assert {e.ref for e in back.loads} == inside(facts, proof, known)


def one_day(*results):
    """A history of automatic control tests alone: (day of March, result, time, cycle), logged in that order."""
    checks = [user_check(f"2025-03-{day:02}", result=what, at=at, cycle=cycle) for day, what, at, cycle in results]
    run_then = [load(f"2025-03-{day:02}", at=at) for day in (1, 2) for at in ("", "07:00", "15:00")]
    facts = unit(FIRST, checks=tuple(checks), loads=tuple(run_then))
    return facts, clinic(facts)


@MANY
@given(histories())
@example(one_day((1, "pass", "", ""), (1, "fail", "", ""), (1, "pass", "", ""), (2, "fail", "", "")))
@example(one_day((1, "pass", "08:00", ""), (1, "fail", "09:00", ""), (1, "pass", "", ""), (2, "fail", "", "")))
@example(one_day((1, "pass", "", ""), (2, "fail", "", ""), (2, "pass", "", ""), (2, "fail", "", "")))
def test_checks_that_failed(history):
    """Where the rules have no path: from the last pass of the kind, or where none is the last spore test that passed.

    Failures with the same proof are one look-back, as no pass is shown to lie between them.
    """
    facts, place = history
    rows = in_order(facts.checks)
    expected = {}
    for bad in (c for c in rows if c.result == "fail"):
        proof = proof_of([c for c in rows if c.result == "pass"], [bad]) or proof_of(spore_passes(facts), [bad])
        expected.setdefault(proof and proof.row.ref, (proof, []))[1].append(bad)
    listed = backs(facts, place=place, as_of=LAST, regime=NO_PATHS)
    said = {e.ref: b for b in listed for e in b.evidence if e.ref in {c.row.ref for c in rows}}
    assert set(said) == {c.row.ref for c in rows if c.result == "fail"}
    for proof, failures in expected.values():
        back = said[failures[0].row.ref]
        assert [e.ref for e in back.evidence] == [c.row.ref for c in failures]
        to = max(c.row.happened_on for c in failures)
        assert (back.to, {e.ref for e in back.loads}) == (to, inside(facts, proof and run(proof), to))


@MANY
@given(histories())
def test_found_out_of_tolerance(history):
    facts, place = history
    said = {b.evidence[0].ref: b for b in backs(facts, place=place, as_of=LAST) if b.kind == "found out of tolerance"}
    readings = in_order(r for job in facts.jobs for r in job.readings)
    seen = set()
    for bad in (r for r in readings if r.as_found is not None and not 134 <= r.as_found <= 137):
        seen.add(bad.row.ref)
        back, day = said[bad.row.ref], bad.row.happened_on
        shown = [r for r in readings if 134 <= r.as_left <= 137 and came_first(run(r), run(bad))]
        proof = run(shown[-1]) if shown else None
        assert (back.to, {e.ref for e in back.loads}) == (day, inside(facts, proof, day))
    assert seen == set(said)
