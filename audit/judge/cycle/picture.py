"""What a picture of a recorded cycle is drawn from: few enough points, and no extreme left out.

A column is cut into stretches of equal time; of each its first, least, greatest and last values are kept, so that a
dip of one sample still shows.
"""

from __future__ import annotations

import numpy as np

from .file import LogColumn, RecordedCycle
from .profile import Profile
from .scene import scene_of
from .steam import t_sat_of

STRETCHES = 120  # a picture is 344 units wide: about two units each


def picture_of(cycle: RecordedCycle, profile: Profile) -> dict:
    """As data: `curves` are lists of (seconds from the first row, value) by name, °C and kPa absolute.

    `hold` is its first and last second, None without one; `band` the lower and the upper end in °C.
    """
    seconds = cycle.time.floats()
    seconds = seconds - seconds[0]
    curves = {"reference": _of(seconds, cycle.temperatures[0])}
    for n, column in enumerate(cycle.temperatures[1:], start=2):
        curves[f"sensor {n}"] = _of(seconds, column)
    if cycle.pressure is not None:
        rows = cycle.pressure.column.filled(0, len(seconds))
        kpa = cycle.pressure.floats(rows)
        curves["pressure"] = thinned(seconds[rows], kpa)
        curves["theory"] = thinned(seconds[rows], t_sat_of(kpa))
    scene = scene_of(cycle, profile)
    hold = scene.hold and [float(seconds[scene.hold.first]), float(seconds[scene.hold.last])]
    found = {name: points for name, points in curves.items() if points}
    return {
        "curves": found, "hold": hold, "band": [float(profile.low), float(profile.high)], "lasts": float(seconds[-1]),
        "begins": float(cycle.moment(0)),
    }  # fmt: skip


def _of(seconds: np.ndarray, column: LogColumn) -> list[list[float]]:
    rows = column.filled(0, len(seconds))
    return thinned(seconds[rows], np.asarray(column.values[rows], float) / column.scale)


def thinned(seconds: np.ndarray, values: np.ndarray) -> list[list[float]]:
    """At most four points a stretch of equal time: first, least, greatest and last, in order; `nan` left out."""
    sound = np.isfinite(values)
    seconds, values = seconds[sound], values[sound]
    if len(values) <= 4 * STRETCHES:
        return [[round(float(t), 3), round(float(v), 3)] for t, v in zip(seconds, values, strict=True)]
    edges = np.searchsorted(seconds, np.linspace(seconds[0], seconds[-1], STRETCHES + 1)[1:-1])
    kept: set[int] = set()
    for first, after in zip([0, *edges], [*edges, len(values)], strict=True):
        if after > first:
            part = values[first:after]
            kept |= {int(first), int(first + part.argmin()), int(first + part.argmax()), int(after - 1)}
    return [[round(float(seconds[n]), 3), round(float(values[n]), 3)] for n in sorted(kept)]
