"""The pictures of a binder: frozen values without any drawing.

Each carries `alt`: what it shows, in words with its numbers, for who cannot see it. `rows` says where the rows behind
it stand; `row` names one row in short. All days inclusive.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class StripRow:
    """Cells side by side, from column `column` on (0 is the first); one character of `marks` for each.

    `first` is the first day of the first cell. A blank is a cell without anything to show. `weeks` has the first day
    of each cell where these are weeks that do not lie seven days apart: the first day of the week was changed.
    """

    label: str
    first: date
    column: int
    marks: str
    weeks: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class StripPanel:
    """Rows that are read together."""

    rows: tuple[StripRow, ...]
    alt: str


@dataclass(frozen=True, slots=True)
class DutyStrip:
    """How a duty was kept, a cell for each day, week, month, quarter or year.

    `form`: days (a row is a month of 31 columns), weeks (a row is a year of 53 or 54), months (12), quarters (4),
    years (10).
    """

    caption: str
    form: str
    panels: tuple[StripPanel, ...]
    legend: tuple[tuple[str, str], ...]  # (mark, meaning)
    rows: str


@dataclass(frozen=True, slots=True)
class TimeMark:
    """Something on one day. `mark`: the letter or sign printed on the day."""

    day: date
    mark: str
    label: str
    row: str


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """Something that lasted; `end` None: it still does. Days of which it is not known begin or end at the edge."""

    start: date
    end: date | None
    label: str
    row: str


@dataclass(frozen=True, slots=True)
class Lane:
    """Marks and spans of one kind, oldest first. `look` of its spans: outline, solid, hatched."""

    name: str
    look: str
    marks: tuple[TimeMark, ...] = ()
    spans: tuple[TimeSpan, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitTimeLine:
    """What happened to a unit, kind by kind, along the days; `seen_to` is the last day that is known."""

    caption: str
    from_on: date
    to_on: date
    seen_to: date
    lanes: tuple[Lane, ...]
    legend: tuple[tuple[str, str], ...]  # (mark, meaning)
    note: str
    alt: str
    rows: str


@dataclass(frozen=True, slots=True)
class Sample:
    """One measurement against the limits of its day; None: not measured, no limit on that side.

    `failed`: recorded as a failure, whatever the value.
    """

    day: date
    found: Decimal | None
    left: Decimal | None
    lower: Decimal | None
    upper: Decimal | None
    row: str
    failed: bool = False

    def outside(self, value: Decimal | None) -> bool:
        """Whether a value of it lies beyond a limit; one at the limit is inside."""
        if value is None:
            return False
        return (self.lower is not None and value < self.lower) or (self.upper is not None and value > self.upper)

    @property
    def is_outside(self) -> bool:
        return self.failed or self.outside(self.found) or self.outside(self.left)

    @property
    def last(self) -> Decimal | None:
        """As left; as found where nothing was left."""
        return self.found if self.left is None else self.left


@dataclass(frozen=True, slots=True)
class ReadingChart:
    """One quantity at one point over time. `pairs`: measured as found and as left.

    `total` is how many there are. `band`: too many for single points, so `samples` may be fewer, the lowest and the
    highest of each stretch of time.
    """

    caption: str
    unit: str
    from_on: date
    to_on: date
    samples: tuple[Sample, ...]
    total: int
    pairs: bool
    alt: str
    band: bool = False


@dataclass(frozen=True, slots=True)
class CounterPoint:
    """A counter as shown, with what is added for the life total.

    `slip`: lower than the readings around it, so it is taken for a slip and left out of the line.
    """

    day: date
    shown: Decimal
    offset: Decimal
    row: str
    slip: bool = False

    @property
    def total(self) -> Decimal:
        return self.shown + self.offset


@dataclass(frozen=True, slots=True)
class CounterBreak:
    """Between the point before `day` and that of `day` another counter begins, or the total falls."""

    day: date
    label: str


@dataclass(frozen=True, slots=True)
class Projected:
    """The total a due item is expected at, on an estimated day."""

    day: date
    total: Decimal
    label: str


@dataclass(frozen=True, slots=True)
class CounterChart:
    """The life total of a counter over time; the projection starts at the last point."""

    caption: str
    unit: str
    from_on: date
    to_on: date
    points: tuple[CounterPoint, ...]
    total: int
    breaks: tuple[CounterBreak, ...]
    projected: tuple[Projected, ...]
    note: str  # what lies beyond the picture, "" for nothing
    alt: str


@dataclass(frozen=True, slots=True)
class Charts:
    """Charts side by side, in reading order."""

    caption: str
    charts: tuple[ReadingChart | CounterChart, ...]
    legend: tuple[tuple[str, str], ...]  # (sign, meaning)
    rows: str
