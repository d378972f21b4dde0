"""Any values a picture may have to show."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from audit.binder.pictures.counters import MOST_POINTS
from audit.binder.pictures.thin import thinned
from audit.binder.pictures.values import (
    Charts,
    CounterBreak,
    CounterChart,
    CounterPoint,
    Lane,
    Projected,
    ReadingChart,
    Sample,
    TimeMark,
    TimeSpan,
    UnitTimeLine,
)
from audit.judge.judgement import Coverage, Stretch
from audit.regimes.model import FREQUENCIES
from audit.regimes.source import Source

FIRST = date(2024, 1, 17)
SOURCE = Source("common practice, no source")
WORDS = st.text(st.sampled_from("abcdefgh MW. iłø–\n\tאבج"), max_size=60)
LONG = st.sampled_from((1, 28, 200, 365, 366, 500, 1200, 3700))


def days(length: int):
    return st.integers(-40, length + 40).map(lambda n: FIRST + timedelta(days=n))


def inside(length: int):
    return st.integers(0, length - 1).map(lambda n: FIRST + timedelta(days=n))


@st.composite
def coverages(draw) -> Coverage:
    """Any stretches and anything done, whatever the frequency."""
    length = draw(st.sampled_from((1, 20, 364, 365, 366, 800)))
    stretches = []
    for _ in range(draw(st.integers(0, 12))):
        start = draw(days(length))
        end = start + timedelta(days=draw(st.integers(0, 90)))
        due = draw(st.none() | st.just(start + timedelta(days=draw(st.integers(0, 100)))))
        result = draw(
            st.sampled_from(("met", "met late", "missed", "invalid", "exempt", "awaited", "open", "before"))
        )
        stretches.append(Stretch(start, end, result, due))
    results = st.sampled_from(("passed", "failed", "invalid", "awaited", "not done"))
    done = draw(st.lists(st.tuples(days(length), results), max_size=30))
    return Coverage(
        duty="any",
        title=draw(WORDS),
        first=FIRST,
        last=FIRST + timedelta(days=length - 1),
        rule="any",
        source=SOURCE,
        due=0, met=0, met_late=0, missed=0, invalid=0, awaited=0, exempt=0, exempt_why=(), longest_gap=None,
        gap=None, tests=0, failed=0, bound=None, words="",
        every=draw(st.sampled_from(tuple(FREQUENCIES))),
        every_days=draw(st.sampled_from((0, 1, 7, 90))),
        subject=draw(st.sampled_from(("biological", "servicing", "automatic control", "validation report"))),
        stretches=tuple(sorted(stretches, key=lambda s: s.start)),
        done=tuple(sorted(done)),
    )  # fmt: skip


@st.composite
def time_lines(draw, most: int = 60) -> UnitTimeLine:
    length = draw(st.sampled_from((1, 30, 365, 550)))
    lanes = []
    for name in draw(st.lists(st.sampled_from(("Visits", "Moves, returns", "Recalls")), min_size=1, unique=True)):
        made = st.builds(TimeMark, inside(length), st.sampled_from("RSMXNp↑i!"), WORDS, st.just("row"))
        spans = st.tuples(days(length), st.none() | st.integers(0, 400), WORDS)
        lanes.append(
            Lane(
                name,
                draw(st.sampled_from(("outline", "solid", "hatched"))),
                tuple(sorted(draw(st.lists(made, max_size=most)), key=lambda m: m.day)),
                tuple(_span(*each) for each in sorted(draw(st.lists(spans, max_size=8)), key=lambda s: s[0])),
            )
        )
    last = FIRST + timedelta(days=length - 1)
    lanes = tuple(_touching(lane, last) for lane in lanes)
    return UnitTimeLine("any", FIRST, last, draw(inside(length)), lanes, (("R", "any"),), "", "any", "")


def _span(start: date, long: int | None, label: str) -> TimeSpan:
    return TimeSpan(start, None if long is None else start + timedelta(days=long), label, "row")


def _touching(lane: Lane, last: date) -> Lane:
    held = tuple(s for s in lane.spans if s.start <= last and (s.end is None or s.end >= FIRST))
    return Lane(lane.name, lane.look, lane.marks, held)


NUMBERS = st.decimals(-1000, 100000, places=3).map(lambda d: d.normalize() + Decimal(0))
NEAR = st.decimals("133.0", "138.0", places=1)


@st.composite
def samples(draw, length: int, most: int) -> tuple[Sample, ...]:
    """Oldest first; at least one; each with at least one value."""
    values = draw(st.sampled_from((NUMBERS, NEAR, st.just(Decimal("0")))))
    out = []
    for day in sorted(draw(st.lists(inside(length), min_size=1, max_size=most))):
        left = draw(st.none() | values)
        found = draw(values if left is None else st.none() | values)
        limits = sorted((draw(values), draw(values)))
        lower, upper = draw(st.none() | st.just(limits[0])), draw(st.none() | st.just(limits[1]))
        out.append(Sample(day, found, left, lower, upper, "row", draw(st.booleans())))
    return tuple(out)


@st.composite
def reading_charts(draw) -> ReadingChart:
    length = draw(LONG)
    held = draw(samples(length, 40))
    many = draw(st.sampled_from((1, 1, 1, 5)))
    repeated = tuple(sorted(held * many, key=lambda s: s.day))
    last = FIRST + timedelta(days=length - 1)
    kept = thinned(repeated)
    return ReadingChart(draw(WORDS), draw(WORDS), FIRST, last, kept, len(repeated), True, "any", draw(st.booleans()))


@st.composite
def counter_charts(draw) -> CounterChart:
    length = draw(LONG)
    held = sorted(draw(st.lists(inside(length), min_size=1, max_size=30)))
    totals = [draw(st.integers(0, 99999)) for _ in held]
    points = tuple(
        CounterPoint(day, Decimal(total), Decimal(0), "row", draw(st.booleans()) and n > 0)
        for n, (day, total) in enumerate(zip(held, totals, strict=True))
    )
    assert len(points) <= MOST_POINTS
    breaks = tuple(CounterBreak(day, draw(WORDS)) for day in draw(st.lists(st.sampled_from(held), max_size=4)))
    last = FIRST + timedelta(days=length - 1)
    ahead = draw(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 99999), WORDS), max_size=4))
    projected = tuple(
        Projected(held[-1] + timedelta(days=n), Decimal(total), label) for n, total, label in sorted(ahead)
    )
    to = max([last, *(p.day for p in projected)])
    return CounterChart("any", "cycles", FIRST, to, points, len(points), breaks, projected, draw(WORDS), "any")


@st.composite
def charts(draw) -> Charts:
    made = draw(st.lists(reading_charts() | counter_charts(), min_size=1, max_size=4))
    signs = tuple((sign, sign) for sign in ("found", "left", "band", "outside", "limit", "break", "ahead"))
    return Charts("any", tuple(made), signs, "any")
