"""What the work of a visit amounts to before it is recorded: the class, the tests it asks, how it may end.

The same computation as after it is recorded (`audit.judge.proof_after_work`), so that no page promises what judgement
will not hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime

from audit import facts as f
from audit.judge.biological import judge_tests
from audit.judge.judgement import Finding
from audit.judge.proof_after_work import (
    LIMITED,
    NOT_RELEASED,
    NOT_WORKED,
    PENDING,
    RELEASED,
    Work,
    works_of,
)
from audit.judge.work.asked import class_of
from audit.judge.work.classes import AWAITED
from audit.judge.work.touched import NamesOnUnit, was_replaced
from audit.regimes.model import Regime, VerificationSet

DYNAMIC_TYPE = "dynamic air removal"
RANK = ("A", "B", "C", "X")
DRAFT = "draft"
# What a test of the cycle holds as numbers, least and greatest with the band and time that it must keep.
MEASURED = (
    "temperature_low", "temperature_high", "band_low", "band_high", "minutes", "minutes_needed", "pressure_low",
    "pressure_high",
)  # fmt: skip
WITH_VALUES = ("V1", "V4")


def job_fact(job: dict, on: date, moment: datetime, lots: Mapping[str, str] | None = None) -> f.JobFact:
    """The job as a fact. `job` as made by `guide.job`: rows are named by code of line and origin.

    `lots`: the name of the part by the origin of its lot, for parts that are named by a lot alone.
    """
    lots = lots or {}
    row = f.Row(DRAFT, DRAFT, 2**31, 0, on, None, moment)
    outcomes = [
        f.OutcomeFact(
            row, o.get("plan_line", ""), o.get("position", ""), o["action"], o["outcome"], o.get("found", ""),
            o.get("reason", ""), o.get("deferred_until"), o.get("decided_by", ""), o.get("agreed_by", ""),
        )
        for o in job.get("outcomes", ())
    ]  # fmt: skip
    findings = [
        f.FindingFact(
            row, n.get("position", ""), n.get("component", ""), n.get("grade"), n.get("seen", ""), n["decision"],
            n.get("rule", ""), n.get("reason", ""), n.get("repair_class", "A"), n.get("part_needed", ""),
            n.get("part_needed_number", ""),
        )
        for n in job.get("findings", ())
    ]  # fmt: skip
    parts = [
        f.PartFact(
            row, p.get("position", ""), p.get("name") or lots.get(str(p.get("part_lot")), ""), p.get("number", ""),
            p.get("lot", ""), p.get("lot_state", ""), p.get("receipt_lot", ""), p.get("expiry"), p.get("quantity", 1),
            p["action"], p.get("old_part", ""), p.get("kit", ""), p.get("kit_fate", ""), p.get("kit_pieces"),
        )
        for p in job.get("parts", ())
    ]  # fmt: skip
    tests = [
        f.VerificationFact(
            row,
            t["code"],
            t["result"],
            t.get("value", ""),
            t.get("cycle_number", ""),
            "",
            **{name: t.get(name) for name in MEASURED},
        )  # fmt: skip
        for t in job.get("tests", ())
    ]
    readings = [
        f.ReadingFact(
            row, r["quantity"], r.get("unit_of_measure", ""), r.get("point", ""), r.get("as_found"), r.get("as_left"),
            r.get("lower"), r.get("upper"), r.get("limit_source", ""), r.get("instrument", ""),
            r.get("calibration_due"), r.get("found_while", ""), r.get("instrument_left", ""),
            r.get("calibration_due_left"),
        )
        for r in job.get("readings", ())
    ]  # fmt: skip
    return f.JobFact(
        row, DRAFT, "", "", None, None, job.get("reason", ""), job.get("complaint", ""),
        job.get("contamination", ""), (), job.get("class_stated", ""), job.get("class_reason", ""),
        outcomes=tuple(outcomes), findings=tuple(findings), readings=tuple(readings), parts=tuple(parts),
        tests=tuple(tests),
    )  # fmt: skip


def derived_class(unit: f.UnitFacts, job: f.JobFact) -> str:
    """The class that follows from what was done alone; "A" when that is nothing.

    What the table of components does not know is left out: which class it is, is to be stated with the reason.
    """
    return class_of(replace(job, class_stated="A", class_reason="left out"), NamesOnUnit(unit)).letter or "A"


def higher(one: str, other: str) -> str:
    """The higher of two classes; one that is not known counts as routine."""
    return max(one, other, key=lambda letter: RANK.index(letter) if letter in RANK else 0)


def classes_from(lowest: str) -> tuple[str, ...]:
    """The classes that may be stated: the lowest and every higher one."""
    return RANK[RANK.index(lowest) :]


def proof(unit: f.UnitFacts, regime: Regime, job: f.JobFact) -> Work:
    """The job judged as it stands now, as the newest of the unit: what is asked, missing and failed."""
    verdicts = judge_tests(unit.bio_tests, regime.validity)
    return works_of(replace(unit, jobs=(job,)), regime, verdicts)[0]


def asked_codes(work: Work, unit: f.UnitFacts) -> tuple[str, ...]:
    """The tests that the class asks of this unit, in order."""
    if work.asked is None:
        return ()
    return _codes(work.asked, unit)


def tests_of_class(regime: Regime, letter: str, unit: f.UnitFacts) -> tuple[str, ...]:
    """The tests that the rules ask of this unit after work of a class, in order."""
    return _codes(regime.verification_set(letter), unit)


def _codes(held: VerificationSet, unit: f.UnitFacts) -> tuple[str, ...]:
    dynamic = held.dynamic if unit.equipment_type == DYNAMIC_TYPE else ()
    return tuple(sorted({*held.tests, *dynamic}, key=lambda code: int(code[1:])))


def still_missing(work: Work) -> tuple[str, ...]:
    """What is still to be proven, in words of the tests' codes and of spore tests."""
    spores = (work.biological_words,) if work.short else ()
    return (*work.missing, *spores)


