"""Changes of a history that can only make an answer permit less: bad news, lost proof, values no longer known.

Each function gives every such change of one unit's facts as (what was changed in words, what makes the facts so):
of a thousand changes one is tried, and only that one is made. Nothing here asks judgement: what is good and what is
bad news is read off the record itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import partial

from audit.facts import UnitFacts
from audit.judge.work.order import STATED_AFTER
from tests.fact_builders import (
    air,
    bio,
    check,
    conclude,
    event,
    fit,
    job,
    leak,
    load,
    look,
    measured,
    seen,
    sign,
    user_check,
)

Change = tuple[str, Callable[[], UnitFacts]]


def without(unit: UnitFacts, name: str, fact, put=None) -> UnitFacts:
    """The facts of one kind without one of them, or with `put` in its place: a fact, or what makes it."""
    put = put() if callable(put) else put
    kept = [put if x is fact else x for x in getattr(unit, name)]
    return replace(unit, **{name: tuple(x for x in kept if x is not None)})


def added(unit: UnitFacts, name: str, fact) -> UnitFacts:
    return replace(unit, **{name: (*getattr(unit, name), fact)})


# ------------------------------------------------------------------------------------------------ bad news


KNOWN_AFTER = timedelta(days=1)  # a spore test is read on the day after it was run


def bad_news(unit: UnitFacts, day: date) -> Iterator[Change]:
    """Something bad that came on that day; of a spore test, that was run on it and known the day after.

    Nothing good comes with it: the other results of the cycle of a test are not recorded.
    """
    after, nothing_good = day + KNOWN_AFTER, {"mechanical": "not recorded", "chemical": "not recorded"}
    grown = bio(day, result="growth", known=after, **nothing_good)
    yield "a positive spore test", partial(added, unit, "bio_tests", grown)
    invalid = bio(day, look(after, control="no growth"), **nothing_good)
    yield "a spore test whose control did not grow", partial(added, unit, "bio_tests", invalid)
    yield "a failed air-removal test", partial(added, unit, "air_removal", air(day, "fail"))
    yield "a failed air-leak test", partial(added, unit, "leaks", leak(day, "fail"))
    for kind in ("automatic control", "safety check", "air detector", "water"):
        yield f"a failed check: {kind}", partial(added, unit, "checks", user_check(day, kind, "fail"))
    yield from _bad_loads(unit, day)
    not_worked = job(day, tests=(check(day, "V6", "fail"),), end="not worked on", signed=False)
    yield "a safety test failed in a visit without work", partial(added, unit, "jobs", not_worked)
    yield "a latch missing", partial(added, unit, "fits", fit("door-latch", "missing", day=day))
    yield "a withdrawal by hand", partial(added, unit, "events", event(day, "withdrawn", "cracked door"))
    for told, found in (
        ("a finding: do not use", seen(day, grade=2, decision="adjust", repair_class="X")),
        ("a part condemned", seen(day, grade=3, decision="condemn")),
        ("a failed part left", seen(day, grade=3, decision="leave")),
        ("a failed latch to be replaced", seen(day, "door-latch", 3, "replace")),
        ("a seal to be replaced, its part awaited", seen(day, grade=2, decision="part awaited")),
    ):
        seen_only = job(day, tests=(), end="", reason="planned", signed=False, findings=(found,))
        yield f"{told}, at a visit of its own", partial(added, unit, "jobs", seen_only)
        for visit in unit.jobs:
            then = replace(found, row=replace(found.row, happened_on=visit.row.happened_on))
            held = replace(visit, findings=(*visit.findings, then))
            yield f"{told}, at a visit that was there", partial(without, unit, "jobs", visit, held)
    for visit in unit.jobs:
        reading = measured(visit.row.happened_on, left="140.0")
        held = replace(visit, readings=(*visit.readings, reading))
        yield "a reading outside its limits as left", partial(without, unit, "jobs", visit, held)
        if visit.conclusion is not None and visit.conclusion.conclusion == "released":
            worse = replace(visit, conclusion=replace(visit.conclusion, conclusion="not released"))
            yield "not released instead of released", partial(without, unit, "jobs", visit, worse)
            refused = replace(visit, signatures=(*visit.signatures, sign(day, "refused")))
            yield "the return to use refused", partial(without, unit, "jobs", visit, refused)
            left = replace(visit, signatures=(*visit.signatures, sign(day, "left out of use")))
            yield "left out of use, signed by the clinic", partial(without, unit, "jobs", visit, left)
    begun = job(day, tests=(), end="", signed=False, class_stated="A")
    yield "work begun and not concluded", partial(added, unit, "jobs", begun)
    kept_out = job(day, tests=(), conclusion=conclude(day, "not released"), class_stated="A")
    yield "work not released", partial(added, unit, "jobs", kept_out)


def _bad_loads(unit: UnitFacts, day: date) -> Iterator[Change]:
    for name in ("mechanical", "chemical"):
        bad = load(day, "L-1", **{name: "fail"}, released="")
        yield f"a load with a failed {name} result", partial(added, unit, "loads", bad)
    wet = replace(load(day, "L-2", released=""), packs="wet")
    yield "a load of wet packs", partial(added, unit, "loads", wet)
    torn = replace(load(day, "L-4", released=""), pack_condition="damaged")
    yield "a load of torn packs", partial(added, unit, "loads", torn)
    cold = replace(load(day, "L-3", released="", mechanical="pass"), exposure_temperature=Decimal("110"))
    yield "a load called passing at 110 °C", partial(added, unit, "loads", cold)


# ------------------------------------------------------------------------------------------------ lost proof


def _good(test) -> bool:
    return bool(test.readings) and all(r.test == "no growth" for r in test.readings)


def lost_proof(unit: UnitFacts) -> Iterator[Change]:
    """A pass, a release, a return, a signature, a follow-up or a time of day that was there and is not any more.

    A spore test stays as a cycle that ran: that it is gone altogether also takes away a day of use.
    """
    for test in unit.bio_tests:
        if _good(test):
            unread = partial(replace, test, readings=())
            yield "the reading of a spore test that passed", partial(without, unit, "bio_tests", test, unread)
            useless = partial(replace, test, control_lot=None)
            yield "the control of a spore test that passed", partial(without, unit, "bio_tests", test, useless)
    for name in ("air_removal", "leaks", "checks"):
        for test in getattr(unit, name):
            if test.result == "pass":
                yield f"a pass among {name}", partial(without, unit, name, test)
    for happened in unit.events:
        if happened.kind == "returned":
            yield "the return to use", partial(without, unit, "events", happened)
            told = replace(happened, given="told")
            yield "the return to use was only told", partial(without, unit, "events", happened, told)
    for visit in unit.jobs:
        yield from _less_of(unit, visit)
    for case in unit.cases:
        for step in case.followups:
            less = replace(case, followups=tuple(f for f in case.followups if f is not step))
            yield f"the step {step.action!r} of a case", partial(without, unit, "cases", case, less)
            named = tuple(replace(f, done_given="told") if f is step else f for f in case.followups)
            told = f"the step {step.action!r} of a case was only told"
            yield told, partial(without, unit, "cases", case, replace(case, followups=named))
    for one in unit.loads:
        if one.released == "released":
            unreleased = replace(one, released="", released_row=None)
            yield "the release of a load", partial(without, unit, "loads", one, unreleased)
    yield from untimed(unit)


def _less_of(unit: UnitFacts, visit) -> Iterator[Change]:
    if visit.conclusion is not None and visit.conclusion.conclusion in ("released", "limited", "pending"):
        yield "the conclusion of a visit", partial(without, unit, "jobs", visit, replace(visit, conclusion=None))
        told = replace(visit, conclusion=replace(visit.conclusion, accepted_given="told"))
        yield "that a pending result is accepted was only told", partial(without, unit, "jobs", visit, told)
    for test in visit.tests:
        if test.result == "pass":
            less = replace(visit, tests=tuple(t for t in visit.tests if t is not test))
            yield f"{test.code} of a visit", partial(without, unit, "jobs", visit, less)
    for mark in visit.signatures:
        less = replace(visit, signatures=tuple(s for s in visit.signatures if s is not mark))
        yield "a signature of a visit", partial(without, unit, "jobs", visit, less)
        told = tuple(replace(x, given="told") if x is mark else x for x in visit.signatures)
        yield "a signature that was only told", partial(without, unit, "jobs", visit, replace(visit, signatures=told))


def untimed(unit: UnitFacts) -> Iterator[Change]:
    """The time of day of one fact is not known any more; not of a test of which it is stated why it was run."""
    for name in ("bio_tests", "air_removal", "leaks", "checks", "loads", "events"):
        for fact in getattr(unit, name):
            if fact.row.happened_at is not None and getattr(fact, "purpose", "") not in STATED_AFTER:
                plain = partial(_untimed, fact)
                yield f"the time of one of the {name}", partial(without, unit, name, fact, plain)


def _untimed(fact):
    return replace(fact, row=replace(fact.row, happened_at=None))


# ------------------------------------------------------------------------------------------------ unknown


def _of_no_lot(test):
    return replace(test, lot=replace(test.lot, lot=""))


def _without_hours(test, reading):
    less = tuple(replace(r, incubated_hours=None) if r is reading else r for r in test.readings)
    return replace(test, readings=less)


def unknown(unit: UnitFacts) -> Iterator[Change]:
    """A value that was recorded and is not known now. A result that failed is bad news, and no such value."""
    for test in unit.bio_tests:
        for name in ("mechanical", "chemical"):
            if getattr(test, name) == "pass":
                less = partial(replace, test, **{name: "not recorded"})
                yield f"{name} of a spore test", partial(without, unit, "bio_tests", test, less)
        yield "the lot of a spore test", partial(without, unit, "bio_tests", test, partial(_of_no_lot, test))
        for reading in test.readings:
            if reading.incubated_hours is not None and reading.test == "no growth":
                less = partial(_without_hours, test, reading)
                yield "the hours of a reading", partial(without, unit, "bio_tests", test, less)
    for one in unit.loads:
        for name in ("mechanical", "chemical"):
            if getattr(one, name) == "pass":
                less = replace(one, **{name: "not recorded"})
                yield f"{name} of a load", partial(without, unit, "loads", one, less)
        if one.minutes is not None:
            yield "the minutes of a load", partial(without, unit, "loads", one, replace(one, minutes=None))
    if unit.counters:
        yield "every reading of a counter", partial(replace, unit, counters=())
    for at in unit.fits:
        if at.state == "none":
            yield "whether a part is fitted", partial(without, unit, "fits", at, replace(at, state="unknown"))
    for paper in unit.documents:
        yield "a paper", partial(without, unit, "documents", paper)
