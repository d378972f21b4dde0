"""A test that is on record twice: two rows of one cycle that say the same. It counts once.

Of one cycle are rows of one day with the same number or the same moment; without either they cannot be told apart
and count as one too (see `response.in_a_row`). Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from itertools import groupby
from operator import attrgetter, eq

from audit.facts import happened_on, in_order
from audit.judge.biological import run_of
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.response.in_a_row import cycles_shown

from .tools import CLINIC, PRACTICE, Judged, day

_KINDS = (
    ("bio_tests", "spore test"),
    ("air_removal", "air-removal test"),
    ("leaks", "air-leak test"),
    ("chemical", "chemical indicator"),
    ("checks", "check"),
)
_APART = ("row", "run_by", "note", "readings")


def check(judged: Judged) -> Iterator[Finding]:
    """One for each cycle of which several rows say the same; only days with more than one row are looked at."""
    for name, title in _KINDS:
        facts = in_order(getattr(judged.unit, name))
        days = [f.row.happened_on for f in facts]
        if not any(map(eq, days, days[1:])):  # no day has two: at a glance
            continue
        for on, same in groupby(facts, key=happened_on):
            rows = list(same)
            if len(rows) > 1:
                yield from (_twice(title, on, alike) for alike in _alike(rows))


def _alike(rows: list) -> Iterator[list]:
    """The rows that say the same and are not shown to be of different cycles, two or more each."""
    left = [(row, _told(row)) for row in rows]
    while left:
        (first, told), *left = left
        same = [r for r, other in left if other == told and cycles_shown([run_of(first), run_of(r)]) == 1]
        if same:
            yield [first, *same]
            left = [(r, other) for r, other in left if not any(r is a for a in same)]


def _told(fact) -> tuple:
    """All that it says of the result, but for who wrote it and which row it is."""
    readings = tuple((r.test, r.control, r.known_on) for r in getattr(fact, "readings", ()))
    return _own(type(fact))(fact), readings


@cache
def _own(kind: type) -> attrgetter:
    return attrgetter(*(f.name for f in fields(kind) if f.name not in (*_APART, "cycle_number")))


def _twice(title: str, on, rows: list) -> Finding:
    numbers = {r.cycle_number for r in rows if getattr(r, "cycle_number", "")}
    moments = {r.row.happened_at for r in rows if r.row.happened_at is not None}
    shared = len(numbers) == 1 and all(getattr(r, "cycle_number", "") for r in rows)
    shown = shared or (len(moments) == 1 and all(r.row.happened_at is not None for r in rows))
    cycle = f" of cycle {next(iter(numbers))}" if shared else ""
    words = "came in twice" if len(rows) == 2 else f"came in {len(rows)} times"
    unsure = f"may have {words.replace('came', 'come')}: neither cycle numbers nor times tell them apart"
    return Finding(
        rule="came-in-twice",
        severity=Severity.NOTE if shown else Severity.PUT_RIGHT,
        since=on,
        message=f"{title}{cycle} of {day(on)} {words if shown else unsure}; it counts once",
        way_out="enter the one that is too many as entered in error"
        if shown
        else "record the cycle number or the time of each; enter the one that is too many as entered in error",
        evidence=tuple(Evidence(r.row.ref, f"{title} of {day(on)}, row {n}") for n, r in enumerate(rows, start=1)),
        source=PRACTICE,
        owner=CLINIC,
    )