def left_outside(job: dict) -> tuple[str, ...]:
    """The readings of a job that were left outside their limits, in words. A limit itself is within."""
    found = []
    for r in job.get("readings", ()):
        low, high, left = r.get("lower"), r.get("upper"), r.get("as_left")
        if left is not None and ((low is not None and left < low) or (high is not None and left > high)):
            what = ", ".join(filter(None, (r["quantity"], r.get("point"))))
            limits = f"{'no lower limit' if low is None else low} to {'no upper limit' if high is None else high}"
            found.append(f"{what} as left {left} {r['unit_of_measure']}, limits {limits}")
    return tuple(found)


def was_worked_on(job: dict) -> bool:
    """Whether anything was done to the unit, looked at or fitted."""
    acted = any(o["outcome"] == "done" for o in job.get("outcomes", ()))
    return acted or bool(job.get("findings") or job.get("parts"))


AWAITED_RULES = ("part-awaited", "safety-finding-open")  # open items of what waits for its part


def still_awaited(unit: f.UnitFacts, findings: Iterable[Finding], job: f.JobFact) -> tuple[str, ...]:
    """What must be replaced and was not, in words: found in this job, or open since an earlier one.

    `findings` are the open items of the unit. An earlier one ends here only with another part fitted at its place.
    """
    fitted = [part for part in job.parts if was_replaced(part)]
    before = [x for x in awaited_before(unit, findings) if not any(_is_fitted(x, part) for part in fitted)]
    now = [x for x in job.findings if x.decision == AWAITED]
    return tuple(f"{x.component or 'unit'}: {x.seen}" for x in (*before, *now))


def awaited_before(unit: f.UnitFacts, findings: Iterable[Finding]) -> list[f.FindingFact]:
    """What was awaited before this visit; `findings` are the open items of the unit."""
    open_ = {e.ref for item in findings if item.rule in AWAITED_RULES for e in item.evidence}
    return [x for job in unit.jobs for x in job.findings if x.decision == AWAITED and x.row.ref in open_]


def _is_fitted(finding: f.FindingFact, part: f.PartFact) -> bool:
    if finding.position:
        return finding.position == part.position
    return finding.component.casefold() == part.name.casefold()


def endings(work: Work, worked_on: bool, awaited: bool = False) -> tuple[str, ...]:
    """How the job may end, see `ways_to_end`."""
    stopped = bool(work.failed or work.do_not_use)
    return ways_to_end(stopped, bool(still_missing(work)), awaited, worked_on)


def ways_to_end(stopped: bool, missing: bool, awaited: bool, worked_on: bool) -> tuple[str, ...]:
    """How a job may end, as a table:

    | what is so | endings |
    | --- | --- |
    | a test failed, or what was found forbids use (`stopped`) | not released |
    | something must be replaced, and a test is missing | not released |
    | something must be replaced, all else proven | limited, not released |
    | a test is missing | pending, not released |
    | all is proven | released, limited, pending, not released |

    A unit to which nothing was done may also be left as not worked on.
    """
    left = () if worked_on else (NOT_WORKED,)
    if stopped or (awaited and missing):
        return (NOT_RELEASED, *left)
    if awaited:
        return (LIMITED, NOT_RELEASED, *left)
    if missing:
        return (PENDING, NOT_RELEASED, *left)
    return (RELEASED, LIMITED, PENDING, NOT_RELEASED, *left)


# Why “released” is not offered, by what stands in the way; the first that holds is said.
WHY_NOT = {
    "failed": "A test failed last: {what}. Put it right and test again, or end as “not released”.",
    "unknown": "Nobody knows what kind of component this is: {what}. State the class of the work with its reason; "
    "until then it counts as major.",
    "forbids": "The class is “do not use”: it can only end as “not released”.",
    "awaited": "To be replaced, and no part was fitted: {what}. Leave the unit out of use, or, where all tests are "
    "passed, end with a limit: which use is allowed until then, and who at the clinic accepts it.",
    "missing": "Still missing: {what}. It may end as “pending”, with who accepts that and until when.",
}


def why_not_released(work: Work, titles: Iterable[str], awaited: Iterable[str] = ()) -> str:
    """Why “released” is not offered, "" when it is. `titles` are what is missing, `awaited` what must be replaced, in
    words.
    """
    stands = {
        "failed": ", ".join(work.failed),
        "unknown": ", ".join(work.unknown),
        "forbids": "do not use" if work.do_not_use else "",
        "awaited": "; ".join(awaited),
        "missing": "; ".join(titles),
    }
    first = next((name for name in WHY_NOT if stands[name]), "")
    return WHY_NOT[first].replace("{what}", stands[first]) if first else ""
