"""The ten criteria of a cycle, each measured, held against its limit and put in words.

Limits are inclusive and compare as the decimals of the file. What is not on record is not guessed.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from . import asked
from .file import LogColumn, Rows
from .profile import AT_LEAST
from .scene import Scene
from .steam import t_sat_exactly, t_sat_of
from .stretch import HoldStretch
from .verdict import INCOMPLETE, MET, NOT_JUDGED, NOT_MET, PULSES, UNKNOWN, C, Criterion, K, S, shown

CONFUSED = 5  # K: over that a unit, or gauge and absolute, may be confused
FALL = 30  # kPa under ambient make a fall of pressure
_CLOSE = 1e-6  # K: so near to its limit a difference to theory is worked out again, to 40 digits
_NANO = 10**9  # else it is said in billionths
NO_HOLD = "There is no hold to judge: the sensors were never all in the band."


def criteria_of(scene: Scene) -> Iterator[Criterion]:
    """All ten, in the order of the form."""
    yield holding_time(scene)
    yield plateau_time(scene)
    yield equilibration(scene)
    yield band_low(scene)
    yield band_high(scene)
    yield spread(scene)
    yield theory_difference(scene)
    yield sampling(scene)
    yield air_removal(scene)
    yield drying(scene)


def _held(scene: Scene, id: str, measured, unit: str, at, words: str, failed: str = NOT_MET) -> Criterion:
    """Held against the profile's limit: `failed` is the verdict of what is outside; without a limit not judged."""
    limit = scene.profile.limit(id)
    if limit is None:
        return Criterion(id, NOT_JUDGED, measured, None, unit, None, at, words)
    margin = measured - limit if id in AT_LEAST else limit - abs(measured)
    said = f"{words} Asked: at {'least' if id in AT_LEAST else 'most'} {shown(limit)} {unit}."
    return Criterion(id, MET if margin.numerator >= 0 else failed, measured, limit, unit, margin, at, said)


def _none(scene: Scene, id: str, unit: str, words: str, verdict: str = NOT_JUDGED) -> Criterion:
    """Nothing was measured."""
    return Criterion(id, verdict, None, scene.profile.limit(id), unit, None, None, words)


def _s(seconds: Fraction, beside: Fraction | None = None) -> str:
    return f"{shown(seconds, beside)} s"


# ------------------------------------------------------------------------------------------------ times


def holding_time(scene: Scene) -> Criterion:
    """The longest stretch in which every sensor is in the band; too short a one in a log cut short is incomplete."""
    failed = INCOMPLETE if scene.why else NOT_MET
    return _stretch(scene, "holding-time", scene.hold, "all sensors", failed)


def plateau_time(scene: Scene) -> Criterion:
    """The same of the reference alone."""
    return _stretch(scene, "plateau-time", scene.plateau, "the reference", INCOMPLETE if scene.why else NOT_MET)


def _stretch(scene: Scene, id: str, stretch, who: str, failed: str) -> Criterion:
    cycle, profile = scene.cycle, scene.profile
    band = f"{shown(profile.low)} to {shown(profile.high)} °C"
    if stretch is None:
        words = f"Never {'was' if who == 'the reference' else 'were'} {who} in the band of {band}."
        words += asked.of_temperature(cycle, profile)
        return _held(scene, id, Fraction(0), S, None, words, failed)
    length, begin = cycle.between(stretch.first, stretch.last), cycle.moment(stretch.first)
    end = cycle.moment(stretch.last)
    words = f"{_s(length, profile.limit(id))} with {who} in {band}, from {_s(begin)} to {_s(end)}."
    return _held(scene, id, length, S, begin, words, failed)


