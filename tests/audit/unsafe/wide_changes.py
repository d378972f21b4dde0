"""Changes of a history of every kind of fact that can only make an answer permit less, beside those of `changes`.

Two kinds of change are left out, as the record itself has another meaning without them: a paper that has run out by
the last day looked at is no proof, and that a load or a visit is gone takes work or use away with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from audit import facts as f
from tests.audit.unsafe import histories
from tests.audit.unsafe.changes import Change, added, without
from tests.fact_builders import calibration, check, event, look, part, part_recall, recording, row

Values = dict[str, object]


def changed(unit: f.UnitFacts, name: str, fact, told: str, /, **values) -> Change:
    """One fact of the unit with other values."""
    return told, partial(without, unit, name, fact, partial(replace, fact, **values))


def of_visit(unit: f.UnitFacts, visit: f.JobFact, name: str, fact, told: str, /, **values) -> Change:
    """One fact of a visit with other values."""
    held = tuple(replace(x, **values) if x is fact else x for x in getattr(visit, name))
    return told, partial(without, unit, "jobs", visit, replace(visit, **{name: held}))


def _untimed(fact) -> Values:
    return {"row": replace(fact.row, happened_at=None)}


# ------------------------------------------------------------------------------------------------ bad news


def bad_news(unit: f.UnitFacts, day: date) -> Iterator[Change]:
    for type in range(1, 7):
        strip = f.ChemicalFact(row(day), type, "fail", "X-1", "in the pack", "C1")
        yield f"a failed indicator of type {type}", partial(added, unit, "chemical", strip)
    fault = f.FaultFact(row(day), "A. User", "on site", "hisses", "", "asked")
    yield "a fault reported", partial(added, unit, "faults", fault)
    for kind in ("relocated", "loaner in", "loaner out", "decommissioned", "withdrawn"):
        yield kind, partial(added, unit, "events", event(day, kind))
    for one in unit.loads:
        yield "a recorded cycle that was not met", partial(added, unit, "recordings", recording(one, "not met"))
        yield "one that cannot be read", partial(added, unit, "recordings", recording(one, "cannot be read"))
        for name, value in (("packs", "wet"), ("mechanical", "fail"), ("chemical", "fail"),
                            ("pack_condition", "damaged")):  # fmt: skip
            yield changed(unit, "loads", one, f"{name} of a load is {value}", **{name: value})
    yield from _worse_tests(unit, day)
    for visit in unit.jobs:
        yield from _worse_visit(unit, visit)


def _worse_tests(unit: f.UnitFacts, day: date) -> Iterator[Change]:
    for test in unit.bio_tests:
        run = test.row.happened_on
        for name in ("mechanical", "chemical"):
            yield changed(unit, "bio_tests", test, f"{name} of a spore test failed", **{name: "fail"})
        for result, control in (("growth", "growth"), ("no growth", "no growth")):
            more = (*test.readings, look(max(day, run), result, control))
            yield changed(unit, "bio_tests", test, f"one more reading: {result}, control {control}", readings=more)
        old = replace(test.lot, expiry=run - timedelta(days=1))
        yield changed(unit, "bio_tests", test, "a lot that had expired", lot=old)
    for name in ("air_removal", "leaks", "checks"):
        for one in getattr(unit, name):
            if one.result == "pass":
                yield changed(unit, name, one, f"one of the {name} failed", result="fail")


def _worse_visit(unit: f.UnitFacts, visit: f.JobFact) -> Iterator[Change]:
    day = visit.row.happened_on
    for fitted in visit.parts:
        yield of_visit(unit, visit, "parts", fitted, "a part that had expired", expiry=day - timedelta(days=1))
    for test in visit.tests:
        yield of_visit(unit, visit, "tests", test, f"{test.code} of a visit failed", result="fail")
    failed = (*visit.tests, check(day, "V6", "fail"))
    yield changed(unit, "jobs", visit, "a check of safety devices failed", tests=failed)
    for letter in "CX":
        yield changed(unit, "jobs", visit, f"class {letter} stated", class_stated=letter)
    end = visit.conclusion
    if end is not None:
        more = (*visit.parts, part(day, "", "replaced on condition", "unheard of"))
        yield changed(unit, "jobs", visit, "a part that nobody knows was fitted too", parts=more)
        for word in ("limited", "pending") if end.conclusion == "released" else ():
            worse = replace(end, conclusion=word)
            yield changed(unit, "jobs", visit, f"{word} instead of released", conclusion=worse)


def of_place(clinic: f.ClinicFacts, day: date) -> Iterator[tuple[str, f.ClinicFacts]]:
    """The same of the whole place: what was told, what is lost."""
    for action in ("stop use", "replace", "inspect", "use until"):
        yield (
            f"a part recall, {action}",
            replace(clinic, part_recalls=(*clinic.part_recalls, part_recall(day, action=action))),
        )
    for one in clinic.instruments:
        found = replace(one, calibrations=(*one.calibrations, calibration(day, "out of tolerance")))
        others = tuple(x for x in clinic.instruments if x is not one)
        yield "an instrument out of tolerance", replace(clinic, instruments=(*others, found))
        yield "its calibrations lost", replace(clinic, instruments=(*others, replace(one, calibrations=())))
    for name in ("closures", "gaps", "credentials", "documents"):
        for one in getattr(clinic, name):
            if name != "documents" or one.valid_to is None or one.valid_to >= histories.LAST:
                left = tuple(x for x in getattr(clinic, name) if x is not one)
                yield f"one of the {name} lost", replace(clinic, **{name: left})
    point = f.InspectionPointFact(row(day), "tests missing", None, "unit-1", "", None)
    came = f.InspectionFact(row(day), "B. Inspector", "Invented office", "routine", "tests", None, "", (point,))
    yield "a point of an inspection", replace(clinic, inspections=(*clinic.inspections, came))


# ------------------------------------------------------------------------------------------------ lost proof


def lost_proof(unit: f.UnitFacts) -> Iterator[Change]:
    for one in unit.chemical:
        if one.result == "pass":
            yield changed(unit, "chemical", one, "a passing indicator was not read", result="not read")
    for one in unit.recordings:
        if one.verdict == "met":
            yield "a recorded cycle that was met", partial(without, unit, "recordings", one)
            yield changed(unit, "recordings", one, "a recorded cycle is incomplete", verdict="incomplete")
    for one in unit.checks:
        if one.result == "pass" and one.signed_by:
            yield changed(unit, "checks", one, "a check was not signed", signed_by="")
    for one in unit.events:
        if one.kind == "returned" and one.ends:
            yield changed(unit, "events", one, "what a return ends", ends="")
    for one in unit.faults:
        if one.settled:
            yield changed(unit, "faults", one, "that a fault was settled", settled=None)
    for one in unit.documents:
        if one.valid_to is None or one.valid_to >= histories.LAST:
            yield "a paper", partial(without, unit, "documents", one)
    for one in unit.fits:
        if one.state in ("none", "yes"):
            yield changed(unit, "fits", one, "whether a part is fitted", state="unknown")
    for visit in unit.jobs:
        yield from _less_of_visit(unit, visit)


def _less_of_visit(unit: f.UnitFacts, visit: f.JobFact) -> Iterator[Change]:
    for reading in visit.readings:
        if reading.as_left is not None:
            yield of_visit(unit, visit, "readings", reading, "a value as left", as_left=None)
    for test in visit.tests:
        if test.value:
            yield of_visit(unit, visit, "tests", test, f"the value of {test.code}", value="")
    for done in visit.outcomes:
        if done.outcome == "deferred":
            yield of_visit(unit, visit, "outcomes", done, "who decided to postpone", decided_by="")
    if visit.class_reason:
        yield changed(unit, "jobs", visit, "the reason of a class", class_reason="")
    end = visit.conclusion
    if end is not None:
        less = {"acceptor": "", "limitation": ""} | ({"deadline": None} if end.conclusion == "pending" else {})
        for name, value in less.items():
            if getattr(end, name):
                worse = replace(end, **{name: value})
                yield changed(unit, "jobs", visit, f"the {name} of a conclusion", conclusion=worse)


# ------------------------------------------------------------------------------------------------ unknown


def unknown(unit: f.UnitFacts) -> Iterator[Change]:
    for test in unit.bio_tests:
        yield from _unknown_of_test(unit, test)
    for name in ("air_removal", "leaks", "checks"):
        for one in getattr(unit, name):
            yield from _fields(unit, name, one, purpose="", cycle_number="")
    for one in unit.loads:
        yield from _fields(unit, "loads", one, cycle_number="", program="")
        if one.packs == "dry":
            yield changed(unit, "loads", one, "whether packs were dry", packs="not recorded")
    for one in unit.chemical:
        yield from _fields(unit, "chemical", one, cycle_number="")
    for visit in unit.jobs:
        yield from _unknown_of_visit(unit, visit)
    for one in unit.counters:
        yield f"a reading of the counter of {one.counter}", partial(without, unit, "counters", one)
    yield "what the positions are", partial(replace, unit, positions=())


def _fields(unit: f.UnitFacts, name: str, fact, **values) -> Iterator[Change]:
    for field, value in values.items():
        if getattr(fact, field, value) != value:
            yield changed(unit, name, fact, f"{field} of one of the {name}", **{field: value})


def _unknown_of_test(unit: f.UnitFacts, test: f.BioTestFact) -> Iterator[Change]:
    plain = {"cycle_number": "", "chamber": "not stated", "place": "", "purpose": "routine"}
    yield from _fields(unit, "bio_tests", test, **plain)
    for field, value in (("name", ""), ("incubation_hours", 0)):
        yield changed(unit, "bio_tests", test, f"{field} of a lot", lot=replace(test.lot, **{field: value}))
    if test.control_lot is not None:
        less = replace(test.control_lot, lot="")
        yield changed(unit, "bio_tests", test, "the lot of a control", control_lot=less)
    for reading in test.readings:
        less: list[Values] = [_untimed(reading)]
        if reading.test == "no growth":
            less += [{"control": "not stated"}, {"test": "no result"}]
        for values in less:
            held = tuple(replace(x, **values) if x is reading else x for x in test.readings)
            yield changed(unit, "bio_tests", test, f"{', '.join(values)} of a reading", readings=held)


def _unknown_of_visit(unit: f.UnitFacts, visit: f.JobFact) -> Iterator[Change]:
    yield from _fields(unit, "jobs", visit, arrived_at=None, departed_at=None)
    yield changed(unit, "jobs", visit, "the time of a visit", **_untimed(visit))
    for fitted in visit.parts:
        for values in ({"name": ""}, {"position": ""}, {"number": ""}, {"lot": "", "lot_state": "unreadable"}):
            yield of_visit(unit, visit, "parts", fitted, f"{', '.join(values)} of a part", **values)
    for found in visit.findings:
        for values in ({"position": ""}, {"component": ""}):
            yield of_visit(unit, visit, "findings", found, f"{', '.join(values)} of a finding", **values)
    for mark in visit.signatures:
        yield of_visit(unit, visit, "signatures", mark, "the time of a signature", **_untimed(mark))
    if visit.conclusion is not None:
        end = replace(visit.conclusion, **_untimed(visit.conclusion))
        yield changed(unit, "jobs", visit, "the time of a conclusion", conclusion=end)
