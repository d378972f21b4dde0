"""What a round is made of, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Sure(StrEnum):
    """How sure it is that the part is needed, and which one."""

    FITTED = "as fitted"  # the number comes from the part that is on the unit
    STATED = "as stated for the unit"  # no part is on record there; its template or a person says what belongs there
    NUMBER_UNKNOWN = "number unknown"  # fitted, but no part is on record at that position
    UNKNOWN_FIT = "fitted or not is unknown"
    IN_CASE = "in case"  # worn when last seen, nothing is due


@dataclass(frozen=True, slots=True)
class StatedPart:
    """A part that is stated to belong to a unit. `place` is the origin of its position, "" for none."""

    place: str
    name: str
    number: str
    quantity: int
    kit: str


@dataclass(frozen=True, slots=True)
class Need:
    """A part that one piece of work takes. `place` is the origin of the position; `quantity` counts pieces."""

    place: str
    where: str  # the position in words
    name: str
    number: str  # as printed, "" where none is on record
    component: str
    quantity: int
    sure: Sure
    why: str = ""
    kit: str = ""  # the kit that the part on the unit came in


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One thing for a service visit to do.

    `day` is the last day on which it is in time: the due day, of a postponed item the last day it was postponed to;
    None: at once (no evidence that it was ever done, or an open item). `id` is unique for the unit and stays the same
    while the thing is owed.
    """

    clinic: str  # slug
    clinic_name: str
    unit: str  # origin
    label: str
    id: str
    title: str
    day: date | None
    state: str
    rule: str
    note: str
    overdue: bool
    needs: tuple[Need, ...] = ()
    last_by: str = ""  # who worked on the unit last
    room: str = ""
    out: str = ""  # why the unit may not be used, in words; "" where it may

    @property
    def key(self) -> tuple[str, str, str]:
        return (self.clinic, self.unit, self.id)


@dataclass(frozen=True, slots=True)
class ClinicWork:
    """Everything that a service visit may have to do at one clinic, in any order; not bounded by a day."""

    clinic: str
    name: str
    items: tuple[WorkItem, ...]


@dataclass(frozen=True, slots=True)
class Forward:
    """A thing whose date falls after a stop and before the next one. `own_week` is the first day of its own week."""

    item: WorkItem
    own_week: date
    next_stop: date | None  # first day of the week of the next stop, None: none is planned


@dataclass(frozen=True, slots=True)
class UnitJob:
    """One unit at one stop: what is due on it, overdue first, and what can be done early."""

    unit: str  # origin
    label: str
    room: str
    due: tuple[WorkItem, ...]
    forward: tuple[Forward, ...]
    out: str = ""  # why the unit may not be used, "" where it may


@dataclass(frozen=True, slots=True)
class Stop:
    """One clinic in one week: what is due there, overdue first, and what can be done early."""

    clinic: str
    name: str
    due: tuple[WorkItem, ...]
    forward: tuple[Forward, ...] = ()

    @property
    def items(self) -> tuple[WorkItem, ...]:
        return (*self.due, *(f.item for f in self.forward))

    @property
    def jobs(self) -> tuple[UnitJob, ...]:
        """By unit, the one with the most urgent work first."""
        first = {item.unit: item for item in reversed(self.items)}
        return tuple(
            UnitJob(
                unit=unit,
                label=first[unit].label,
                room=first[unit].room,
                out=first[unit].out,
                due=tuple(item for item in self.due if item.unit == unit),
                forward=tuple(early for early in self.forward if early.item.unit == unit),
            )
            for unit in dict.fromkeys(item.unit for item in self.items)
        )

    @property
    def units(self) -> tuple[str, ...]:
        """Labels of the units with work, in order of label."""
        return tuple(label for label, _ in sorted({(i.label, i.unit) for i in self.items}))


@dataclass(frozen=True, slots=True)
class Week:
    """`start` and `end` are its first and last day, both inclusive."""

    start: date
    end: date
    stops: tuple[Stop, ...]

    @property
    def jobs(self) -> int:
        """A job is one unit at one stop."""
        return sum(len(stop.units) for stop in self.stops)

    @property
    def tasks(self) -> int:
        return sum(len(stop.items) for stop in self.stops)


@dataclass(frozen=True, slots=True)
class Round:
    """`window`: so many days after a stop's week are looked ahead for what can be done early."""

    weeks: tuple[Week, ...]
    window: int
    extra_stops: int  # that are saved when everything that can be is done early

    def week(self, start: date) -> Week | None:
        return next((week for week in self.weeks if week.start == start), None)


@dataclass(frozen=True, slots=True)
class Lot:
    """A receipt of a part as the books have it."""

    name: str
    number: str
    component: str
    lot: str  # as printed, "" where none is
    receipt_lot: str
    expiry: date | None  # last day it may be fitted; None: the part carries none
    owner: str = ""
    doubt: str = ""  # why it must not be fitted: a part recall in words; "" for nothing
    where: str = ""  # where how many of it lie, in words; "" where that was not asked


@dataclass(frozen=True, slots=True)
class Bring:
    """One line of the list of parts: how many pieces, for which positions, out of which lots."""

    name: str
    number: str
    component: str
    kit: str
    quantity: int
    sure: Sure
    where: tuple[str, ...]  # "First Clinic, Unit 1: cassette seal"
    why: tuple[str, ...]
    lots: tuple[Lot, ...] = ()  # that may be fitted
    barred: tuple[tuple[Lot, str], ...] = ()  # that may not, and why