def equilibration(scene: Scene) -> Criterion:
    """From the reference's first sample in the band to the first with all sensors in it."""
    id, cycle, first = "equilibration", scene.cycle, scene.first
    if scene.sensors == 1:
        return _none(scene, id, S, "One sensor has nothing to wait for.")
    if scene.together is None:
        return _none(scene, id, S, NO_HOLD)
    taken, limit = cycle.between(first, scene.together), scene.profile.limit(id)
    words = f"{_s(taken, limit)} from the reference’s first sample in the band to the first of all sensors."
    before = cycle.temperatures[0].last_before(first)
    if limit is not None and taken <= limit and before is not None:
        longest = cycle.between(before, scene.together)
        if longest > limit:
            words += f" Counted from the last sample before it, it would be {_s(longest, limit)}: over the limit."
    return _held(scene, id, taken, S, cycle.moment(scene.together), words)


def sampling(scene: Scene) -> Criterion:
    """The longest time between two values of one column, from the plateau's beginning to the hold's end."""
    id, cycle = "sampling", scene.cycle
    if scene.hold is None:
        return _none(scene, id, S, NO_HOLD)
    columns = [*cycle.temperatures, *([] if cycle.pressure is None else [cycle.pressure.column])]
    found, seen = None, False
    for column in columns:
        if column.there is None and seen:
            continue  # the same rows as another whole column
        seen = seen or column.there is None
        gap = _widest(scene, column.rows(scene.begin, scene.hold.last + 1))
        if gap is not None and (found is None or gap[0] > found[0]):
            found = (*gap, column.name)
    if found is None:
        return _none(scene, id, S, "There are not two values of a column to lie apart.")
    wide, row, name = found
    longest, limit = Fraction(wide, cycle.time.scale), scene.profile.limit(id)
    words = f"{_s(longest, limit)} at most between two values ({name})."
    return _held(scene, id, longest, S, cycle.moment(row), words, UNKNOWN)


def _widest(scene: Scene, rows: Rows) -> tuple[int, int] | None:
    """The widest step from one of these rows to the next, and the row it begins at."""
    moments = scene.cycle.time.values[rows]
    if len(moments) < 2:
        return None
    steps = moments[1:] - moments[:-1]
    widest = int(np.argmax(steps))
    return int(steps[widest]), _row(rows, widest)


def drying(scene: Scene) -> Criterion:
    """From the hold's last sample to the last one below the band; a log that ends too early is incomplete."""
    id, cycle = "drying", scene.cycle
    if scene.hold is None:
        return _none(scene, id, S, NO_HOLD)
    after = np.flatnonzero(scene.below[scene.hold.last + 1 :])
    if not len(after):
        return _none(
            scene, id, S, "The log has no sample below the band after the hold.", _asked(scene, id, INCOMPLETE)
        )
    end = scene.hold.last + 1 + int(after[-1])
    taken = cycle.between(scene.hold.last, end)
    words = f"{_s(taken, scene.profile.limit(id))} from the last sample of the hold to the end of the log."
    return _held(scene, id, taken, S, cycle.moment(end), words, INCOMPLETE)


def _asked(scene: Scene, id: str, verdict: str) -> str:
    return NOT_JUDGED if scene.profile.limit(id) is None else verdict


# ------------------------------------------------------------------------------------------------ temperatures


def band_low(scene: Scene) -> Criterion:
    """The least value of any sensor in the hold, shown only: under the band it would be outside the hold."""
    if scene.hold is None:
        return Criterion("band-low", NOT_JUDGED, None, None, C, None, None, NO_HOLD)
    least = place = None
    for n, column in enumerate(scene.cycle.temperatures):
        rows = column.rows(scene.hold.first, scene.hold.last + 1)
        row = int(np.argmin(column.values[rows]))
        value = int(column.values[rows][row])
        if least is None or value < least:
            least, place, at = value, n, _row(rows, row)
    value = scene.cycle.temperatures[place].at(at)
    words = f"{shown(value)} °C is the least in the hold ({scene.cycle.temperatures[place].name})."
    return Criterion("band-low", NOT_JUDGED, value, None, C, None, scene.cycle.moment(at), words)


