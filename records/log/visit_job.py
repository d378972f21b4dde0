"""What a visit's job is told as: one table for the job, rows of each kind under it, each with the names it may have.

These are plain tables at run time, so a story's TOML, a form and a test give the same thing, and what was sent has
the same digest as ever. `typed` is the one place where tables become these; it refuses a name that no row has.

Only what is given stands in a row: a name left out takes the default of its column. `plan_line`, `position`,
`part_lot` and the boxes of indicators are rows of the register; in the guided visit, until they are looked up, they
are the line's code, the position's origin and the ref of lot or box.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypedDict

from records.models import IndicatorLot, PartLot, PlanLine, Position, Unit

from .errors import InputPlace


class JobOutcome(TypedDict, total=False):
    """A task and what came of it."""

    plan_line: PlanLine | str | None
    position: Position | str | None
    action: str
    outcome: str
    found: str
    reason: str
    deferred_until: date | None
    decided_by: str
    agreed_by: str


class JobFinding(TypedDict, total=False):
    """The condition of a component, and what was decided about it."""

    position: Position | str | None
    component: str
    grade: int
    seen: str
    decision: str
    rule: str
    reason: str
    repair_class: str
    part_needed: str
    part_needed_number: str


class JobReading(TypedDict, total=False):
    """A quantity measured as found, as left or both, all in `unit_of_measure`; the limits are inclusive."""

    quantity: str
    unit_of_measure: str
    point: str
    as_found: Decimal | None
    as_left: Decimal | None
    lower: Decimal | None
    upper: Decimal | None
    limit_source: str
    instrument: str
    calibration_due: date | None
    found_while: str
    instrument_left: str
    calibration_due_left: date | None


class JobPart(TypedDict, total=False):
    """A part that was fitted or found; `part_lot` fills in what is left out of the texts."""

    position: Position | str | None
    part_lot: PartLot | str | None
    name: str
    number: str
    lot: str
    lot_state: str
    receipt_lot: str
    expiry: date | None
    quantity: int
    action: str
    old_part: str
    kit: str
    kit_fate: str
    kit_pieces: int | None


class JobTest(TypedDict, total=False):
    """A verification test, V1 to V10; what was measured in °C, kPa absolute and minutes."""

    code: str
    result: str
    value: str
    temperature_low: Decimal | None
    temperature_high: Decimal | None
    pressure_low: Decimal | None
    pressure_high: Decimal | None
    minutes: Decimal | None
    band_low: Decimal | None
    band_high: Decimal | None
    minutes_needed: Decimal | None
    cycle_number: str
    reason: str


class JobSporeTest(TypedDict, total=False):
    """A spore test that was run in the visit and is read later; `at` is the moment of its cycle, None: not known."""

    lot: IndicatorLot | str
    control_lot: IndicatorLot | str | None
    cycle_type: str
    cycle_number: str
    at: datetime | None
    purpose: str
    chamber: str
    place: str
    site: str
    mechanical: str
    chemical: str


class JobChemical(TypedDict, total=False):
    """A chemical indicator of the visit; `type` 1 to 6 of ISO 11140-1."""

    type: int
    result: str
    lot: IndicatorLot | str | None
    where: str
    cycle_number: str


class JobSignature(TypedDict, total=False):
    """A signature; `name` is whose, as typed."""

    meaning: str
    name: str
    role: str
    reason: str


class JobCounter(TypedDict, total=False):
    """A counter as shown; `offset` is what is to be added for the life total."""

    counter: str
    shown: Decimal
    offset: Decimal | None
    offset_reason: str


class JobEnding(TypedDict, total=False):
    """How the job ends."""

    conclusion: str
    limitation: str
    acceptor: str
    deadline: date | None
    reason: str


class VisitJob(TypedDict, total=False):
    """One unit's job. `make_safe`: pairs of a step and what is said of it. `on`: its day if not the visit's.

    `meanwhile`: of a unit that was not worked on, whether it may be used: out, kept (`records.log.left_alone`).
    """

    unit: Unit | None
    on: date
    worked_by: str
    reason: str
    complaint: str
    contamination: str
    make_safe: list[list[str]]
    class_stated: str
    class_reason: str
    outcomes: list[JobOutcome]
    findings: list[JobFinding]
    readings: list[JobReading]
    parts: list[JobPart]
    tests: list[JobTest]
    signatures: list[JobSignature]
    counters: list[JobCounter]
    spore_tests: list[JobSporeTest]
    chemicals: list[JobChemical]
    conclusion: JobEnding
    meanwhile: str


ROWS = {
    "outcomes": JobOutcome,
    "findings": JobFinding,
    "readings": JobReading,
    "parts": JobPart,
    "tests": JobTest,
    "signatures": JobSignature,
    "counters": JobCounter,
    "spore_tests": JobSporeTest,
    "chemicals": JobChemical,
}


def typed(jobs: Iterable[Mapping[str, Any]]) -> list[VisitJob]:
    """The jobs as they are, once every name in them is known. TypeError for the first that is not, with its place."""
    jobs = list(jobs)
    for n, job in enumerate(jobs):
        place = InputPlace() / "jobs" / n
        _known(VisitJob, job, place)
        for kind, row_type in ROWS.items():
            for k, row in enumerate(job.get(kind, ())):
                _known(row_type, row, place / kind / k)
        _known(JobEnding, job.get("conclusion") or {}, place / "conclusion")
    return jobs


def _known(kind: type, row: Mapping[str, Any], place: InputPlace) -> None:
    names = kind.__annotations__
    unknown = next((name for name in row if name not in names), None)
    if unknown is not None:
        raise TypeError(f"{place / unknown} is no field of a visit's job. Use one of: {', '.join(sorted(names))}.")
