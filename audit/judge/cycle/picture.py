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

AROUND = 4.0  # K under and over the band in the picture of the plateau
STRETCHES = 120  # a picture is 344 units wide: about two units each


def picture_of(cycle: RecordedCycle, profile: Profile) -> dict:
    """As data: `curves` are lists of (seconds from the first row, value) by name, °C and kPa absolute.

    `plateau` holds `since`, `until` and the curves of °C of the part in which the reference is near the band or above
    it; `hold` is its first and last second, None without one; `band` the lower and the upper end in °C.
    """
    seconds = cycle.time.floats()
    seconds = seconds - seconds[0]
    celsius = {"reference": _of(seconds, cycle.temperatures[0])}
    for n, column in enumerate(cycle.temperatures[1:], start=2):
        celsius[f"sensor {n}"] = _of(seconds, column)
    others = {}
    if cycle.pressure is not None:
        rows = cycle.pressure.column.filled(0, len(seconds))
        kpa = cycle.pressure.floats(rows)
        celsius["theory"] = seconds[rows], t_sat_of(kpa)
        others["pressure"] = seconds[rows], kpa
    scene, lasts = scene_of(cycle, profile), float(seconds[-1])
    since, until = _plateau(*celsius["reference"], float(profile.low) - AROUND, lasts)
    return {
        "curves": _drawn(celsius | others),
        "plateau": {"since": since, "until": until, "curves": _drawn(celsius, since, until)},
        "hold": scene.hold and [float(seconds[scene.hold.first]), float(seconds[scene.hold.last])],
        "band": [float(profile.low), float(profile.high)],
        "lasts": lasts,
        "begins": float(cycle.moment(0)),
    }


def _of(seconds: np.ndarray, column: LogColumn) -> tuple[np.ndarray, np.ndarray]:
    rows = column.filled(0, len(seconds))
    return seconds[rows], np.asarray(column.values[rows], float) / column.scale


def _plateau(seconds: np.ndarray, values: np.ndarray, least: float, lasts: float) -> tuple[float, float]:
    """The seconds from the first to the last value of the reference that is at least that, and a little around."""
    near = seconds[values >= least]
    if not len(near):
        return 0.0, lasts
    around = max((float(near[-1]) - float(near[0])) * 0.05, 1.0)
    return max(float(near[0]) - around, 0.0), min(float(near[-1]) + around, lasts)


def _drawn(curves: dict, since: float = 0.0, until: float = np.inf) -> dict[str, list]:
    """Each thinned, within these seconds (inclusive) and the value before and after; without those of no value."""
    found = {}
    for name, (seconds, values) in curves.items():
        first = max(int(np.searchsorted(seconds, since, "left")) - 1, 0)
        after = int(np.searchsorted(seconds, until, "right")) + 1
        if points := thinned(seconds[first:after], values[first:after]):
            found[name] = points
    return found


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
