"""Whether a number of a unit's cycles has moved since its last calibration or repair, in words for a technician.

A baseline is the first 20 cycles since; those after it stand on two charts, an EWMA and a CUSUM. A signal of either
is said with the day it began and how far the number has moved. What to look at is a hint, never a cause stated as
fact: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean

from .charts import LEAST_BASELINE, Baseline, baseline_of, cusum, ewma

WEIGHT, WIDTH = 0.2, 3.0  # of the EWMA
SLACK, REACH = 0.5, 5.0  # of the CUSUM, in standard deviations: NIST 6.3.2.3 names half a deviation and 4 to 5


@dataclass(frozen=True, slots=True)
class Watched:
    """A number to watch: its name, unit, the least spread that an instrument can show, and what high and low hint at.

    An empty hint says that this way is no trouble: nothing is said then.
    """

    name: str
    unit: str
    least_sigma: float
    high: str
    low: str


WATCHED = {
    "come_up_s": Watched("time to come up", "s", 1.0, "steam supply, load or heater", ""),
    "deepest_kpa": Watched("deepest vacuum", "kPa", 0.1, "vacuum pump, seal or valves", ""),
    "equilibration_s": Watched("equilibration", "s", 0.5, "air removal or loading", ""),
    "hold_mean_c": Watched("mean of the hold", "°C", 0.05, "control or sensor", "control or sensor"),
    "hold_margin_k": Watched("margin over the band’s lower end", "K", 0.05, "", "control, sensor or steam supply"),
    "theory_mean_k": Watched(
        "difference to saturated steam", "K", 0.05, "superheat or a sensor", "air that is left in: seal, trap, pump"
    ),
    "leak_kpa_min": Watched("leak rate", "kPa/min", 0.005, "door seal or valves", ""),
    "f0_min": Watched("F0", "min", 0.5, "", "temperature or time of the hold"),
}


@dataclass(frozen=True, slots=True)
class Drift:
    """A number that has moved: which, which way, since which day's cycle, by how much on average, and words."""

    id: str
    side: str
    since: date
    moved: float
    baseline: Baseline
    words: str


def drift_of(id: str, values: Sequence[tuple[date, float]], since: date) -> Drift | None:
    """Whether a number of `WATCHED` has moved, from (day, value) in the order of cycles; `since` counts.

    `since` is the day after the last calibration or repair that could have moved it: nothing before is looked at.
    None where nothing signals, where that way is no trouble, or while fewer than 21 cycles are on record since.
    Raises KeyError for a number that is not watched.
    """
    watched, after = WATCHED[id], [(day, value) for day, value in values if day >= since]
    if len(after) <= LEAST_BASELINE:
        return None
    first = [value for _, value in after[:LEAST_BASELINE]]
    baseline = _baseline(first, watched.least_sigma)
    later = after[LEAST_BASELINE:]
    held = [value for _, value in later]
    sums = cusum(held, baseline.mean, SLACK * baseline.sigma, REACH * baseline.sigma)
    found = []
    for chart in (ewma(held, baseline, WEIGHT, WIDTH), sums):
        sides = [(n, point.signal) for n, point in enumerate(chart.points) if point.signal]
        found += [(n, side) for n, side in sides if getattr(watched, side)][:1]
    if not found or held_again(held, baseline):
        return None
    begun, side = min(found)
    moved = fmean(held[begun:]) - baseline.mean
    return Drift(id, side, later[begun][0], moved, baseline, _words(watched, side, later[begun][0], moved, baseline))


def held_again(values: Sequence[float], baseline: Baseline) -> bool:
    """Whether the newest values lie about the baseline again: the EWMA of the newest is within one deviation's error.

    A signal that has gone again is over; a number that lies off is said as long as it does.
    """
    chart = ewma(values, baseline, WEIGHT, 1.0)
    return chart.points[-1].signal == ""


def _baseline(values: Sequence[float], least_sigma: float) -> Baseline:
    if len(set(values)) == 1:
        return Baseline(values[0], least_sigma, len(values))
    found = baseline_of(values)
    return Baseline(found.mean, max(found.sigma, least_sigma), found.values)


def _words(watched: Watched, side: str, since: date, moved: float, baseline: Baseline) -> str:
    way, hint = ("higher", watched.high) if side == "high" else ("lower", watched.low)
    number = f"{abs(moved):.2f}".rstrip("0").rstrip(".")
    before = f"the {baseline.values} cycles of its baseline (mean {baseline.mean:.2f} {watched.unit})"
    since_then = f"is {number} {watched.unit} {way} since {since.isoformat()} than in {before}"
    return f"The {watched.name} {since_then}. Worth a look: {hint}."
