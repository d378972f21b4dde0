"""The answers on the pages of one unit as the job that is recorded, a `VisitJob` as `records.log.log_visit` takes it.

Rows of the register are named here by the code of a line of the plan, the origin of a position and the ref of a lot;
whoever records looks them up. `Made.places` says on which page each row was answered, so that what is refused can be
put right there.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit import facts as f
from audit.judge.proof_after_work import LIMITED, NOT_WORKED, PENDING, RELEASED
from audit.judge.work.classes import AWAITED

from .proof import MEASURED, higher
from .steps import END, EXTRA, FOUND, IDENTIFY, KIT, PROVE, SAFE, SAFE_STEPS, TASK

if TYPE_CHECKING:  # the shapes alone: this room asks nothing of the database
    from records.log.visit_job import JobCounter, JobFinding, JobPart, JobReading, JobTest, VisitJob

IDENTIFIED = "plate read: serial number, maker and model as on record"
MORE_READINGS = 3  # readings of what was never measured on the unit before
INSTRUMENTS = ("1", "2", "3")  # that are named where as found is measured
OF_LEFT = "4"  # one that is named where as left is measured
SPORE_TESTS = CHEMICALS = 3  # that may be run in one visit
RENEWED = ("replace", "repair kit")
FITTED = "fitted"
NOT_FITTED_OLD = {"old one kept": "kept"}  # of a piece that was not fitted, what is said of the old part


@dataclass(frozen=True, slots=True)
class UnitOnRecord:
    """What is on record of the unit that answers refer to. `readings`: the newest of each quantity and point."""

    lines: Mapping[str, f.PlanLineFact]
    positions: Mapping[str, f.PositionFact]
    readings: Sequence[f.ReadingFact] = ()


@dataclass(frozen=True, slots=True)
class MadeJob:
    """`places`: (kind of row, its number) to the page it was answered on."""

    job: VisitJob
    places: dict[tuple[str, int], str] = field(default_factory=dict)


def part_cases(planned: bool) -> tuple[dict, ...]:
    """When a part was fitted: replaced by decision, done as planned, or one of its numbers is stated."""
    done = ({"outcome": ("done",)},) if planned else ()
    numbers = tuple({name: None} for name in ("lot", "lot_printed", "receipt_lot"))
    return ({"decision": RENEWED}, *done, *numbers)


READING_KEY = re.compile("k[0-9a-f]{8}")


def reading_key(reading: f.ReadingFact) -> str:
    """A short name of a quantity at a point that stays the same from visit to visit."""
    return "k" + hashlib.sha256(f"{reading.quantity}\0{reading.point}".encode()).hexdigest()[:8]


KINDS = (
    "outcomes", "findings", "readings", "parts", "tests", "counters", "signatures", "spore_tests", "chemicals",
)  # fmt: skip


class _JobRows:
    def __init__(self) -> None:
        self.job: VisitJob = {name: [] for name in KINDS}
        self.places: dict[tuple[str, int], str] = {}

    def add(self, kind: str, row: dict, page: str) -> None:
        self.places[kind, len(self.job[kind])] = page
        self.job[kind].append({k: v for k, v in row.items() if v not in (None, "")})


def job_of(answers: Mapping[str, Mapping], ground: UnitOnRecord, *, technician: str, derived: str = "A") -> MadeJob:
    """The job out of the cleaned answers of each page; a page without an answer adds nothing.

    `technician` is who signs the release; `derived` the class that follows from the work, below which none is stated.
    """
    rows = _JobRows()
    _arrival(rows, answers)
    _counters(rows, answers.get(IDENTIFY, {}))
    _readings(rows, answers, ground)
    for page in _pages(answers, ground):
        _task(rows, answers[page], page, ground)
    for page in sorted(page for page in answers if page.startswith(KIT)):
        _kit(rows, answers[page], page, ground)
    _tests(rows, answers.get(PROVE, {}))
    _in_cycle(rows, answers.get(PROVE, {}))
    _end(rows, answers.get(END, {}), technician, derived)
    return MadeJob(rows.job, rows.places)


def _pages(answers: Mapping[str, Mapping], ground: UnitOnRecord) -> list[str]:
    """The pages of tasks with an answer: those of the plan in its order, then those that are not on the plan."""
    planned = [TASK + code for code in ground.lines]
    extra = sorted(page for page in answers if page.startswith(EXTRA))
    return [page for page in (*planned, *extra) if page in answers]


def _arrival(rows: _JobRows, answers: Mapping[str, Mapping]) -> None:
    safe, same = answers.get(SAFE, {}), answers.get(IDENTIFY, {})
    steps = []
    if same.get("plate") == "same":
        steps.append([IDENTIFIED, "done"])
    steps += [[step.text, said] for step in SAFE_STEPS if (said := step.answer(safe))]
    rows.job |= {name: safe.get(name) or "" for name in ("reason", "complaint", "contamination")}
    rows.job["make_safe"] = steps


def _counters(rows: _JobRows, same: Mapping) -> None:
    for counter in ("cycles", "hours"):
        if same.get(counter) is not None:
            row: JobCounter = {"counter": counter, "shown": same[counter]}
            if same.get(f"{counter}_why"):
                row |= {"offset": same.get(f"{counter}_add"), "offset_reason": same[f"{counter}_why"]}
            rows.add("counters", row, IDENTIFY)


def _readings(rows: _JobRows, answers: Mapping[str, Mapping], ground: UnitOnRecord) -> None:
    pages = answers.get(FOUND, {}), answers.get(PROVE, {})
    for known in ground.readings:
        key = reading_key(known)
        what: JobReading = {
            "quantity": known.quantity, "unit_of_measure": known.unit_of_measure, "point": known.point,
            "lower": known.lower, "upper": known.upper, "limit_source": known.limit_source,
        }  # fmt: skip
        _reading(rows, what, key, key, *pages)
    for n in range(MORE_READINGS):
        names = ("quantity", "unit_of_measure", "point", "lower", "upper", "limit_source")
        what = {name: pages[0].get(f"x{n}_{name}") for name in names}
        if what["quantity"]:
            _reading(rows, what, f"x{n}_as_found", f"x{n}", *pages)


def _reading(rows: _JobRows, what: JobReading, found_at: str, key: str, found: Mapping, left: Mapping) -> None:
    """A pair out of the pages of as found and as left, with the instrument of each.

    Where only one of the two was measured, its instrument is the only one.
    """
    as_found, as_left = found.get(found_at), left.get(key)
    if as_found is None and as_left is None:
        return
    first = _instrument(found, found.get(f"{key}_with") or INSTRUMENTS[0])
    chosen = left.get(f"{key}_with") if as_left is not None else ""
    other = _instrument(left if chosen == OF_LEFT else found, chosen) if chosen else first
    row: JobReading = what | {"as_found": as_found, "as_left": as_left}
    row |= other if as_found is None else first
    if as_found is not None:
        row["found_while"] = "before cool-down" if found.get(f"{key}_hot") else ""
        row |= {f"{name}_left": value for name, value in other.items()} if other != first else {}
    rows.add("readings", row, FOUND)


def _instrument(said: Mapping, chosen: str) -> dict:
    """The name of an instrument, and the last day of its calibration, on the page that names it."""
    number = "" if chosen == INSTRUMENTS[0] else chosen
    return {name: said.get(f"{name}{number}") for name in ("instrument", "calibration_due")}


def _task(rows: _JobRows, said: Mapping, page: str, ground: UnitOnRecord) -> None:
    line = ground.lines.get(page.removeprefix(TASK))
    position = line.position if line else said.get("position") or ""
    action = line.action if line else said.get("action") or "inspect"
    names = ("outcome", "found", "reason", "deferred_until", "decided_by", "agreed_by")
    outcome = {name: said.get(name) for name in names}
    if line is None and said.get("what"):  # its name stands nowhere else
        outcome["found"] = ": ".join(filter(None, (said["what"], said.get("found"))))
    rows.add("outcomes", outcome | {"plan_line": line.code if line else "", "position": position, "action": action},
             page)  # fmt: skip
    decision = said.get("decision")
    if decision:
        rows.add("findings", _finding(said, line, position, ground), page)
    if decision != AWAITED and not said.get("from_kit") and (said.get("lot") or said.get("part_name")):
        rows.add("parts", _part(said, line, position), page)


def _finding(said: Mapping, line: f.PlanLineFact | None, position: str, ground: UnitOnRecord) -> JobFinding:
    held = ground.positions.get(position)
    lowest = (line.repair_class if line else "") or "A"
    awaited = said["decision"] == AWAITED
    return {
        "position": position,
        "component": (held.component or held.name) if held else (line.title if line else said.get("what") or ""),
        "grade": said.get("grade"),
        "seen": said.get("found") or "",
        "decision": said["decision"],
        "rule": line.rule if line else "",
        "reason": said.get("why") or "",
        "repair_class": higher(lowest, said.get("repair_class") or lowest),
        "part_needed": said.get("bring") if awaited else "",
        "part_needed_number": said.get("bring_number") if awaited else "",
    }


def _part(said: Mapping, line: f.PlanLineFact | None, position: str) -> JobPart:
    planned = line is not None and line.action == "replace" and said.get("decision") not in RENEWED
    row: JobPart = {
        "position": position,
        "quantity": 1 if said.get("quantity") is None else said["quantity"],  # 0: the old one was kept
        "action": said.get("part_action") or ("replaced on plan" if planned else "replaced on condition"),
        "old_part": said.get("old_part") or "",
        "kit": said.get("kit"),
    }
    if said.get("lot"):
        return row | {"part_lot": said["lot"]}
    names = {"name": "part_name", "number": "part_number", "lot": "lot_printed", "receipt_lot": "receipt_lot",
             "expiry": "expiry"}  # fmt: skip
    row |= {name: said.get(field) for name, field in names.items()}
    row["lot_state"] = said.get("lot_state") or ("printed" if said.get("lot_printed") else "")
    return row


def _kit(rows: _JobRows, said: Mapping, page: str, ground: UnitOnRecord) -> None:
    """The pieces of one bag, those that are alike in one row; what was not fitted has a quantity of 0."""
    alike: dict[tuple, list] = {}
    for piece in said.get("pieces", ()):
        alike.setdefault(tuple(piece.items()), []).append(piece)
    for pieces in alike.values():
        rows.add("parts", _pieces(said["kit"], pieces[0], len(pieces), ground), page)


def _pieces(kit: str, piece: Mapping, count: int, ground: UnitOnRecord) -> JobPart:
    position, fitted = piece.get("position") or "", piece["fate"] == FITTED
    planned = any(x.action == "replace" and x.position == position for x in ground.lines.values() if position)
    row: JobPart = {
        "position": position, "kit": kit, "kit_fate": piece["fate"], "kit_pieces": count,
        "quantity": count if fitted else 0,
        "action": "replaced on plan" if planned else "replaced on condition",
        "old_part": (piece.get("old") or "") if fitted else NOT_FITTED_OLD.get(piece["fate"], "not known"),
    }  # fmt: skip
    if piece.get("lot"):
        return row | {"part_lot": piece["lot"]}
    named = {"name": piece["name"], "number": piece["number"], "lot": piece.get("printed")}
    return row | named | {"lot_state": "printed" if piece.get("printed") else "not printed"}


def _tests(rows: _JobRows, left: Mapping) -> None:
    for code in (f"V{n}" for n in range(1, 11)):
        if left.get(code):
            row: JobTest = {"code": code, "result": left[code], "value": left.get(f"{code}_value")}
            row |= {name: left.get(f"{code}_{name}") for name in MEASURED}
            row |= {"cycle_number": left.get(f"{code}_cycle"), "reason": left.get(f"{code}_why")}
            rows.add("tests", row, PROVE)


def _in_cycle(rows: _JobRows, left: Mapping) -> None:
    """The spore tests run, each read later, and the chemical indicators of the visit."""
    of_test = {
        "lot": "lot", "control_lot": "control", "cycle_type": "cycle_type", "cycle_number": "cycle", "at": "at",
        "purpose": "purpose", "chamber": "chamber", "place": "place", "site": "site", "mechanical": "mechanical",
        "chemical": "chemical",
    }  # fmt: skip
    of_indicator = {"type": "type", "result": "result", "lot": "lot", "where": "where", "cycle_number": "cycle"}
    for kind, many, start, names, needed in (
        ("spore_tests", SPORE_TESTS, "b", of_test, "lot"), ("chemicals", CHEMICALS, "c", of_indicator, "type"),
    ):  # fmt: skip
        for n in range(many):
            if left.get(f"{start}{n}_{needed}"):
                rows.add(kind, {name: left.get(f"{start}{n}_{field}") for name, field in names.items()}, PROVE)


def _end(rows: _JobRows, end: Mapping, technician: str, derived: str) -> None:
    stated = end.get("class_stated") or derived
    rows.job["class_stated"] = higher(derived, stated)
    rows.job["class_reason"] = end.get("class_reason") or ""
    ending = end.get("conclusion")
    if not ending:
        return
    names = ("limitation", "acceptor", "deadline", "reason")
    wanted = {LIMITED: names[:3], PENDING: names[1:3]}.get(ending, ()) + ("reason",)
    rows.job["conclusion"] = {"conclusion": ending} | {n: end[n] for n in wanted if end.get(n)}
    if ending == NOT_WORKED and end.get("meanwhile"):
        rows.job["meanwhile"] = end["meanwhile"]
    if ending in (RELEASED, LIMITED, PENDING) and end.get("technician"):
        rows.add("signatures", {"meaning": "released", "name": technician, "role": "technician"}, END)
    if end.get("clinic"):
        row = {"meaning": end["clinic"], "name": end.get("clinic_name"), "role": end.get("clinic_role")}
        rows.add("signatures", row | {"reason": end.get("clinic_reason")}, END)
