"""Measurements taken with an instrument past its calibration, or never calibrated as far as the record goes.

Both are asked: the day copied onto the measurement, and the certificates on record for an instrument of that name.
Where they differ the stricter counts. An instrument found out of tolerance is a look-back (see `look_back`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import CalibrationFact, InstrumentFact, ReadingFact, in_order
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback.inside import reading_words
from audit.judge.lookback.matching import name_key
from audit.judge.lookback.measurements import GOOD, readings_of

from .tools import COMPANY, PRACTICE, Judged, day


@dataclass(slots=True)
class _MeasuredLapse:
    """Measurements of one visit with one instrument, all with the same to be said of it."""

    instrument: str
    on: date
    due: date | None  # the last day its calibration held; None: no calibration on record
    readings: list[ReadingFact]


def check(judged: Judged) -> Iterator[Finding]:
    """One for each visit and instrument without a calibration that held that day."""
    known = {name_key(i.name): i for i in in_order(judged.settled.clinic.instruments)}
    lapses: dict[tuple, _MeasuredLapse] = {}
    for reading, job in readings_of(judged.unit):
        on = reading.row.happened_on
        for name, copied in reading.instruments:
            lapsed, due = _lapsed(on, copied, known.get(name_key(name)))
            if lapsed:
                held = lapses.setdefault((job.row.origin, name_key(name), due), _MeasuredLapse(name, on, due, []))
                held.readings.append(reading)
    for lapse in lapses.values():
        yield _finding(lapse, known.get(name_key(lapse.instrument)))


def _lapsed(on: date, copied: date | None, instrument: InstrumentFact | None) -> tuple[bool, date | None]:
    """(whether no calibration held, the last day one did). `copied`: that day as the measurement has it."""
    certificate = None if instrument is None else _by(instrument, on)
    ends = [d for d in (copied, certificate and certificate.valid_to) if d is not None]
    if ends:
        return min(ends) < on, min(ends)
    return instrument is not None, None


def _by(instrument: InstrumentFact, on: date) -> CalibrationFact | None:
    """The newest calibration with a result up to and with that day."""
    held = [c for c in in_order(instrument.calibrations) if c.row.happened_on <= on and c.result != "no result"]
    return held[-1] if held else None


def _next(instrument: InstrumentFact | None, on: date) -> CalibrationFact | None:
    later = in_order(instrument.calibrations) if instrument else ()
    return next((c for c in later if c.row.happened_on > on and c.result != "no result"), None)


def _finding(lapse: _MeasuredLapse, instrument: InstrumentFact | None) -> Finding:
    quantities = ", ".join(dict.fromkeys(r.quantity for r in lapse.readings))
    text = f"{quantities} of {day(lapse.on)} measured with {lapse.instrument}"
    after = _next(instrument, lapse.on)
    good = after is not None and after.result in GOOD
    proof = tuple(Evidence(r.row.ref, f"{reading_words(r)}, with {lapse.instrument}") for r in lapse.readings)
    if after is not None:
        proof += (Evidence(after.row.ref, f"calibration of {day(after.row.happened_on)}: {after.result}"),)
    return Finding(
        rule="instrument-past-calibration" if lapse.due else "instrument-not-calibrated",
        severity=Severity.NOTE if good else Severity.PUT_RIGHT,
        since=lapse.on,
        message=f"{text}, whose calibration was due {day(lapse.due)}"
        if lapse.due
        else f"{text}, of which no calibration by that day is on record",
        way_out=f"nothing more: the next calibration, {day(after.row.happened_on)}, found it in tolerance"
        if good
        else "calibrate the instrument and judge what it measured since",
        evidence=proof,
        source=PRACTICE,
        owner=COMPANY,
    )
