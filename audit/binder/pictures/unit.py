"""The pictures of one unit as blocks for its chapter: nothing is left out silently."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pictures.counters import counter_charts
from audit.binder.pictures.readings import reading_charts
from audit.binder.pictures.strips import duty_strips
from audit.binder.pictures.time_line import time_line_words, time_lines
from audit.binder.pictures.values import Charts, CounterChart, ReadingChart
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Paragraph

# Sign, meaning. The signs are names of drawings, not letters.
_FOUND, _LEFT, _OUTSIDE = ("found", "as found"), ("left", "as left"), ("outside", "outside its limits, or failed")
_MEASURED, _EITHER = ("left", "measured"), ("left", "as left, or measured")
_BAND = ("band", "lowest to highest of some days")
_LIMIT = ("limit", "limit, which is still inside")
_READ, _BREAK, _SLIP = ("left", "read"), ("break", "another counter begins"), ("found", "taken for a slip")
_AHEAD = ("ahead", "projected, an estimate")


def strip_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """A strip for each duty; in words the duties that asked nothing in the period."""
    strips = duty_strips(scope, unit)
    drawn = {strip.caption for strip in strips}
    quiet = [each.title for each in unit.coverage if each.every and each.title not in drawn]
    told = (Paragraph(f"Nothing was due and nothing was done for: {'; '.join(quiet)}.", "small"),) if quiet else ()
    return (*strips, *told)


def time_line_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """The time line of the period, year by year where it is long."""
    pictures, quiet = time_lines(scope, unit)
    words = time_line_words(len(pictures), quiet)
    return (*pictures, *((Paragraph(words, "small"),) if words else ()))


def chart_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """Readings against their limits, and the counters."""
    readings, counters = reading_charts(scope, unit), counter_charts(scope, unit)
    blocks: list[Block] = []
    if readings:
        rows = (
            "The rows are in the tables of readings of each job, in the other tests of the process and in the user "
            "checks."
        )
        blocks.append(Charts("Readings over time", readings, legend_of_readings(readings), rows))
    else:
        blocks.append(Paragraph("Readings over time: no reading on record in the period.", "small"))
    if counters:
        rows = "Each is a counter as it was read; the newest stands under Identity."
        blocks.append(Charts("Counters over time", counters, legend_of_counters(counters), rows))
    else:
        blocks.append(Paragraph("Counters over time: no counter was read in the period.", "small"))
    return tuple(blocks)


def spore_strips(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """The strips of the spore tests, where the strip of weeks does not reach back to the begin of the period."""
    weeks = unit.judgement.weeks if unit.judgement else ()
    if weeks and weeks[0].start <= scope.from_on:
        return ()
    mine = tuple(each for each in unit.coverage if each.subject == "biological")
    return duty_strips(scope, replace(unit, coverage=mine))


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
