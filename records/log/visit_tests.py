"""Spore tests that are run in a visit, each read later, and chemical indicators read in it, in its entry.

They are the rows as when each is logged by itself, held to the same rules; a failing one opens its case here too.
"""

from __future__ import annotations

from collections.abc import Iterator

from records import clock
from records.models import BioTest, ChemicalResult

from . import may_be_logged, row_rules
from .errors import InputPlace, Problem
from .indicators import kind_of_chemical, open_case, open_cases_of_cycle
from .naming import name_in
from .visit_job import VisitJob


def problems_of(place: InputPlace, job: VisitJob, clinic, zone: str, on) -> Iterator[Problem]:
    """What speaks against the spore tests and indicators of a job; `place` is that of the job."""
    day = on or clock.today(zone)
    for n, test in enumerate(job.get("spore_tests", ())):
        at, lot, control = place / "spore_tests" / n, test.get("lot"), test.get("control_lot")
        yield from may_be_logged.indicator_lot(at / "lot", lot, clinic, "biological", day)
        if control is not None and control != lot:
            yield from may_be_logged.indicator_lot(at / "control_lot", control, clinic, "biological", day)
        if not (test.get("cycle_type") or "").strip():
            yield Problem(at / "cycle_type", "In which cycle was it run? Enter the program as the unit names it.")
        if not test.get("purpose"):
            yield Problem(at / "purpose", "Why was it run? Only a test that says so counts for the work.")
        yield from row_rules.bio_test(test.get, at)
        yield from may_be_logged.not_in_future(at / "at", on, test.get("at"), zone)
    for n, indicator in enumerate(job.get("chemicals", ())):
        at, lot = place / "chemicals" / n, indicator.get("lot")
        if lot is not None:
            yield from may_be_logged.indicator_lot(at / "lot", lot, clinic, "chemical", day)
        for name, words in (("type", "Which type of indicator was it?"), ("result", "What does the indicator show?")):
            if not indicator.get(name):
                yield Problem(at / name, words)


def add(s, place: InputPlace, job: VisitJob, common: dict, owner, by) -> None:
    """Write them. `common` are the fields of each row of the job; `owner`: whose people run and read them."""
    who = name_in(owner, job.get("worked_by", ""), by)
    shared = {name: common[name] for name in ("clinic", "unit", "happened_on", "zone")}
    for n, test in enumerate(job.get("spore_tests", ())):
        fields = {k: v for k, v in test.items() if k != "at"}
        row = BioTest(run_by=who, happened_at=test.get("at"), **shared, **fields)
        s.add(row, at=place / "spore_tests" / n)
        open_cases_of_cycle(s, row)
    for n, indicator in enumerate(job.get("chemicals", ())):
        row = ChemicalResult(read_by=who, **shared, **indicator)
        s.add(row, at=place / "chemicals" / n)
        if row.result == "fail":
            open_case(s, kind_of_chemical(row.type), row, row.happened_on)
