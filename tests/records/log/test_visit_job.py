"""The names that a visit's job may have are those of its tables, and no other is taken."""

import pytest

from audit.pages.visit.guide.job import UnitOnRecord, job_of
from records.log.visit_job import ROWS, JobEnding, VisitJob, typed
from records.log.visits import LEAVES
from records.models import Job, JobConclusion
from records.models.base import Fact

# What the visit itself says for all its rows, and what stands in the place of a column.
COMMON = {f.name for f in Fact._meta.local_fields} | {"id", "clinic", "unit", "job", "visit"}
INSTEAD = {"signed_by": "name"}

# Of a job, what is told in rows of other tables: its unit, day and end, tests in a cycle, a unit that was left alone.
BESIDE = {"unit", "on", "conclusion", "spore_tests", "chemicals", "meanwhile"}


def columns(model) -> set[str]:
    own = {f.name for f in model._meta.concrete_fields} - COMMON
    return {INSTEAD.get(name, name) for name in own}


@pytest.mark.parametrize("kind", LEAVES)
def test_a_row_has_the_names_of_its_columns(kind):
    assert set(ROWS[kind].__annotations__) == columns(LEAVES[kind])


def test_the_job_and_its_end_have_the_names_of_their_columns():
    assert set(JobEnding.__annotations__) == columns(JobConclusion)
    assert set(VisitJob.__annotations__) == columns(Job) | BESIDE | set(LEAVES)


@pytest.mark.parametrize(("job", "place"), [
    ({"outcome": []}, "jobs.0.outcome"),
    ({"outcomes": [{}, {"acton": "clean"}]}, "jobs.0.outcomes.1.acton"),
    ({"conclusion": {"ends": "released"}}, "jobs.0.conclusion.ends"),
])  # fmt: skip
def test_an_unknown_name_is_refused_with_its_place(job, place):
    with pytest.raises(TypeError, match=f"^{place} is no field of a visit's job. Use one of: "):
        typed([job])


def test_what_the_guided_visit_amounts_to_is_such_a_job():
    answers = {
        "identify": {"plate": "same", "cycles": 5, "cycles_why": "new board", "cycles_add": 7},
        "safe": {"reason": "planned maintenance", "s0": True},
        "extra-1": {"what": "hinge", "outcome": "done", "decision": "replace", "part_name": "hinge", "grade": 2},
        "found": {"x0_quantity": "temperature", "x0_as_found": 134, "x0_unit_of_measure": "°C"},
        "prove": {"V1": "pass", "b0_lot": "one", "b0_cycle_type": "wrapped", "c0_type": "5", "c0_result": "pass"},
        "end": {"conclusion": "released", "technician": True, "clinic": "returned to use", "clinic_name": "A. User"},
    }
    made = job_of(answers, UnitOnRecord({}, {}), technician="B. Fixer").job
    assert all(made[kind] for kind in ROWS), "a row of every kind"
    assert typed([made]) == [made]
