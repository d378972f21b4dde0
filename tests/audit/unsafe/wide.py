"""Histories that use every kind of fact there is: beside those of `histories`, all that these never draw.

Chemical indicators, recorded cycles, programs, plan lines, papers, faults, parts fitted and missing, hours, loaners;
of the place closures, papers, instruments, inspections, part recalls and changes of the rules followed.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from audit import facts as f
from tests.audit.unsafe.histories import (
    CYCLES,
    HOURS,
    PIECES,
    _at,
    days,
    timed,
)
from tests.audit.unsafe.histories import (
    units as plain_units,
)
from tests.fact_builders import (
    bio,
    case,
    check,
    conclude,
    counter,
    document,
    event,
    fit,
    job,
    leak,
    line,
    load,
    look,
    lot,
    measured,
    outcome,
    part,
    recording,
    row,
    seen,
    sign,
    step,
    user_check,
)
from tests.strategies import EITHER, between, of

PLACES = ("seal", "vacuum-pump", "temperature-sensor", "door-latch", "")
place = of(*PLACES)
later = between(0, 30)
SELDOM = of(False, False, False, True)


def after(day: date, days_: int) -> date:
    """So many days on."""
    return day + timedelta(days=days_)


@st.composite
def strips(draw):
    made = f.ChemicalFact(row(draw(days)), draw(between(1, 6)), draw(of("pass", "pass", "fail", "not read")),
                          draw(CYCLES), "in the pack", "C1")  # fmt: skip
    return timed(made, draw(HOURS))


@st.composite
def odd_spore_tests(draw):
    """Read more than once, of lots and controls that may not fit, with hours, times and places left out."""
    day = draw(days)
    held = lot(draw(of("L1", "L1", "l 1", "L2", "")), draw(of("2030-12-31", "2025-03-20", None)), draw(of(24, 0, 3)))
    control = draw(of("same", "same", "same", None, lot("L1"), replace(lot("L1"), name="Other")))
    readings = []
    for _ in range(draw(between(0, 2))):
        on = after(day, draw(between(-1, 9)))
        read = look(on, draw(of("no growth", "no growth", "growth", "no result")),
                    draw(of("growth", "growth", "no growth", "not stated")), draw(of("24", None, "3", "500")),
                    draw(of("57", None, "40")), known=after(on, draw(of(0, 0, 3))),
                    report=draw(of("", "R-1")))  # fmt: skip
        readings.append(timed(read, draw(HOURS)))
    made = bio(day, *readings, control=control, lot_=held, purpose=draw(of("routine", "repeat", "installation")),
               site=draw(of("clinic", "laboratory")), chamber=draw(of("full", "empty", "not stated")),
               place=draw(of("", "centre, to the front")), cycle=draw(CYCLES), implant=draw(SELDOM),
               mechanical=draw(of("pass", "not recorded", "fail")), chemical=draw(of("pass", "not recorded")),
               cycle_type=draw(of("wrapped", "")))  # fmt: skip
    return timed(made, draw(HOURS))


@st.composite
def odd_leaks(draw):
    made = leak(draw(days), draw(of("pass", "fail")), purpose=draw(of("", "repeat", "after repair")))
    return timed(replace(made, rate=Decimal(draw(of("0.05", "0.13", "0.20"))), minutes=None), draw(HOURS))


@st.composite
def odd_checks(draw):
    kind = draw(of("automatic control", "safety check", "air detector", "thermometer comparison", "water"))
    made = user_check(draw(days), kind, draw(of("pass", "pass", "fail", "not done")), cycle=draw(CYCLES),
                      cycle_type=draw(of("", "wrapped")), signed=draw(of("A. User", "")))  # fmt: skip
    return timed(replace(made, purpose=draw(of("", "repeat", "after repair"))), draw(HOURS))


@st.composite
def odd_loads(draw):
    day = draw(days)
    made = load(day, draw(CYCLES), draw(EITHER), minutes=draw(of(None, "30", "1500")),
                mechanical=draw(of("pass", "pass", "fail", "not recorded")), chemical=draw(of("pass", "fail", "")),
                released=draw(of("released", "rejected", "")), program=draw(of("wrapped", "")))  # fmt: skip
    apart = made.released and draw(EITHER)
    made = replace(
        made,
        packs=draw(of("", "dry", "wet", "not recorded")),
        pack_condition=draw(of("", "intact", "damaged")),
        released_given=draw(of("", "signed", "told")),
        released_row=row(after(day, draw(between(0, 5)))) if apart else None,
        exposure_minutes=draw(of(None, Decimal("3.5"), Decimal("1"))),
        exposure_temperature=draw(of(None, Decimal("134.5"), Decimal("120"))),
    )
    return timed(made, draw(HOURS))


@st.composite
def marks(draw, day: date):
    meaning = draw(
        of("released", "returned to use", "returned to use", "refused", "left out of use", "nobody present")
    )
    made = replace(sign(after(day, draw(of(0, 0, 0, 1, 4))), meaning), given=draw(of("", "signed", "told")))
    return timed(made, draw(HOURS))


@st.composite
def odd_visits(draw):
    day, hour = draw(days), draw(HOURS)
    at, other = draw(place), draw(place)
    more = {
        "outcomes": tuple(
            outcome(
                day,
                draw(of(f"replace-{at}", "", "inspect-all")),
                at,
                draw(of("replace", "inspect", "clean", "calibrate", "test")),
                draw(of("done", "done", "deferred", "not possible", "not due")),
                until=after(day, draw(later)),
                by=draw(of("", "C. Manager")),
                why=draw(of("", "young")),
            )  # fmt: skip
            for _ in range(draw(between(0, 2)))
        ),
        "findings": tuple(
            replace(
                seen(
                    day,
                    other,
                    draw(between(0, 3)),
                    draw(of("leave", "clean", "adjust", "repair kit", "replace", "part awaited", "condemn")),
                    draw(of("A", "B", "C", "X")),
                    draw(of(None, "", "something unheard of")),
                ),
                part_needed="N-9",
            )  # fmt: skip
            for _ in range(draw(between(0, 1)))
        ),
        "readings": tuple(
            measured(
                day,
                draw(of("134.2", "134.2", "131.0", None)),
                found=draw(of(None, "134.5", "130")),
                calibrated=draw(of("2030-01-01", None, "2025-01-01")),
                of=draw(of("temperature", "pressure")),
            )  # fmt: skip
            for _ in range(draw(between(0, 2)))
        ),
        "parts": tuple(
            part(
                day,
                draw(place),
                draw(of("replaced on plan", "replaced on condition", "found in place")),
                draw(of("seal", "vacuum pump", "door latch", "unheard of")),
                draw(of("P1", "P2", "")),
                draw(of("printed", "not printed", "unreadable")),
                draw(of(None, "2025-03-01")),
                draw(of(1, 1, 0)),
            )  # fmt: skip
            for _ in range(draw(between(0, 2)))
        ),
        "signatures": tuple(draw(marks(day)) for _ in range(draw(between(0, 3)))),
    }
    end = draw(of("released", "released", "released", "limited", "pending", "not released", "", "not worked on"))
    if end:
        told = {"accepted_given": draw(of("", "told"))}
        deadline = draw(of(None, after(day, 5)))
        made = conclude(day, end, draw(of("", "unwrapped only")), draw(of("", "C. Manager")), deadline)
        more["conclusion"] = timed(replace(made, **told), draw(HOURS))
    codes = draw(of((), ("V1",), ("V1", "V4"), ("V1", "V4", "V6"), ("V1", "V2", "V3", "V4", "V5", "V6", "V10")))
    tests = tuple(
        check(
            day,
            c,
            draw(of("pass", "pass", "pass", "pass", "fail", "not done")),
            draw(of(None, None, "")),
            temperature_low=draw(of(None, None, "134.1", "120")),
            band_low="134",
            band_high="137",
        )  # fmt: skip
        for c in codes
    )
    kind = draw(of("planned", "breakdown", "installation", "relocation", "loaner", "inspection"))
    made = job(day, tests=tests, end=end, reason=kind, class_stated=draw(of("", "A", "B", "C", "X")),
               class_reason=draw(of("", "looked at")), **more)  # fmt: skip
    left = _at(day, None if hour is None else min(hour + 2, 23))
    return replace(timed(made, hour), arrived_at=draw(of(None, _at(day, hour))), departed_at=draw(of(None, left)))


@st.composite
def odd_events(draw):
    kind = draw(of("withdrawn", "returned", "returned", "relocated", "installed", "loaner in", "loaner out",
                   "decommissioned"))  # fmt: skip
    made = event(draw(days), kind, draw(of("", "door", "positive spore test")), draw(of("", "A. User")))
    return timed(replace(made, given=draw(of("", "signed", "told"))), draw(HOURS))


@st.composite
def faults(draw):
    day = draw(days)
    settled = f.FaultSettledFact(row(after(day, draw(between(0, 5)))), "a loose plug", "C. Manager")
    made = f.FaultFact(row(day), "A. User", "on site", "hisses", "", "asked", draw(of(None, None, settled)))
    return timed(made, draw(HOURS))


@st.composite
def lines(draw):
    at = draw(place)
    action = draw(of("replace", "inspect", "clean", "calibrate", "test"))
    return line(draw(of(f"replace-{at}", "inspect-all")), at, action,
                draw(of(1, 3, 24, None)), draw(of(None, None, 300)), draw(of(None, None, 40)), grace=draw(of(0, 14)),
                day=draw(days), repair_class=draw(of("A", "B", "C")), retired=draw(SELDOM))  # fmt: skip


@st.composite
def papers(draw):
    kind = draw(of("pressure examination", "pressure examination", "validation report", "insurance", "instructions"))
    day = draw(days)
    until = draw(of(None, 5, 20, 400))
    return document(kind, day, None if until is None else after(day, until), unit="unit-1")


@st.composite
def programs(draw):
    minutes, low = Decimal(draw(of("3", "15"))), draw(of(None, Decimal("121"), Decimal("134")))
    day = draw(days)
    return f.ProgramFact(row(day), "wrapped", minutes, low, None, None, None, "instructions", day, draw(SELDOM))


MORE = {
    "chemical": strips(),
    "bio_tests": odd_spore_tests(),
    "leaks": odd_leaks(),
    "checks": odd_checks(),
    "loads": odd_loads(),
    "jobs": odd_visits(),
    "events": odd_events(),
    "faults": faults(),
    "plan": lines(),
    "documents": papers(),
    "programs": programs(),
    "fits": st.builds(fit, of("seal", "vacuum-pump", "door-latch"), of("yes", "none", "missing", "unknown"), days),
    "counters": st.builds(counter, days, between(0, 900), of(0, 0, 500), of("cycles", "hours", "hours")),
    "placements": PIECES["placements"],
    "gaps": PIECES["gaps"],
}
SEVERAL = st.lists(of(*sorted(MORE)), max_size=7)
STEPS = ("find cause", "repair", "confine", "return", "withdraw", "recall packs", "review", "notify", "retest")


@st.composite
def recordings(draw, loads):
    of_load = draw(st.sampled_from(loads))
    verdict = draw(of("met", "met", "not met", "incomplete", "cannot be judged", "cannot be read"))
    return recording(of_load, verdict, held=draw(of("200", "60", "")), least=draw(of("135", "120", "")),
                     serial=draw(of("S-1", "", "S-9")))  # fmt: skip


@st.composite
def cases(draw, opened_by: str, known: date, kind: str):
    steps = []
    for name in draw(st.lists(of(*STEPS), max_size=3)):
        done = draw(of(None, 0, 0, 1, 4))
        made = step(known, name, done=None if done is None else after(known, done), due=draw(of(None, known)))
        steps.append(replace(made, done_given=draw(of("", "told", "signed"))))
    return case(opened_by, known, *steps, kind=kind)


def _failures(held: f.UnitFacts):
    """(what failed, the day it was known, kind) of what fails plainly."""
    for test in held.bio_tests:
        grown = [r.known_on for r in test.readings if r.test == "growth"]
        if grown:
            yield test, max(min(grown), test.row.happened_on), "biological"
    for one in held.air_removal:
        if one.result == "fail":
            yield one, one.row.happened_on, "air removal"
    for one in held.checks:
        if one.result == "fail" and one.kind in ("automatic control", "safety check", "air detector"):
            yield one, one.row.happened_on, one.kind
    for one in held.loads:
        if one.mechanical == "fail":
            yield one, one.row.happened_on, "mechanical"


@st.composite
def units(draw) -> f.UnitFacts:
    """A unit of the narrower histories with up to seven pieces more, and cases for some of what failed."""
    held = draw(plain_units())
    more = {name: list(getattr(held, name)) for name in MORE}
    for name in draw(SEVERAL):
        more[name].append(draw(MORE[name]))
    out = [e for e in more["events"] if e.kind == "withdrawn"]
    if out:  # a return may name what it ends
        more["events"] = [
            replace(e, ends=draw(of("", out[0].row.origin, "other"))) if e.kind == "returned" else e
            for e in more["events"]
        ]
    held = replace(held, **{k: tuple(v) for k, v in more.items()})
    if held.loads and draw(EITHER):
        held = replace(held, recordings=tuple(draw(recordings(held.loads)) for _ in range(draw(between(1, 2)))))
    known = {c.opened_by for c in held.cases}
    opened = [draw(cases(x.row.origin, on, kind)) for x, on, kind in _failures(held) if x.row.origin not in known
              and draw(EITHER)]  # fmt: skip
    return replace(held, cases=(*held.cases, *opened))
