"""What one cycle gives to a chart of many: numbers that drift before a criterion fails (common practice)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .file import RecordedCycle
from .profile import Profile
from .scene import Scene, scene_of
from .steam import t_sat_of


@dataclass(frozen=True, slots=True)
class Features:
    """Numbers of one cycle; None where they are not on record. A cycle without a hold has no more than the first two.

    `come_up_s` runs from the first row to the reference's first sample in the band; `deepest_kpa` is absolute, before
    the band was reached. Of the hold: `equilibration_s`, mean of the reference in °C, the least margin of any sensor
    over the band's lower end in K, and the mean of reference minus saturated steam in K.
    """

    come_up_s: float | None = None
    deepest_kpa: float | None = None
    equilibration_s: float | None = None
    hold_mean_c: float | None = None
    hold_margin_k: float | None = None
    theory_mean_k: float | None = None


def features_of(cycle: RecordedCycle, profile: Profile) -> Features:
    """The numbers of a cycle under its profile. What is met and what is not is said by `judge` alone."""
    scene = scene_of(cycle, profile)
    come_up = None if scene.first is None else float(cycle.between(0, scene.first))
    deepest = _deepest(scene)
    if scene.hold is None:
        return Features(come_up, deepest)
    first, after = scene.hold.first, scene.hold.last + 1
    reference = cycle.temperatures[0]
    least = min(int(c.values[c.rows(first, after)].min()) for c in cycle.temperatures) / reference.scale
    return Features(
        come_up,
        deepest,
        None if scene.sensors == 1 else float(cycle.between(scene.first, scene.together)),
        float(np.mean(np.asarray(reference.values[reference.rows(first, after)], float))) / reference.scale,
        least - float(profile.low),
        _theory(cycle, first, after),
    )


def _deepest(scene: Scene) -> float | None:
    pressure = scene.cycle.pressure
    if pressure is None:
        return None
    after = len(scene.cycle.time.values) if scene.reached is None else scene.reached
    rows = pressure.column.filled(0, after)
    return float(pressure.floats(rows).min()) if len(rows) else None


def _theory(cycle: RecordedCycle, first: int, after: int) -> float | None:
    reference, pressure = cycle.temperatures[0], cycle.pressure
    if pressure is None:
        return None
    rows = np.intersect1d(reference.filled(first, after), pressure.column.filled(first, after), assume_unique=True)
    if not len(rows):
        return None
    celsius = np.asarray(reference.values[rows], float) / reference.scale
    return float(np.mean(celsius - t_sat_of(pressure.floats(rows))))
