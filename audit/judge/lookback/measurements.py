"""Look-backs opened by a measurement: an instrument out of tolerance, or a unit found out of tolerance.

The last good proof of an instrument is its last calibration found in tolerance (adjusted then or not); what it
measured on the unit since, up to the calibration that found it out, is in doubt (as ISO 13485:2016 7.6 asks of
results measured with it; from memory). The last good proof of the unit is the last measurement of the same quantity
at the same point that was left, or found and left alone, within its limits; what ran since is in doubt. A measurement
without any limit proves nothing; of one day only what both times show to have come before is a proof. Common
practice, no source, but for that.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from audit.facts import CalibrationFact, InstrumentFact, JobFact, ReadingFact, UnitFacts, in_order
from audit.judge.biological import run_of, shown_before
from audit.judge.judgement import Evidence, LookBack

from .inside import History, compose, nearest, reading_words, rule_words
from .matching import name_key
from .span import KNOWN, DoubtSpan, Point, last_before

INSTRUMENT, FOUND_OUT = "instrument out of tolerance", "found out of tolerance"
GOOD, OUT = ("in tolerance", "adjusted"), "out of tolerance"


def outside(reading: ReadingFact, value: Decimal | None) -> bool:
    """Whether a value lies outside the limits, both of which are still allowed; not measured is not outside."""
    if value is None:
        return False
    low, high = reading.lower, reading.upper
    return (low is not None and value < low) or (high is not None and value > high)


def left_good(reading: ReadingFact) -> bool:
    """Whether this measurement shows the unit left within its limits; without any limit it shows nothing."""
    value = reading.as_found if reading.as_left is None else reading.as_left
    limited = reading.lower is not None or reading.upper is not None
    return value is not None and limited and not outside(reading, value)


def what(reading: ReadingFact) -> tuple[str, str, str]:
    """What was measured and where, as it is compared: quantity, point, unit of measure."""
    return name_key(reading.quantity), name_key(reading.point), reading.unit_of_measure


def readings_of(unit: UnitFacts) -> list[tuple[ReadingFact, JobFact]]:
    """Every measurement on the unit with its job, in order."""
    return [(r, j) for j in in_order(unit.jobs) for r in in_order(j.readings)]


# ------------------------------------------------------------------------------------------------ the unit


def found_out_of_tolerance(history: History) -> Iterator[tuple[date, LookBack]]:
    """(day known, look-back) of each measurement found outside its limits."""
    rows = readings_of(history.unit)
    bad = [(r, j) for r, j in rows if outside(r, r.as_found)]
    if not bad:
        return
    job_of = {r.row.origin: j for r, j in rows}
    good: dict[tuple, list[ReadingFact]] = {}
    for reading, _ in rows:
        if left_good(reading):
            good.setdefault(what(reading), []).append(reading)
    for reading, job in bad:
        last = last_before(in_order(good.get(what(reading), ())), [run_of(reading)])
        start = _left(last, job_of[last.row.origin]) if last else None
        yield reading.row.happened_on, _found_out(history, reading, job, start)


def _left(reading: ReadingFact, job: JobFact) -> Point:
    text = f"last measured within limits: {reading_words(reading)}"
    return Point(reading.row.happened_on, reading.row.happened_at, "", text, job.row.origin)


def _found_out(history: History, reading: ReadingFact, job: JobFact, good: Point | None) -> LookBack:
    day = reading.row.happened_on
    point = f" at {reading.point}" if reading.point else ""
    low = "no lower limit" if reading.lower is None else f"from {reading.lower}"
    high = "no upper limit" if reading.upper is None else f"to {reading.upper}"
    value = f"{reading.as_found} {reading.unit_of_measure}"
    return compose(
        history,
        FOUND_OUT,
        f"{reading.quantity}{point} found {value} on {day.isoformat()}, limits {low} {high}",
        DoubtSpan(good, day, KNOWN),
        nothing="never measured within limits on record before: everything on record is in doubt",
        evidence=(Evidence(reading.row.ref, reading_words(reading)),),
        settled_on=history.decided({reading.row.origin, job.row.origin}),
        without=frozenset({job.row.origin}),
    )


# ------------------------------------------------------------------------------------------------ the instrument


def instruments_out_of_tolerance(history: History) -> Iterator[tuple[date, LookBack]]:
    """(day known, look-back) of each calibration that found out an instrument which had measured on this unit."""
    for instrument in in_order(history.clinic.instruments):
        if not any(c.result == OUT for c in instrument.calibrations):
            continue
        mine = _measured_with(history.unit, instrument)
        for calibration in in_order(instrument.calibrations):
            if calibration.result == OUT and mine:
                back = _instrument(history, instrument, calibration, _good_before(instrument, calibration), mine)
                if back.readings:
                    yield calibration.row.happened_on, back


def _good_before(instrument: InstrumentFact, bad: CalibrationFact) -> CalibrationFact | None:
    """The last good calibration that is shown to have come before another one."""
    return last_before(in_order(c for c in instrument.calibrations if c.result in GOOD), [run_of(bad)])


def _measured_with(unit: UnitFacts, instrument: InstrumentFact) -> list[ReadingFact]:
    name = name_key(instrument.name)
    return [r for r, _ in readings_of(unit) if any(name_key(own) == name for own, _ in r.instruments)]


def _instrument(history: History, instrument: InstrumentFact, bad: CalibrationFact, good, mine) -> LookBack:
    to = bad.row.happened_on
    start = None
    if good is not None:
        day = good.row.happened_on
        text = f"last good calibration {day.isoformat()} ({good.result}, {good.certificate})"
        start = Point(day, good.row.happened_at, "", text)
    before = [r for r in mine if start and start.after(r.row.happened_on, r.row.happened_at) is False]
    later = [r for r in mine if r.row.happened_on > to]
    left = {id(r) for r in (*before, *later)}
    inside = [r for r in mine if id(r) not in left]
    words, source = rule_words(history, INSTRUMENT, None)
    as_found = f", as found {bad.as_found}" if bad.as_found else ""
    return LookBack(
        trigger=f"{instrument.name} ({instrument.serial or 'no serial number'}) found out of tolerance on "
        f"{to.isoformat()}{as_found}",
        case="",
        after=start.day if start else None,
        after_text=start.text if start else "no good calibration on record before it: all it measured is in doubt",
        to=to,
        loads=(),
        unlogged="only what it measured is in doubt; no load is by this alone",
        readings=tuple(_said(r, instrument) for r in inside),
        parts=(),
        kind=INSTRUMENT,
        asked=words,
        source=source,
        outside=(
            *nearest([_said(r, instrument) for r in before[-1:]], len(before), "before the last good calibration"),
            *nearest(
                [_said(r, instrument) for r in later[:1]], len(later), "after the calibration that found it out"
            ),
        ),
        evidence=(Evidence(bad.row.ref, f"calibration of {to.isoformat()}: {bad.result} ({bad.certificate})"),),
        settled_on=history.decided({bad.row.origin}) or _measured_again(history, instrument, to, inside),
    )


def _said(reading: ReadingFact, instrument: InstrumentFact) -> Evidence:
    """The pair in one line, and which value of it the instrument took, where another one took the other."""
    name = name_key(instrument.name)
    found, left = (name_key(own) == name for own in (reading.instrument, reading.left_with[0]))
    which = "" if found and left else (", as found taken with it" if found else ", as left taken with it")
    return Evidence(reading.row.ref, f"{reading_words(reading)}{which}")


def _measured_again(history: History, instrument: InstrumentFact, out_on: date, inside) -> date | None:
    """The day all that is in doubt had been measured again within limits, with an instrument that can be trusted."""
    wanted = {what(r) for r in inside}
    found: dict[tuple, date] = {}
    for reading, _ in readings_of(history.unit):
        day = reading.row.happened_on
        if day > out_on and what(reading) in wanted and left_good(reading) and _trusted(history, instrument, reading):
            found.setdefault(what(reading), day)
    return max(found.values()) if wanted and len(found) == len(wanted) else None


def _trusted(history: History, out: InstrumentFact, reading: ReadingFact) -> bool:
    """Whether what the value that it was left with was measured with is not in doubt itself.

    An instrument without a name or past its calibration is none. One that was ever found out counts only where a
    good calibration is shown to lie between that one and the measurement, whichever of the two came first.
    """
    instrument, due = reading.shown_with
    name = name_key(instrument)
    if not name or due is None or due < reading.row.happened_on:
        return False
    marks = [c for i in history.clinic.instruments if name_key(i.name) == name for c in i.calibrations]
    if name == name_key(out.name):
        marks += [c for c in out.calibrations if c not in marks]
    return not any(c.result == OUT and not _cleared(c, marks, reading) for c in marks)


def _cleared(bad: CalibrationFact, marks: list[CalibrationFact], reading: ReadingFact) -> bool:
    """Whether a good calibration is shown to lie between one that found the instrument out and the measurement."""
    used, found = run_of(reading), run_of(bad)
    good = [run_of(c) for c in marks if c.result in GOOD]
    if shown_before(found, used):
        return any(shown_before(found, g) and shown_before(g, used) for g in good)
    return shown_before(used, found) and any(shown_before(used, g) and shown_before(g, found) for g in good)
