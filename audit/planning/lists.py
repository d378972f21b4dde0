"""Lists of a clinic's or a company's work: due, overdue, done in a month, parts used in a month. Pure.

A page and its table files are all made of the same list, so that they cannot say different things. A cell is text, a
day, a whole number or None for nothing; how a day is written is up to who shows it. What belongs into which list is
common practice, no source.

| list | what stands in it |
| --- | --- |
| due | what is to be done within twelve weeks and is not late: by a visit; of a clinic also what its users do |
| overdue | what is late or has no record to count from, and what was found and wants somebody at once |
| done | each task that a visit of the month did; a job without tasks once, with its reason |
| parts | each part that a visit of the month fitted, with its lots |
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from audit.facts import ClinicFacts, JobFact, UnitFacts, in_order, unit_by_day
from audit.judge.judgement import ClinicJudgement, Clock, State, Word
from audit.planning.round import WEEKS, ClinicWork

DUE, OVERDUE, DONE, PARTS = KINDS = ("due", "overdue", "done", "parts")
BY_MONTH = (DONE, PARTS)
TITLES = {DUE: "Due", OVERDUE: "Overdue", DONE: "Done", PARTS: "Parts used"}
AHEAD = timedelta(weeks=WEEKS)
FOUND_IN_PLACE = "found in place"
_LATE = (State.OVERDUE, State.NO_EVIDENCE)

Cell = str | date | int | None
_DUE_HEADS = ("clinic", "unit", "room", "work", "due on", "state", "because", "remark", "may it be used")
_HEADS = {
    DUE: _DUE_HEADS,
    OVERDUE: _DUE_HEADS,
    DONE: ("clinic", "unit", "serial number", "day", "work", "what was seen", "done by", "company", "how it ended"),
    PARTS: (
        "clinic", "unit", "serial number", "day", "part", "part number", "how many", "lot", "receipt lot",
        "to be fitted by", "where", "from kit", "why", "old part", "fitted by",
    ),
}  # fmt: skip


# Heads of what judgement says in sentences, with days in them; all else is as it was typed.
_SPOKEN = ("work", "state", "because", "remark", "may it be used")
SENTENCES = {DUE: _SPOKEN, OVERDUE: _SPOKEN, DONE: (), PARTS: ()}


@dataclass(frozen=True, slots=True)
class WorkList:
    """One list. Each row has as many cells as there are heads."""

    kind: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class Month:
    """A month of the calendar; both ends inclusive."""

    first: date

    @classmethod
    def of(cls, day: date) -> Month:
        return cls(day.replace(day=1))

    @classmethod
    def read(cls, text: str) -> Month:
        """Out of 2026-03. Raises ValueError."""
        if len(text) != len("2026-03"):
            raise ValueError(text)
        return cls(date.fromisoformat(f"{text}-01"))

    @property
    def last(self) -> date:
        return self.after.first - timedelta(days=1)

    @property
    def after(self) -> Month:
        return Month.of(self.first + timedelta(days=31))

    @property
    def before(self) -> Month:
        return Month.of(self.first - timedelta(days=1))

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last

    def __str__(self) -> str:
        return self.first.strftime("%Y-%m")


# ------------------------------------------------------------------------------------------------ due and overdue


def owed_list(kind: str, works: Iterable[ClinicWork], today: date, judged: ClinicJudgement | None = None) -> WorkList:
    """What is due or overdue on `today`, by day; what has no day comes first.

    `judged`: the clinic's own list, where what its users do is due too.
    """
    rows = [row for work in works for row in _of_works(kind, work, today)]
    if judged is not None:
        rows += _of_users(kind, judged, today, {(row[1], row[3]) for row in rows})
    return WorkList(kind, _HEADS[kind], tuple(sorted(rows, key=_by_day)))


def _by_day(row: tuple[Cell, ...]):
    return (row[4] is not None, row[4] or date.min, row[0], row[1], row[3])


def _of_works(kind: str, work: ClinicWork, today: date) -> Iterator[tuple[Cell, ...]]:
    for item in work.items:
        near = item.day is not None and item.day <= today + AHEAD
        if item.overdue if kind == OVERDUE else near and not item.overdue:
            used = f"no: {item.out}" if item.out else "yes"
            yield (work.name, item.label, item.room, item.title, item.day, item.state, item.rule, item.note, used)


def _of_users(kind: str, judged: ClinicJudgement, today: date, there: set) -> Iterator[tuple[Cell, ...]]:
    """Due items of the place and its units that are no work of a visit."""
    about = [("whole place", None, judged.clocks)]
    about += [(u.label, u, u.clocks) for u in judged.units if u.standing.word is not Word.NOT_IN_USE]
    for label, unit, clocks in about:
        for clock in clocks:
            if _is_in(kind, clock, today) and (label, clock.title) not in there:
                used = (
                    "" if unit is None else "yes" if unit.standing.word.may_be_used else f"no: {unit.standing.reason}"
                )
                state = clock.state.words
                yield (judged.name, label, "", clock.title, clock.due_on, state, clock.rule, clock.note, used)


def _is_in(kind: str, clock: Clock, today: date) -> bool:
    if clock.state is State.NOT_APPLICABLE:
        return False
    late = clock.state in _LATE
    return late if kind == OVERDUE else not late and clock.due_on is not None and clock.due_on <= today + AHEAD


# ------------------------------------------------------------------------------------------------ done, and parts


def month_list(
    kind: str, clinics: Iterable[ClinicFacts], names: dict[str, str], month: Month, company=""
) -> WorkList:
    """What visits of the month did or fitted, by day. `names` of the clinics by slug.

    `company`: only what was recorded for the company of that name, "" for all.
    """
    make = _done if kind == DONE else _parts
    rows = []
    for facts in clinics:
        for unit in facts.units:
            told = unit_by_day(unit, month.last)
            for job in in_order(unit.jobs):
                if job.row.happened_on in month and company in ("", job.row.logged_for):
                    rows += make(names[facts.slug], told, job)
    return WorkList(kind, _HEADS[kind], tuple(sorted(rows, key=lambda row: (row[3], row[0], row[1]))))


def _done(clinic: str, unit: UnitFacts, job: JobFact) -> Iterator[tuple[Cell, ...]]:
    day, end = job.row.happened_on, job.conclusion.conclusion if job.conclusion else "not concluded"
    head, tail = (clinic, unit.label, unit.serial, day), (job.worked_by, job.servicer, end)
    titles = {line.code: line.title for line in unit.plan}
    places = {place.row.origin: place.name for place in unit.positions}
    for each in job.outcomes:
        if each.outcome == "done":
            where = places.get(each.position, "")
            work = titles.get(each.plan_line) or ", ".join(filter(None, (each.action, where)))
            yield (*head, work, each.found, *tail)
    if not job.outcomes:
        yield (*head, ": ".join(filter(None, (job.reason, job.complaint))), "", *tail)


def _parts(clinic: str, unit: UnitFacts, job: JobFact) -> Iterator[tuple[Cell, ...]]:
    places = {place.row.origin: place.name for place in unit.positions}
    for part in job.parts:
        if part.quantity > 0 and part.action != FOUND_IN_PLACE:
            yield (
                clinic, unit.label, unit.serial, job.row.happened_on, part.name, part.number, part.quantity,
                part.lot or ("" if part.lot_state == "printed" else part.lot_state), part.receipt_lot, part.expiry,
                places.get(part.position, "whole unit"), part.kit, part.action, part.old_part, job.worked_by,
            )  # fmt: skip
