"""A slow diary, read day by day and row by row from the words of the rules alone, against the engine."""

from datetime import timedelta

from hypothesis import HealthCheck, given, settings

from audit.facts import in_order, unit_by_day
from audit.judge.biological import judge_tests
from audit.regimes import load_regime
from tests.audit.judge.lookback.histories import FIRST, LAST, LENGTH, histories
from tests.audit.judge.lookback.said import NO_PATHS, RULES, backs
from tests.examples import examples

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


def last_day(facts, first, known):
    """Walk the days and see whether the unit stands withdrawn when the failure becomes known."""
    withdrawn = None
    for n in range(LENGTH + 1):
        today = FIRST + timedelta(days=n)
        for one in in_order([e for e in facts.events if e.row.happened_on == today <= known]):
            withdrawn = today if one.kind == "withdrawn" else None
    return withdrawn if withdrawn and withdrawn >= first else known


def inside(facts, proof, to):
    """Every load of every day up to the end that is not shown to have come before the proof."""
    out = set()
    for n in range(LENGTH + 1):
        today = FIRST + timedelta(days=n)
        for load in facts.loads:
            if load.row.happened_on == today <= to and not (proof and came_before(load, *proof)):
                out.add(load.row.ref)
    return out


def runs_in_order(facts):
    return list(in_order(facts.bio_tests))


@MANY
@given(histories())
def test_positive_spore_tests(history):
    facts, place = history
    verdicts = judge_tests(facts.bio_tests, load_regime(RULES).validity)
    tests = runs_in_order(unit_by_day(facts, LAST))
    for back in backs(facts, place=place, as_of=LAST):
        if back.kind != "positive spore test":
            continue
        refs = [e.ref for e in back.evidence]
        failing = [t for t in tests if t.row.ref in refs]
        known = min(verdicts[t.row.origin].known_on for t in failing)
        proof = None
        for test in tests[: tests.index(failing[0])]:
            if verdicts[test.row.origin].verdict == "passed":
                proof = (test.row.happened_on, test.row.happened_at, test.cycle_number)
        to = last_day(facts, failing[0].row.happened_on, known)
        assert (back.to, back.after) == (to, proof[0] if proof else None)
        assert {e.ref for e in back.loads} == inside(facts, proof, to)


@MANY
@given(histories())
def test_checks_that_failed(history):
    """Where the rules have no path: failures in a row, from the last pass of the kind or the last spore test."""
    facts, place = history
    verdicts = judge_tests(facts.bio_tests, load_regime(RULES).validity)
    expected, row, proof = [], [], None
    for check in [*in_order(facts.checks), None]:
        if check is not None and check.result == "fail":
            row.append(check)
            continue
        if row and proof:
            expected.append(([c.row.ref for c in row], proof))
        elif row:  # none passed before: each reaches back to a spore test of an earlier day (or nothing)
            by_proof = {}
            for one in row:
                passed = [
                    t
                    for t in runs_in_order(facts)
                    if t.row.happened_on < one.row.happened_on and verdicts[t.row.origin].verdict == "passed"
                ]
                last = passed[-1] if passed else None
                by_proof.setdefault(last and last.row.ref, (last, []))[1].append(one.row.ref)
            for last, refs in by_proof.values():
                expected.append((refs, last and (last.row.happened_on, last.row.happened_at, last.cycle_number)))
        row = []
        if check is not None:
            proof = (check.row.happened_on, check.row.happened_at, check.cycle_number)
    days = {c.row.ref: c.row.happened_on for c in facts.checks}
    listed = backs(facts, place=place, as_of=LAST, regime=NO_PATHS)
    said = {e.ref: b for b in listed for e in b.evidence if e.ref in days}
    assert set(said) == {r for refs, _ in expected for r in refs}
    for refs, start in expected:
        back = said[refs[0]]
        assert [e.ref for e in back.evidence] == refs
        to = last_day(facts, days[refs[0]], days[refs[-1]])
        assert (back.to, {e.ref for e in back.loads}) == (to, inside(facts, start, to))


@MANY
@given(histories())
def test_found_out_of_tolerance(history):
    facts, place = history
    said = {b.evidence[0].ref: b for b in backs(facts, place=place, as_of=LAST) if b.kind == "found out of tolerance"}
    proof, seen = None, set()
    for job in in_order(facts.jobs):
        for reading in job.readings:
            day = reading.row.happened_on
            if reading.as_found is not None and not 134 <= reading.as_found <= 137:
                seen.add(reading.row.ref)
                back = said[reading.row.ref]
                to = last_day(facts, proof[0] if proof else FIRST, day)
                assert (back.to, {e.ref for e in back.loads}) == (to, inside(facts, proof, to))
            if 134 <= reading.as_left <= 137:
                proof = (day, reading.row.happened_at, "")
    assert seen == set(said)
