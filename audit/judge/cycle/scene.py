"""A recorded cycle beside its profile: the rows that all criteria look at, found once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .file import RecordedCycle
from .profile import Profile
from .stretch import HoldStretch, all_in, edges, in_band

_FALLEN = 3  # K under the greatest: so far has the reference of a log without a hold come down at its end


@dataclass(frozen=True, slots=True)
class Scene:
    """Where hold, plateau and the reference's samples lie. Rows count from 0; None where there is none.

    `first` and `last` are the reference's first and last rows in the band, `reached` its first that is not below it,
    `together` the first in which all sensors are in it, `begin` the first of the plateau that the hold lies in;
    `below` says of each row whether the reference is below the band. `why` says why the log is incomplete, or "".
    """

    cycle: RecordedCycle
    profile: Profile
    hold: HoldStretch | None
    plateau: HoldStretch | None
    begin: int | None
    first: int | None
    last: int | None
    together: int | None
    reached: int | None
    below: np.ndarray
    why: str

    @property
    def sensors(self) -> int:
        """How many columns of temperature there are."""
        return len(self.cycle.temperatures)


def scene_of(cycle: RecordedCycle, profile: Profile) -> Scene:
    """Find hold and plateau of a cycle under a profile."""
    bands = [in_band(column, profile.low, profile.high) for column in cycle.temperatures]
    reference, together, time = bands[0], all_in(bands), cycle.time.values
    hold = together.longest(time)
    plateau = hold if len(bands) == 1 else reference.longest(time)
    column = cycle.temperatures[0]
    below = column.values < edges(column, profile.low, profile.high)[0]
    reached = ~below
    if column.there is not None:
        below, reached = below & column.there, reached & column.there
    first = _first(reference.good)
    return Scene(
        cycle,
        profile,
        hold,
        plateau,
        None if hold is None else reference.around(hold.first),
        first,
        None if first is None else len(time) - 1 - int(np.argmax(reference.good[::-1])),
        None if hold is None else _first(together.good),
        _first(reached),
        below,
        _why(cycle, hold, below),
    )


def _first(rows: np.ndarray) -> int | None:
    """The first row that is true."""
    first = int(np.argmax(rows))
    return first if rows[first] else None


def _why(cycle: RecordedCycle, hold: HoldStretch | None, below: np.ndarray) -> str:
    """Why the log is incomplete; "" where it is whole."""
    column = cycle.temperatures[0]
    last = column.last_before(len(below))
    if last is None:
        return "the reference has no value"
    if hold is not None:
        if not below[0 if column.there is None else int(np.argmax(column.there))]:
            return "the log does not begin below the band: what came before is not on record"
        if not below[hold.last + 1 :].any():
            return "the log ends before the reference is below the band again"
        return ""
    greatest = int(column.values[column.rows(0, len(below))].max())
    if not below[last] or greatest - int(column.values[last]) < _FALLEN * column.scale:
        return "the log ends before the sensors were in the band together, and before it has come down again"
    return ""
