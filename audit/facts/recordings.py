"""Facts of recorded cycles: the file of a recorder, what it says of itself, and what it was judged to show."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from .row import Row

MET, NOT_MET, INCOMPLETE, UNKNOWN, UNREADABLE = (
    "met", "not met", "incomplete", "cannot be judged", "cannot be read",
)  # fmt: skip
RECORDING_VERDICTS = (MET, NOT_MET, INCOMPLETE, UNKNOWN, UNREADABLE)


@dataclass(frozen=True, slots=True)
class CycleRecordingFact:
    """A recorded cycle with the load it is of. `row.happened_on` is the day it began by the file, else the load's.

    `verdict` is how the program judged the file `sha256` under `profile`; it is worked out from the file, never
    recorded. `held_seconds` is the hold measured, `least_temperature` the least of any sensor in it, in °C.
    """

    row: Row
    load: str  # origin of the LoadFact
    how: str  # upload, collected
    filename: str
    sha256: str
    serial: str  # this and what follows to `logger` by the file itself, "" where it does not say
    cycle_number: str
    program: str
    started: str
    logger: str
    profile: str  # judged under; "" where none is known
    verdict: str  # one of RECORDING_VERDICTS
    words: str  # why, in words; "" where nothing is to be said
    held_seconds: Decimal | None = None  # None: there was no hold
    least_temperature: Decimal | None = None  # None: there was no hold
