"""A history from short lines: what a published case says happened, as a file in the open format.

Each line: day, what, and words about it. A test is known on its own day unless `known:DAY` stands there.

    2025-03-10 growth | pass | invalid   a spore test; empty, unrecorded, implant, otherlot, type:unwrapped, cycle:12
    2025-03-10 air [fail]                an air-removal test
    2025-03-10 leak [fail]               an air-leak test
    2025-03-10 control [fail] [unsigned] an automatic control test by the user
    2025-03-10 safety [fail] [unsigned]  a weekly safety check by the user
    2025-03-10 load                      a cycle with goods; program:wrapped, minutes:30, implant, cycle:12
    2025-03-10 daily 2025-03-31          such a load on each day to the last named; times:4 for four a day
    2025-03-10 chemical [fail] [cycle:12]
    2025-03-10 cause | confine | notify  a step done in the case of the first failure
    2025-03-10 installed | relocated     an event of the unit
    2025-03-10 renewed                   the door seal replaced on plan, function cycle passed, released
    2025-03-10 mended                    the same on condition, after a breakdown
    2025-03-10 overhauled                the same as major work, with V1, V2 and V4
    2025-03-10 paper:pressure_examination to:2026-05-09
    2025-03-10 closed 2025-03-16
"""

from __future__ import annotations

from datetime import timedelta

from audit.exchange.codec import export_of, read_history
from tests import fact_builders as b

TESTS = ("pass", "growth", "invalid")
# What these rules ask of a spore test beside: N.J.A.C. 8:27-5.4, ARM 37.112.131(3)(d).
ASKED = {
    "us-nj-body-art": {"site": "laboratory", "place": "at the centre, toward the front"},
    "us-mt-body-art": {"site": "laboratory"},
}
STEPS = {"cause": "find cause", "confine": "confine", "notify": "notify"}
EVENTS = ("installed", "relocated", "loaner in", "withdrawn", "returned")


def history(case: dict) -> dict:
    """The case as a file in the open format."""
    return export_of(_facts(case))


def facts_of(case: dict):
    """The case written to the open format and read again."""
    return read_history(history(case))


def _facts(case: dict):
    kinds = {
        name: [] for name in ("bio_tests", "air_removal", "leaks", "checks", "loads", "chemical", "jobs", "events")
    }
    kinds |= {"documents": []}
    closures, steps = [], []
    asked = ASKED.get(case["rules"], {})
    if case.get("begins", True):
        first = {"cycle": "1", "purpose": "installation"} | asked
        kinds["bio_tests"].append(b.bio("2025-03-03", result="pass", known="2025-03-03", **first))
        kinds["events"].append(b.event("2025-03-03"))
    for line in case["events"]:
        day, what, *more = line.split()
        if what == "closed":
            closures.append(b.closure(day, more[0]))
        elif what == "daily":
            kinds["loads"] += _every_day(day, more)
        elif what in STEPS:
            steps.append(b.step(day, STEPS[what], done=day, outcome=" ".join(more) or what))
        else:
            kind, fact = _fact(day, what, more, asked)
            kinds[kind].append(fact)
    failed = _first_failure(kinds)
    cases = ()
    if failed is not None:
        fact, kind = failed
        cases = (b.case(fact.row.origin, fact.row.happened_on, *steps, kind=kind),)
    held = {name: tuple(found) for name, found in kinds.items()}
    unit = b.unit(
        "2024-01-01",
        type=case.get("unit", "gravity"),
        cases=cases,
        positions=(b.position(),),
        fits=(b.fit(),),
        **held,
    )
    return b.clinic(unit, regime=case["rules"], closures=tuple(closures))


def _every_day(first: str, more: list[str]):
    """Loads on each day up to the last named, inclusive; `times:4` so many a day."""
    said, day, last = _options(more), b.on(first), b.on(more[0])
    while day <= last:
        for _ in range(int(said.get("times", 1))):
            yield b.load(day, program=said.get("program", "wrapped"), minutes=said.get("minutes"))
        day += timedelta(days=1)


def _options(more) -> dict:
    return dict(word.split(":", 1) for word in more if ":" in word)


def _fact(day: str, what: str, more: list[str], asked: dict):
    said = _options(more)
    result = "fail" if "fail" in more else "pass"
    signed = "" if "unsigned" in more else "A. User"
    if what in TESTS:
        return "bio_tests", _spore(day, what, more, said, asked)
    if what == "air":
        return "air_removal", b.air(day, result)
    if what == "leak":
        return "leaks", b.leak(day, result)
    if what == "control":
        return "checks", b.user_check(day, "automatic control", result, signed=signed)
    if what == "safety":
        return "checks", b.user_check(day, "safety check", result, signed=signed)
    if what == "chemical":
        return "chemical", b.f.ChemicalFact(b.row(day), 5, result, said.get("cycle", ""), "pack", "C1")
    if what == "load":
        kept = {
            "implant": "implant" in more,
            "program": said.get("program", "wrapped"),
            "minutes": said.get("minutes"),
        }
        return "loads", b.load(day, said.get("cycle", ""), **kept)
    if what in ("renewed", "mended", "overhauled"):
        return "jobs", _job(day, what)
    if what.startswith("paper:"):
        kind = what.removeprefix("paper:").replace("_", " ")
        return "documents", b.document(kind, day, said.get("to"), unit="unit-1")
    if what in EVENTS:
        return "events", b.event(day, what)
    raise ValueError(f"{what!r} is not a word of these histories")


def _spore(day: str, what: str, more: list[str], said: dict, asked: dict):
    return b.bio(
        day,
        result=what,
        known=said.get("known", day),
        purpose="routine" if "routine" in more else "repeat",
        chamber="empty" if "empty" in more else "full",
        mechanical="not recorded" if "unrecorded" in more else "pass",
        implant="implant" in more,
        control=b.lot("L2") if "otherlot" in more else "same",
        cycle_type=said.get("type", "wrapped"),
        cycle=said.get("cycle", ""),
        **asked,
    )


def _job(day: str, what: str):
    action = "replaced on plan" if what == "renewed" else "replaced on condition"
    reason = "planned" if what == "renewed" else "breakdown"
    tests, letter = (("V1", "V2", "V4"), "C") if what == "overhauled" else (("V1",), "")
    return b.job(day, tests=tests, reason=reason, class_stated=letter, parts=(b.part(day, action=action),))


def _first_failure(kinds):
    found = [(t, "biological") for t in kinds["bio_tests"] if any(r.test == "growth" for r in t.readings)]
    for name, kind in (("air_removal", "air removal"), ("leaks", "air leak"), ("chemical", "chemical")):
        found += [(f, kind) for f in kinds[name] if f.result == "fail"]
    found += [(f, f.kind) for f in kinds["checks"] if f.result == "fail"]
    return min(found, key=lambda one: one[0].row.happened_on, default=None)
