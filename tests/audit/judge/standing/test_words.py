"""What an answer says, not only which rule it is: the oldest named, how many more, since when."""

from dataclasses import replace

import pytest

from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.audit.judge.standing_of import TESTED, standing
from tests.fact_builders import (
    bio,
    case,
    clinic,
    conclude,
    document,
    event,
    job,
    line,
    on,
    outcome,
    part,
    part_recall,
    placed,
    seen,
    step,
    unit,
)  # fmt: skip


def test_one_that_is_overdue():
    said = standing("2025-06-25", plan=(line(months=3),))
    assert said.reason == "overdue since 2025-04-02 (85 days): replace seal"
    assert said.since == on("2025-04-02")


def test_of_several_the_oldest_is_named_with_its_source():
    plan = (
        line("b-line", months=3, position=""),
        line("a-line", months=2, position=""),
        line("c", months=4, position=""),
    )
    said = standing("2025-06-25", plan=plan)
    assert said.reason == "overdue since 2025-03-02 (116 days): a line and 2 more"
    assert (said.rule, said.since, len(said.proof)) == ("R9", on("2025-03-02"), 3)


def test_no_evidence_at_all():
    said = standing("2025-06-25", events=(), placements=(placed("2025-01-01"),), plan=(line(),))
    assert (said.reason, said.since) == ("no evidence: replace seal", None)


def test_overdue_and_no_evidence_together():
    """One was done and is overdue, the other never: since when nobody can say."""
    done = job("2025-01-10", outcomes=(outcome("2025-01-10", "a-line", "", "inspect"),))
    plan = (line("a-line", "", "inspect", months=1), line("b-line", "", "clean", months=1))
    said = standing("2025-06-25", events=(), placements=(placed("2025-01-01"),), plan=plan, jobs=(done,))
    assert said.reason.endswith("a line and 1 more") and said.reason.startswith("overdue since 2025-02-11")
    assert said.since is None


@pytest.mark.parametrize(
    ("limitation", "reason", "said"),
    [("unwrapped only", "long story", "unwrapped only"), ("", "long story", "long story")],
)
def test_a_limitation_in_its_own_words_or_else_its_reason(limitation, reason, said):
    end = replace(conclude("2025-05-01", "limited", limitation=limitation), reason=reason)
    done = job("2025-05-01", outcomes=(outcome("2025-05-01"),), conclusion=end)
    assert standing("2025-06-25", jobs=(done,)).reason == f"released with a limitation: {said}"


def test_a_stated_class_counts_beside_what_was_found():
    alone = job("2025-05-01", class_stated="X", tests=(), outcomes=(outcome("2025-05-01"),))
    said = standing("2025-06-25", jobs=(alone,))
    assert (said.rule, len(said.proof)) == ("R2", 1) and "class stated by the technician" in said.reason
    both = job("2025-05-01", class_stated="X", tests=(), findings=(seen("2025-05-01", "", decision="condemn"),))
    said = standing("2025-06-25", jobs=(both,))
    assert said.rule == "R2" and said.reason.endswith("unit: as seen")
    assert [p.text.rpartition(": ")[2] for p in said.proof] == ["as seen", "class stated by the technician"]


@pytest.mark.parametrize(
    ("fitted", "notice", "since"),
    [("2025-02-01", "2025-05-01", "2025-05-01"), ("2025-05-20", "2025-05-01", "2025-05-20")],
)
def test_a_part_whose_notice_says_to_stop_use(fitted, notice, since):
    """21 CFR 806.2: a notice may ask to stop use. What is still in stops the unit, from the later of both days."""
    done = job(fitted, parts=(part(fitted, lot="P7"),))
    place = {"part_recalls": (part_recall(notice, lot="P7", action="stop use"),)}
    said = standing("2025-06-25", jobs=(done,), place=place)
    assert (str(said.word), said.rule, said.since) == ("Out of service", "R2", on(since))
    out = job("2025-06-01", parts=(part("2025-06-01", lot="P8"),))
    assert standing("2025-06-25", jobs=(done, out), place=place).rule == "R11"
    mild = {"part_recalls": (part_recall(notice, lot="P7", action="replace"),)}
    assert standing("2025-06-25", jobs=(done,), place=mild).rule == "R11"


@pytest.mark.parametrize(("whose", "rule"), [("unit-1", "R3"), ("unit-2", "R11")])
def test_an_examination_filed_with_the_place_counts_for_its_unit(whose, rule):
    paper = document("pressure examination", "2025-01-05", "2025-05-31", unit=whose)
    assert standing("2025-06-25", place={"documents": (paper,)}).rule == rule


@pytest.mark.parametrize(
    ("placements", "since"),
    [((), "2025-01-01"), (("2025-03-01",), "2025-01-01"), (("2025-01-01", "2025-03-01"), "2025-03-01")],
)
def test_in_service_since_it_was_placed_again(placements, since):
    """The first placement says where it stands; a later one is a move that may have ended a time in store."""
    said = standing("2025-06-25", placements=tuple(placed(day) for day in placements))
    assert (said.rule, said.since) == ("R11", on(since))


@pytest.mark.parametrize(("withdrawn", "rule"), [("2025-05-12", "R11"), ("2025-05-14", "R11"), ("2025-05-15", "R4")])
def test_a_return_signed_in_the_case_undoes_a_withdrawal_within_it(withdrawn, rule):
    """Known on the 12th, proven on the 14th, both inclusive: a withdrawal after that is another matter."""
    failed = bio("2025-05-12", result="growth", known="2025-05-12")
    proof = bio("2025-05-13", result="pass", known="2025-05-14", purpose="repeat")
    back = step("2025-05-15", "return", done="2025-05-15")
    rules = load_regime("us-dental-cdc-2003")
    for reason, steps, expected in (
        ("", (back,), "R4"),  # by hand, for a reason of its own
        ("", (back, step("2025-05-12", "withdraw", done=withdrawn)), rule),
        ("Positive spore test, 2025-05-12", (back,), rule),
        ("Positive spore test, 2025-05-11", (back,), "R4"),
    ):
        facts = unit(
            events=(event("2025-01-01"), event(withdrawn, "withdrawn", reason)),
            bio_tests=(*(t for t in TESTED), failed, proof),
            cases=(case(failed.row.origin, "2025-05-12", *steps),),
        )
        said = evaluate_unit(facts, clinic(facts), rules, on("2025-06-25")).standing
        assert said.rule == expected, (reason, said.reason)
