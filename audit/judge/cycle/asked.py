"""What is asked about a file whose numbers do not fit steam or the band: a unit, or gauge and absolute, confused?

Only asked: what was judged stays as it is, and no other reading is ever taken.
"""

from __future__ import annotations

from fractions import Fraction

from .file import RecordedCycle
from .head import PER_KPA
from .profile import Profile
from .steam import t_sat_exactly
from .verdict import shown

FITS = 2  # K: so near to theory another reading of the pressure is named


def of_pressure(cycle: RecordedCycle, row: int) -> str:
    """That a unit, or gauge and absolute, may be confused, and which reading of that row's pressure would fit."""
    said = " So far off, a unit, or gauge and absolute pressure, may be confused: what does the column hold?"
    value, reference = cycle.pressure.column.at(row), cycle.temperatures[0].at(row)
    fits = []
    for unit, per in PER_KPA.items():
        for kind, more in (("abs", Fraction(0)), ("gauge", cycle.ambient_kpa)):
            kpa = value * per + more
            if kpa > 0 and abs(reference - t_sat_exactly(kpa)) <= FITS:
                fits.append(f"pressure_{unit}_{kind}")
    return f"{said} It would fit as {' or '.join(fits)}." if fits else said


def of_temperature(cycle: RecordedCycle, profile: Profile) -> str:
    """How hot a reference was that was never in the band, and whether in another unit it would have been."""
    column = cycle.temperatures[0]
    rows = column.filled(0, len(cycle.time.values))
    if not len(rows):
        return " The reference has no value."
    greatest = Fraction(int(column.values[rows].max()), column.scale)
    said = f" The reference’s greatest was {shown(greatest, profile.low)} °C."
    others = {"°F": (greatest - 32) * 5 / 9, "kelvin": greatest - Fraction("273.15")}
    if column.name.endswith("_f"):
        others = {"°C": greatest * 9 / 5 + 32}
    for unit, value in others.items():
        if profile.low <= value <= profile.high:
            said += f" Read as {unit} that would be in the band: which unit does the column hold?"
    return said
