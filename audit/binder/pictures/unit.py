"""The readings of one unit as charts for its chapter, and what their signs mean."""

from __future__ import annotations

from audit.binder.pictures.readings import reading_charts
from audit.binder.pictures.values import Charts, CounterChart, ReadingChart
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block

# Sign, meaning. The signs are names of drawings, not letters.
_FOUND, _LEFT, _OUTSIDE = ("found", "as found"), ("left", "as left"), ("outside", "outside its limits, or failed")
_MEASURED, _EITHER = ("left", "measured"), ("left", "as left, or measured")
_BAND = ("band", "lowest to highest of some days")
_LIMIT = ("limit", "limit, which is still inside")
_READ, _BREAK, _SLIP = ("left", "read"), ("break", "another counter begins"), ("found", "taken for a slip")
_AHEAD = ("ahead", "projected, an estimate")
_LEAST = 3  # readings that show a course


def chart_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """Readings against their limits, of what was read at least three times; two are told where they were taken."""
    readings = tuple(chart for chart in reading_charts(scope, unit) if chart.total >= _LEAST)
    if not readings:
        return ()
    rows = "The rows are those of the visits, of the other tests and of the checks."
    return (Charts("Readings over time", readings, legend_of_readings(readings), rows),)


def legend_of_readings(charts: tuple[ReadingChart, ...]) -> tuple[tuple[str, str], ...]:
    samples = [sample for chart in charts for sample in chart.samples]
    kinds = {chart.pairs for chart in charts}
    full = _EITHER if len(kinds) == 2 else _LEFT if True in kinds else _MEASURED
    return tuple(
        entry
        for entry, used in (
            (_FOUND, any(s.found is not None for s in samples)),
            (full, True),
            (_BAND, any(chart.band for chart in charts)),
            (_OUTSIDE, any(s.is_outside for s in samples)),
            (_LIMIT, any(s.lower is not None or s.upper is not None for s in samples)),
        )
        if used
    )


def legend_of_counters(charts: tuple[CounterChart, ...]) -> tuple[tuple[str, str], ...]:
    return tuple(
        entry
        for entry, used in (
            (_READ, True),
            (_SLIP, any(p.slip for chart in charts for p in chart.points)),
            (_BREAK, any(chart.breaks for chart in charts)),
            (_AHEAD, any(chart.projected for chart in charts)),
        )
        if used
    )
