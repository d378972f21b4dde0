"""What an issued binder states is read back out of its data: each unit's answer once, whatever else is framed."""

from __future__ import annotations

import pytest

from audit.binder.contents import binder_contents
from audit.binder.sections import StandingBox, to_json
from audit.issue.contents_told import told
from tests.audit.binder import full, sample


@pytest.mark.parametrize("made", [sample.clinic, full.clinic], ids=["sample", "full"])
def test_each_unit_judged_is_read_back_with_its_answer_and_no_failure_is_taken_for_one(made):
    facts, judgement = made()
    binder = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    framed = [b for s in binder.sections for b in s.blocks if isinstance(b, StandingBox)]
    assert len(framed) > len(judgement.units), "a failure is framed too"
    read = told(to_json(binder)).units
    assert [unit.word for unit in read] == [unit.standing.word.value for unit in judgement.units]
    assert all(each.label in unit.title for each, unit in zip(judgement.units, read, strict=True))
