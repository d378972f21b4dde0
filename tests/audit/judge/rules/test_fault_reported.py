"""A reported fault is open until somebody looked at it or settled it, in the trade's words. Common practice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from audit import facts as f
from audit.judge.evaluate import evaluate
from tests import fact_builders as build

from .judged import DAY, items, one

DAY_IT_WAS = "2025-06-10"


def fault(*, at="", withdrawal="", settled=None):
    done = f.FaultSettledFact(build.row(settled), "a towel was in the door", "Ana Example") if settled else None
    return f.FaultFact(
        build.row(DAY_IT_WAS, at=at, ref="fault"), reported_by="Rae Reception", how="telephone", what="it hisses",
        withdrawal=withdrawal, kept_because="" if withdrawal else "Ana Example: only the drying", settled=done,
    )  # fmt: skip


def came(day, *, hour=None, reason="breakdown", end="released"):
    arrived = datetime.fromisoformat(f"{day}T{hour}:00+00:00").astimezone(UTC) if hour else None
    return replace(build.job(day, reason=reason, end=end), arrived_at=arrived)


OUT = build.installed(DAY_IT_WAS, kind="withdrawn", reason="fault reported: it hisses")
BACK = replace(build.installed("2025-06-12", kind="returned", reason="a towel"), ends=OUT.row.origin)
# what came later, whether the report is open on 20 June
TABLE = [
    ("nothing", {}, True),
    ("settled", {"faults": (fault(settled="2025-06-20"),)}, False),
    ("settled a day later", {"faults": (fault(settled="2025-06-21"),)}, True),
    ("a job for it", {"jobs": (came("2025-06-11"),)}, False),
    ("left out of use", {"jobs": (came("2025-06-11", end="not released"),)}, False),
    ("not worked on", {"jobs": (came("2025-06-11", end="not worked on"),)}, True),
    ("planned work only", {"jobs": (came("2025-06-11", reason="planned"),)}, True),
    ("a job before it", {"jobs": (came("2025-06-09"),)}, True),
    ("the same day, no times", {"jobs": (came(DAY_IT_WAS),)}, True),
    ("the same day, begun after", {"faults": (fault(at="08:00"),), "jobs": (came(DAY_IT_WAS, hour="10:00"),)}, False),
    ("the same day, begun before", {"faults": (fault(at="11:00"),), "jobs": (came(DAY_IT_WAS, hour="10:00"),)}, True),
    ("returned", {"faults": (fault(withdrawal=OUT.row.origin),), "events": (OUT, BACK)}, False),
    ("returned, not named", {"faults": (fault(withdrawal=OUT.row.origin),),
                             "events": (OUT, replace(BACK, ends=""))}, True),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "is_open"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_open_until_somebody_looked(facts, is_open):
    more = {"faults": (fault(),)} | facts
    more["events"] = (build.installed("2024-01-01"), *more.get("events", ()))
    assert bool(items(rule="fault-reported", **more)) is is_open


def test_it_says_who_reported_what_and_whether_the_unit_may_be_used():
    kept = one(faults=(fault(),), rule="fault-reported")
    assert kept.message == (
        "fault reported on 2025-06-10 by Rae Reception: it hisses; nobody has looked at it yet; the unit stays in "
        "use: Ana Example: only the drying"
    )
    out = one(faults=(fault(withdrawal="w"),), rule="fault-reported")
    assert out.message.endswith("taken out of service when it was reported")


def test_a_report_changes_no_answer_and_its_end_returns_no_unit():
    """What permits or forbids is the withdrawal alone, whatever is said of the report."""
    begun = build.installed("2024-01-01")

    def word(**more):
        return evaluate(build.clinic(build.unit(**more)), DAY, brief=True).units[0].standing.word

    assert word(events=(begun,)) == word(events=(begun,), faults=(fault(),))
    out = {"events": (begun, OUT)}
    left = [word(**out, faults=(fault(withdrawal=OUT.row.origin, settled=day),)) for day in (None, "2025-06-11")]
    assert [word(**out), *left] == ["Out of service"] * 3