def band_high(scene: Scene) -> Criterion:
    """The greatest value of any sensor between the reference's first and last samples in the band, both inclusive."""
    high = scene.profile.high
    if scene.first is None:
        words = "The reference was never in the band."
        return Criterion("band-high", NOT_JUDGED, None, high, C, None, None, words)
    greatest = None
    for n, column in enumerate(scene.cycle.temperatures):
        rows = column.rows(scene.first, scene.last + 1)
        values = column.values[rows]
        if not len(values):
            continue
        row = int(np.argmax(values))
        if greatest is None or values[row] > greatest:
            greatest, place, at = values[row], n, _row(rows, row)
    column = scene.cycle.temperatures[place]
    value = column.at(at)
    words = f"{shown(value, high)} °C is the greatest ({column.name}). Asked: at most {shown(high)} °C."
    before_and_after = max(int(c.values[c.rows(0, len(c.values))].max(initial=0)) for c in scene.cycle.temperatures)
    if value <= high < (beyond := Fraction(before_and_after, column.scale)):
        words += f" Before the reference was first in the band, or after, it was {shown(beyond, high)} °C."
    verdict = MET if value <= high else NOT_MET
    return Criterion("band-high", verdict, value, high, C, high - value, scene.cycle.moment(at), words)


def _row(rows: Rows, n: int) -> int:
    return rows.start + n if isinstance(rows, slice) else int(rows[n])


def spread(scene: Scene) -> Criterion:
    """Greatest minus least of all sensors at one instant of the hold."""
    id, columns = "spread", scene.cycle.temperatures
    if len(columns) == 1:
        return _none(scene, id, K, "One sensor has no spread.")
    if scene.hold is None:
        return _none(scene, id, K, NO_HOLD)
    held = slice(scene.hold.first, scene.hold.last + 1)
    highest = lowest = columns[0].values[held]
    if any(c.there is not None for c in columns):
        highest, lowest = _extremes(columns, held)
    else:
        for column in columns[1:]:
            highest, lowest = np.maximum(highest, column.values[held]), np.minimum(lowest, column.values[held])
    apart = highest - lowest
    row = int(np.argmax(apart))
    value = Fraction(int(apart[row]), columns[0].scale)
    words = f"{shown(value, scene.profile.limit(id))} K is the widest at one instant of the hold."
    return _held(scene, id, value, K, scene.cycle.moment(held.start + row), words)


def _extremes(columns, held: slice) -> tuple[np.ndarray, np.ndarray]:
    """Greatest and least of the cells that are filled; a row without any gives two equal numbers."""
    highest = lowest = None
    for column in columns:
        values = column.values[held]
        there = np.ones(len(values), bool) if column.there is None else column.there[held]
        if highest is None:
            highest, lowest, seen = values.copy(), values.copy(), there.copy()
            continue
        highest = np.where(there, np.where(seen, np.maximum(highest, values), values), highest)
        lowest = np.where(there, np.where(seen, np.minimum(lowest, values), values), lowest)
        seen |= there
    return highest, lowest


# ------------------------------------------------------------------------------------------------ pressure


def theory_difference(scene: Scene) -> Criterion:
    """The value of greatest size in the hold of the reference minus what its pressure gives for saturated steam."""
    id, cycle = "theory-difference", scene.cycle
    if cycle.pressure is None or not len(cycle.pressure.column.filled(0, len(cycle.time.values))):
        return _none(scene, id, K, "There is no pressure on record: saturation is not judged.")
    if scene.hold is None:
        return _none(scene, id, K, NO_HOLD)
    reference, pressure = cycle.temperatures[0], cycle.pressure
    rows = _paired(reference, pressure.column, scene.hold)
    if isinstance(rows, np.ndarray) and not len(rows):
        verdict = UNKNOWN if scene.profile.pressure_asked else NOT_JUDGED
        return _none(scene, id, K, "There is no pressure on record in the hold.", verdict)
    apart = np.asarray(reference.values[rows], float) / reference.scale - t_sat_of(pressure.floats(rows))
    worst = int(np.argmax(np.abs(apart)))
    return _against_theory(scene, id, _row(rows, worst), float(apart[worst]), rows)


