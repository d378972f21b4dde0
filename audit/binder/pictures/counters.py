"""How the counters of a unit grew: cycles and hours as life totals, with every break, and what is projected."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from audit.binder.pictures.values import CounterBreak, CounterChart, CounterPoint, Projected
from audit.binder.scope import Scope, UnitScope
from audit.binder.written_on_paper import counted, day, number
from audit.facts import CounterFact
from audit.facts.dates import add_days
from audit.judge.clocks.counters import Counter, counter_of
from audit.judge.clocks.plan import plan_lines
from audit.judge.judgement import Clock, DueKind

NAMES = ("cycles", "hours")
MOST_POINTS = 240
_AHEAD = 4  # a projection is shown as far ahead as a quarter of the period
_LEAST_AHEAD = 60  # days


def counter_charts(scope: Scope, unit: UnitScope) -> tuple[CounterChart, ...]:
    """One for each counter that was read in the period."""
    made = (_chart(scope, unit, name) for name in NAMES)
    return tuple(chart for chart in made if chart is not None)


def _chart(scope: Scope, unit: UnitScope, name: str) -> CounterChart | None:
    facts = [c for c in scope.inside(unit.facts.counters) if c.counter == name]
    if not facts:
        return None
    points = _points(scope, facts)
    breaks = tuple(_breaks(points, facts))
    counter = counter_of(unit.facts, name)
    expected = _projected(scope, unit, name, counter)
    reach = add_days(scope.last, max((scope.last - scope.from_on).days // _AHEAD, _LEAST_AHEAD))
    shown = tuple(p for p in expected if p.day <= reach)
    beyond = tuple(p for p in expected if p.day > reach)
    return CounterChart(
        caption=f"Counter of {name}, life total",
        unit=name,
        from_on=scope.from_on,
        to_on=max([scope.last, scope.from_on, *(p.day for p in shown)]),
        points=_thinned(points, {b.day for b in breaks}),
        total=len(points),
        breaks=breaks,
        projected=shown,
        note=_beyond_words(beyond),
        alt=_words(name, points, breaks, expected, counter),
    )


def _points(scope: Scope, facts: list[CounterFact]) -> tuple[CounterPoint, ...]:
    out: list[CounterPoint] = []
    held: Decimal | None = None  # the last total that is no slip
    for n, fact in enumerate(facts):
        after = facts[n + 1].total if n + 1 < len(facts) else None
        slip = held is not None and fact.total < held and after is not None and after >= held
        out.append(CounterPoint(fact.row.happened_on, fact.shown, fact.offset, scope.row(fact.row.ref), slip))
        held = held if slip else fact.total
    return tuple(out)


def _breaks(points: tuple[CounterPoint, ...], facts: list[CounterFact]) -> Iterator[CounterBreak]:
    """Where another offset holds, and where the total falls without one."""
    before: CounterPoint | None = None
    for point, fact in zip(points, facts, strict=True):
        if point.slip:
            continue
        if before is not None and point.offset != before.offset:
            why = f": {fact.offset_reason}" if fact.offset_reason else ""
            yield CounterBreak(point.day, f"{number(point.offset)} added from here{why}")
        elif before is not None and point.total < before.total:
            yield CounterBreak(point.day, f"fell from {number(before.total)}, no reason given")
        before = point


def _thinned(points: tuple[CounterPoint, ...], breaks: set[date]) -> tuple[CounterPoint, ...]:
    """Every so many points, and always the first, the last, the slips and those at a break."""
    if len(points) <= MOST_POINTS:
        return points
    step = -(-len(points) // MOST_POINTS)
    last = len(points) - 1
    near = {n for n, p in enumerate(points) if p.day in breaks}
    near |= {n - 1 for n in near if n}
    return tuple(p for n, p in enumerate(points) if n % step == 0 or n == last or p.slip or n in near)


def _projected(scope: Scope, unit: UnitScope, name: str, counter: Counter | None) -> tuple[Projected, ...]:
    """What judgement expects of this counter after its last reading, soonest first."""
    clocks = unit.judgement.clocks if unit.judgement else ()
    wanted = {c.code: c for c in clocks if c.kind is DueKind.PLAN and c.projected and c.due_on}
    if counter is None or not wanted:
        return ()
    out = []
    for line in plan_lines(unit.facts, scope.as_of):
        clock, limit = wanted.get(line.code), getattr(line, name)
        if clock is not None and limit is not None and _is_of(scope, clock, counter, limit):
            total = counter.total_on(clock.due_on)
            if total is not None and clock.due_on > counter.days[-1]:
                out.append(Projected(clock.due_on, Decimal(round(total)), clock.title))
    return tuple(sorted(out, key=lambda p: (p.day, p.label)))


def _is_of(scope: Scope, clock: Clock, counter: Counter, limit: int) -> bool:
    """Whether it is this counter that makes the item due on its day."""
    row = scope.rows.get(clock.counts_from.ref) if clock.counts_from else None
    found = counter.due_on(row.happened_on, Decimal(limit)) if row is not None else None
    return found is not None and found[0] == clock.due_on


# ------------------------------------------------------------------------------------------------ the words


def _expected_words(each: Projected) -> str:
    return f"{each.label} at {number(each.total)} about {day(each.day)}"


def _beyond_words(expected: tuple[Projected, ...]) -> str:
    return f"Projected beyond this picture: {'; '.join(map(_expected_words, expected))}." if expected else ""


def _words(
    name: str,
    points: tuple[CounterPoint, ...],
    breaks: tuple[CounterBreak, ...],
    expected: tuple[Projected, ...],
    counter: Counter | None,
) -> str:
    first, last = points[0], points[-1]
    told = [f"Counter of {name}, life total: {number(last.total)} on {day(last.day)}, shown {number(last.shown)}"]
    if len(points) > 1:
        told[0] += f"; {counted(len(points), 'reading')} since {day(first.day)}, then {number(first.total)}"
    told += [f"Break on {day(each.day)}: {each.label}" for each in breaks]
    told += [f"On {day(p.day)} read lower than before and after: {number(p.shown)}" for p in points if p.slip]
    if counter is not None and counter.rate is not None:
        told.append(f"Grows by {number(counter.rate.grown)} in {counter.rate.days} days")
    told += [f"Projected: {_expected_words(each)}" for each in expected]
    return ". ".join(told) + "."
