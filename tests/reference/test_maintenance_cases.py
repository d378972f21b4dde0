"""Two-yearly maintenance of a cassette unit. Common practice, no source."""

from datetime import date

from audit.judge.clocks.plan import plan_clocks
from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.fact_builders import check, clinic, event, fit, job, line, outcome, part, position, unit

RENEWED = ("seal", "air-filter", "intake-filter", "check-valve")
PLAN = (*(line(f"replace-{p}", p) for p in RENEWED), line("inspect-plunger", "plunger", "inspect"))
POSITIONS = tuple(position(p) for p in (*RENEWED, "plunger"))


def clocks(as_of, intake="yes", jobs=()):
    fits = tuple(fit(p, intake if p == "intake-filter" else "yes") for p in (*RENEWED, "plunger"))
    facts = unit(type="cassette", events=(event("2023-06-01"),), plan=PLAN, positions=POSITIONS, fits=fits, jobs=jobs)
    return {c.code: c for c in plan_clocks(facts, date.fromisoformat(as_of))}


def test_after_two_years_seal_filters_and_check_valve_are_due_and_the_plunger_is_inspected():
    due = {name for name, c in clocks("2025-06-01").items() if c.state == "due"}
    assert due == {*(f"replace-{p}" for p in RENEWED), "inspect-plunger"}


def test_an_intake_filter_that_is_not_fitted_is_not_asked_for():
    assert clocks("2025-06-01", intake="none")["replace-intake-filter"].state == "not applicable"


def test_a_part_just_renewed_on_a_breakdown_is_not_renewed_again():
    early = job("2025-03-10", reason="breakdown", parts=(part("2025-03-10", "check-valve", "replaced on condition"),))
    said = clocks("2025-06-01", jobs=(early,))
    assert said["replace-check-valve"].state == "ok"
    assert str(said["replace-check-valve"].due_on) == "2027-03-10"
    assert said["replace-seal"].state == "due"


def test_an_inspection_does_not_renew():
    looked = job("2025-06-01", outcomes=(outcome("2025-06-01", "inspect-plunger", "plunger", "inspect"),))
    said = clocks("2025-06-02", jobs=(looked,))
    assert (said["inspect-plunger"].state, said["replace-seal"].state) == ("ok", "overdue")


def answer(**how):
    facts = unit(type="cassette", events=(event("2023-06-01"),), jobs=(job("2025-06-01", **how),))
    return evaluate_unit(facts, clinic(facts, regime="base"), load_regime("base"), date(2025, 6, 2))


def test_a_unit_is_unplugged_before_its_cover_comes_off():
    """Common practice; 29 CFR 1910.147(a)(2)(iii)(A) for cord and plug."""
    work = {"parts": (part("2025-06-01", "seal"),)}

    def noted(*steps):
        return "make-safe-not-recorded" in {f.rule for f in answer(make_safe=steps, **work).findings}

    assert noted() and noted("cooled down: done")
    assert noted("unplugged before the cover came off: done")  # pressure was not spoken of
    assert not noted("unplugged before the cover came off: done", "zero pressure confirmed by gauge: done 13:25")


def test_a_unit_is_powered_up_and_runs_a_function_cycle_before_it_returns():
    work = {"parts": (part("2025-06-01", "seal"),)}
    assert answer(tests=(), **work).standing.word == "Waiting for proof"
    assert answer(tests=(check("2025-06-01", "V1", "fail"),), **work).standing.word == "Waiting for proof"
    assert answer(tests=("V1",), **work).standing.word == "In service"
