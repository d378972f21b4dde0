"""A recorded cycle beside its profile: the rows that all criteria look at, found once."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from .file import RecordedCycle
from .profile import Profile
from .stretch import Stretch, all_in, edges, in_band

_FALLEN = 3  # K under the greatest: so far has the reference of a log without a hold come down at its end


@dataclass(frozen=True, slots=True)
class Scene:
    """Where hold, plateau and the reference's samples lie. Rows count from 0; None where there is none.

    `first` and `last` are the reference's first and last rows in the band, `together` the first in which all sensors
    are in it, `begin` the first of the plateau that the hold lies in. `why` says why the log is incomplete, or "".
    """

    cycle: RecordedCycle
    profile: Profile
    hold: Stretch | None
    plateau: Stretch | None
    begin: int | None
    first: int | None
    last: int | None
    together: int | None
    reference: np.ndarray
    below: np.ndarray
    why: str

    @property
    def sensors(self) -> int:
        """How many columns of temperature there are."""
        return len(self.cycle.temperatures)

    def held(self, place: int) -> np.ndarray:
        """Rows of the hold in which a column of temperature has a value; all of them where no cell is empty."""
        return self.cycle.temperatures[place].filled(self.hold.first, self.hold.last + 1)


def scene_of(cycle: RecordedCycle, profile: Profile) -> Scene:
    """Find hold and plateau of a cycle under a profile."""
    bands = [in_band(column, profile.low, profile.high) for column in cycle.temperatures]
    reference, together, time = bands[0], all_in(bands), cycle.time.values
    hold, plateau = together.longest(time), reference.longest(time)
    own = np.flatnonzero(reference.good)
    column = cycle.temperatures[0]
    least, _ = edges(column, profile.low, profile.high)
    below = column.values < least
    if column.there is not None:
        below &= column.there
    values = column.filled(0, len(time))
    return Scene(
        cycle,
        profile,
        hold,
        plateau,
        None if hold is None else reference.around(hold.first),
        int(own[0]) if len(own) else None,
        int(own[-1]) if len(own) else None,
        int(np.argmax(together.good)) if hold is not None else None,
        values,
        below,
        _why(cycle, hold, values, below),
    )


def _why(cycle: RecordedCycle, hold: Stretch | None, values: np.ndarray, below: np.ndarray) -> str:
    """Why the log is incomplete; "" where it is whole."""
    column = cycle.temperatures[0]
    if not len(values):
        return "the reference has no value"
    if hold is not None:
        if not below[values[0]]:
            return "the log does not begin below the band: what came before is not on record"
        if not below[hold.last + 1 :].any():
            return "the log ends before the reference is below the band again"
        return ""
    fallen = int(column.values[values].max()) - int(column.values[values[-1]]) >= ceil(_FALLEN * column.scale)
    if not below[values[-1]] or not fallen:
        return "the log ends before the sensors were in the band together, and before it has come down again"
    return ""