def _paired(reference: LogColumn, pressure: LogColumn, hold: HoldStretch) -> Rows:
    """Rows of the hold that have both a temperature of the reference and a pressure."""
    if pressure.there is None or reference.there is None:
        return (reference if pressure.there is None else pressure).rows(hold.first, hold.last + 1)
    rows = reference.filled(hold.first, hold.last + 1)
    return rows[pressure.there[rows]]


def _against_theory(scene: Scene, id: str, row: int, apart: float, rows: Rows) -> Criterion:
    cycle, limit = scene.cycle, scene.profile.limit(id)
    kpa = cycle.pressure.kpa(row)
    if limit is not None and abs(abs(apart) - float(limit)) < _CLOSE:
        value = cycle.temperatures[0].at(row) - t_sat_exactly(kpa)
    else:
        value = Fraction(round(apart * _NANO), _NANO)
    side = "over" if value > 0 else "under"
    words = f"{shown(abs(value), limit)} K {side} the temperature of saturated steam at {shown(kpa)} kPa absolute."
    if abs(value) > CONFUSED:
        words += asked.of_pressure(cycle, row)
    if cycle.ambient_assumed:
        words += " The ambient pressure was assumed."
    made = _held(scene, id, value, K, cycle.moment(row), words, UNKNOWN if cycle.ambient_assumed else NOT_MET)
    if made.verdict == MET and scene.profile.pressure_asked and (lost := _unseen(scene, rows)) is not None:
        said = f"{words} But for {_s(lost)} of the hold temperature and pressure are not both on record."
        return Criterion(id, UNKNOWN, value, made.limit, K, made.margin, made.at, said)
    return made


def _unseen(scene: Scene, rows: Rows) -> Fraction | None:
    """The longest time of the hold in which rows lack one of the two values, if over the profile's sampling."""
    limit, cycle, hold = scene.profile.limit("sampling"), scene.cycle, scene.hold
    if limit is None or isinstance(rows, slice):
        return None
    moments = cycle.time.values[np.concatenate(([hold.first], rows, [hold.last]))]
    lacking = np.diff(np.concatenate(([hold.first - 1], rows, [hold.last + 1]))) > 1
    lost = Fraction(int((np.diff(moments) * lacking).max()), cycle.time.scale)
    return lost if lost > limit else None


def air_removal(scene: Scene) -> Criterion:
    """Pulses before the reference first reaches the band: a fall to 30 kPa below ambient and back to ambient."""
    id, cycle = "air-removal", scene.cycle
    pressure = cycle.pressure
    after = len(cycle.time.values) if scene.reached is None else scene.reached
    rows = None if pressure is None else pressure.column.rows(0, after)
    values = None if pressure is None else pressure.column.values[rows]
    if values is None or not len(values):
        words = "There is no pressure on record before the band was reached."
        return _none(scene, id, PULSES, words, _asked(scene, id, UNKNOWN))
    ambient = cycle.ambient_kpa
    count = _pulses(values, pressure.at_most(ambient - FALL), pressure.at_least(ambient))
    row = _row(rows, int(np.argmin(values)))
    stated = "ambient" if cycle.ambient is not None else "an assumed ambient"
    words = (
        f"{count} {'pulse' if count == 1 else 'pulses'} of at least {FALL} kPa below {stated} of {shown(ambient)} kPa"
    )
    words += f"; {shown(pressure.kpa(row))} kPa absolute was the deepest."
    failed = INCOMPLETE if scene.why else NOT_MET  # those of a log cut short may be on no record
    return _held(scene, id, Fraction(count), PULSES, cycle.moment(row), words, failed)


def _pulses(values: np.ndarray, deep: int, back: int) -> int:
    """How often the values go from `deep` or less to `back` or more."""
    low, high = values <= deep, values >= back
    sides = low[low | high]
    return int(np.count_nonzero(sides[:-1] & ~sides[1:]))
