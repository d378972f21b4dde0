"""The table of the sterilizers: last test, last service and what is due next, of each unit in one row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.binder.glance import sterilizers
from audit.binder.scope import scope
from audit.judge import judgement as j
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import column


def told(facts, judgement, title: str, n: int = 0) -> str:
    asked = scope(facts, judgement, sample.FROM, sample.TO)
    return column(sterilizers(asked), title)[n].replace("\u00a0", " ")


def judged(**changes):
    """The full clinic with changes to what is said of its first unit."""
    facts, judgement = full.clinic()
    unit = replace(judgement.units[0], **changes)
    return facts, replace(judgement, units=(unit, judgement.units[1]))


def test_a_unit_is_named_with_its_room_its_model_and_its_serial():
    assert told(*full.clinic(), "Unit, room") == "S1 Łódź\nRoom 2"
    assert told(*full.clinic(), "Model, serial").endswith("serial SN-ÆØÅ-0091")


def test_the_last_spore_test_is_told_with_its_day():
    assert told(*full.clinic(), "Last spore test") == "Passed\n25 May 2026"
    assert told(*full.clinic(), "Last spore test", 1) == "none on record"


def test_two_failed_tests_in_a_row_are_told_as_two():
    facts, judgement = full.clinic()
    verdicts = judgement.units[0].verdicts
    last = {test.row.origin for test in facts.units[0].bio_tests if test.row.happened_on >= date(2026, 5, 18)}
    failed = tuple(replace(v, verdict="failed") if v.test in last else v for v in verdicts)
    assert told(*judged(verdicts=failed), "Last spore test") == "Failed twice\n25 May 2026"


def test_the_last_service_is_told_with_its_conclusion_or_that_there_is_none():
    assert told(*full.clinic(), "Last service") == "4 Mar 2026\nreleased"
    facts, judgement = full.clinic()
    job = replace(facts.units[0].jobs[0], conclusion=None)
    facts = replace(facts, units=(replace(facts.units[0], jobs=(job,)), facts.units[1]))
    assert told(facts, judgement, "Last service") == "4 Mar 2026\nnot released"
    assert told(*full.clinic(), "Last service", 1) == "none on record"


def clock(code: str, due_on: date | None, overdue_on: date | None, state: j.State) -> j.Clock:
    return j.Clock(j.DueKind.PLAN, code, f"Replace {code} (yearly)", state, due_on, overdue_on, None, "", full.REGIME)


@pytest.mark.parametrize(
    ("clocks", "says"),
    [
        ([clock("seal", date(2026, 7, 1), date(2026, 8, 1), j.State.OK)], "1 Jul 2026\nReplace seal"),
        (
            [
                clock("seal", date(2026, 6, 1), date(2026, 8, 1), j.State.OK),
                clock("valve", date(2026, 5, 20), date(2026, 5, 21), j.State.OVERDUE),
            ],
            "20 May 2026\noverdue",
        ),
        ([clock("seal", None, None, j.State.NO_EVIDENCE)], "no day"),
        ([clock("seal", None, None, j.State.NOT_APPLICABLE)], "no day"),
    ],
)
def test_what_is_due_next_is_the_earliest_and_what_is_overdue_before_it(clocks, says):
    assert told(*judged(clocks=tuple(clocks)), "Next due") == says
