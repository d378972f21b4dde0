"""Every step of making a unit safe is answered, or it is an open item that names the step."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity
from records.wording import MAKE_SAFE, MAKE_SAFE_STEPS
from tests.audit.unsafe.table import history
from tests.fact_builders import MADE_SAFE, job, outcome, part, seen

DAY, AS_OF = "2025-06-23", "2025-06-27"
TEXT = {key: text for key, text, _ in MAKE_SAFE_STEPS}
BEFORE = (  # the list as it was before
    "user confirms the unit is free and wiped", "switched off", "zero pressure confirmed by gauge and by venting",
    "cooled down", "unplugged, plug in sight, before the cover comes off", "drained",
)  # fmt: skip
PLATE = "plate read: serial number, maker and model as on record: done"


def steps(answers=(), without=(), all="done"):
    """The whole list done, but for `answers` by key, and without the steps of `without`."""
    held = {key: all for key in TEXT} | dict(answers)
    return tuple(f"{TEXT[key]}: {answer}" for key, answer in held.items() if key not in without)


def before(answers=(), without=(), all="done"):
    held = {step: all for step in BEFORE} | dict(answers)
    return tuple(f"{step}: {answer}" for step, answer in held.items() if step not in without)


ZERO, PLUG = BEFORE[2], BEFORE[4]
# told, what was recorded, what the open item names; () for none
ROWS = [
    ("every step done", MADE_SAFE, ()),
    ("every step done at a time", steps(all="done at 13:25"), ()),
    ("every step done with a time", steps(all="done 13:25"), ()),
    ("the plate read beside every step", (PLATE, *MADE_SAFE), ()),
    ("nothing recorded", (), MAKE_SAFE),
    ("only the plate read", (PLATE,), MAKE_SAFE),
    *((f"{key} left out", steps(without=(key,)), (TEXT[key],)) for key in TEXT if key != "vacuum"),
    ("vacuum left out on a gravity unit", steps(without=("vacuum",)), ()),
    ("vacuum left out on a vacuum unit", steps(without=("vacuum",)), (TEXT["vacuum"],)),
    ("gauge broken", steps({"zero pressure": "gauge broken"}), ("gauge broken",)),
    ("gauge broken, what was done instead", steps({"zero pressure": "gauge broken, vented and waited an hour"}),
     ("vented and waited",)),
    ("answered no", steps({"energy": "no"}), (TEXT["energy"],)),
    ("done, with a doubt", steps({"cooled": "done, but still hot"}), ("still hot",)),
    ("not on this unit, with the reason", steps({"generator": "not on this unit: steam from the chamber"}), ()),
    ("not on this unit, without a reason", steps({"generator": "not on this unit"}), (TEXT["generator"],)),
    ("pressure is on every unit", steps({"zero pressure": "not on this unit: no gauge"}), (TEXT["zero pressure"],)),
    ("the list of before, done", before(), ()),
    ("the list of before, done at times", before(all="done at 09:05"), ()),
    ("the list of before without pressure", before(without=(ZERO,)), (TEXT["zero pressure"],)),
    ("the list of before, not unplugged", before({PLUG: "it has no plug"}), ("it has no plug",)),
    ("the list of before, left plugged in", before(without=(PLUG,)), (TEXT["unplugged"],)),
    ("the list of before, not drained", before({"drained": "pump blocked"}), ("pump blocked",)),
    ("an old sheet", ("unplugged before the cover came off: done", "cooled down and without pressure: done"), ()),
    ("an old sheet silent on pressure", ("unplugged before the cover came off: done",), (TEXT["zero pressure"],)),
]  # fmt: skip


def judged(made_safe, type="gravity", **more):
    more = more or {"parts": (part(DAY),)}
    work = job(DAY, tests=("V1", "V2"), make_safe=made_safe, **more)
    said = history("safe", as_of=AS_OF, not_says=("nothing of the kind",), jobs=(work,), type=type).values[0].judged()
    return [f for f in said.findings if f.rule == "make-safe-not-recorded"]


@pytest.mark.parametrize(("told", "recorded", "named"), ROWS, ids=[r[0] for r in ROWS])
def test_each_step_is_answered_or_named(told, recorded, named):
    found = judged(recorded, "dynamic air removal" if "vacuum unit" in told or "nothing" in told or "only" in told
                   else "gravity")  # fmt: skip
    assert len(found) == bool(named)
    assert all(text in found[0].message for text in named)
    assert all(f.severity is Severity.PUT_RIGHT and f.way_out for f in found)
    others = [text for text in MAKE_SAFE if text not in named and not any(n in text for n in named)]
    if len(named) == 1 and named[0] in MAKE_SAFE:
        assert not any(f"{text}: not recorded" in found[0].message for text in others)


def test_the_clinics_own_statement_answers_the_first_step():
    work = job(DAY, make_safe=steps(without=("clean",)), parts=(part(DAY),))
    for said, count in (("declared clean", 0), ("declared contaminated", 0), ("not declared", 1), ("", 1)):
        jobs = (replace(work, contamination=said),)
        judgement = history("x", as_of=AS_OF, not_says=("nothing",), jobs=jobs).values[0].judged()
        assert sum(f.rule == "make-safe-not-recorded" for f in judgement.findings) == count, said


def test_work_that_opens_nothing_asks_no_step_and_paper_history_is_taken_as_it_is():
    assert judged((), outcomes=(outcome(DAY, what="not due"),)) == []
    assert judged((), findings=(seen(DAY, "seal", 1, "leave"),)) == []
    assert judged((), findings=(seen(DAY, "seal", 1, "adjust"),)) != []
    assert judged((), reason="installation", outcomes=(outcome(DAY),)) == []
    paper = job(DAY, make_safe=(), parts=(part(DAY),))
    paper = replace(paper, row=replace(paper.row, paper="page 3"))
    said = history("x", as_of=AS_OF, not_says=("nothing",), jobs=(paper,)).values[0].judged()
    assert "make-safe-not-recorded" not in {f.rule for f in said.findings}
