"""The mail of what is due: its words, and to whom it goes on a day. Plain text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from audit.binder.written_on_paper import OUTRANKED, first_upper
from audit.judge.judgement import State, UnitJudgement
from audit.judge.to_read import ReadLine
from audit.planning.reach import ClinicToday, Due, changing, due_of, stopped, to_read
from audit.planning.written import counted, dated, day

NEVER, DAY, WEEK = "never", "day", "week"
EVERY = {DAY: timedelta(days=1), WEEK: timedelta(days=7)}
AHEAD = {DAY: timedelta(days=0), WEEK: timedelta(days=7)}  # how far a mail looks past today, that day included
ONE_DAY = timedelta(days=1)  # an answer that changes is said the day before at the latest
MOST_LINES = 40  # of one clinic
_NOW = (State.DUE, State.IN_GRACE, State.OVERDUE, State.NO_EVIDENCE)


@dataclass(frozen=True, slots=True)
class ClinicDigest:
    """What is to be said of one clinic."""

    at: ClinicToday
    stopped: tuple[UnitJudgement, ...]
    overdue: tuple[Due, ...]
    due: tuple[Due, ...]
    to_read: tuple[ReadLine, ...] = ()
    changing: tuple[UnitJudgement, ...] = ()  # not stopped, but another answer within the mail's days or tomorrow

    @property
    def is_quiet(self) -> bool:
        return not (self.stopped or self.overdue or self.due or self.to_read or self.changing)


def is_wanted(every: str, sent_on: date | None, today: date) -> bool:
    """Whether a mail is to go today: never twice on one day, and a weekly one not before seven days have passed."""
    return every in EVERY and (sent_on is None or today - sent_on >= EVERY[every])


def part_of(at: ClinicToday, every: str) -> ClinicDigest:
    items = sorted(due_of(at), key=lambda d: (d.shown_on, d.clock.due_on or date.min, d.about, d.clock.id))
    until = at.today + AHEAD[every]
    late = tuple(d for d in items if d.days_overdue or d.clock.state is State.NO_EVIDENCE)
    soon = [d for d in items if d not in late and (d.clock.state in _NOW or d.shown_on <= until)]
    reads = tuple(line for line in to_read(at) if line.ready_on <= at.today)
    stops = tuple(stopped(at))  # of each the mail says anyway what becomes of its answer
    by = max(until, at.today + ONE_DAY)
    change = tuple(u for u in changing(at) if u not in stops and u.standing.holds_until <= by)
    return ClinicDigest(at, stops, late, tuple(soon), reads, change)


def subject_of(parts: list[ClinicDigest]) -> str:
    stops, late = sum(len(p.stopped) for p in parts), sum(len(p.overdue) for p in parts)
    soon, reads = sum(len(p.due) for p in parts), sum(len(p.to_read) for p in parts)
    change = sum(len(p.changing) for p in parts)
    told = [f"{counted(stops, 'unit')} not to be used"] if stops else []
    told += [f"{counted(change, 'answer')} about to change"] if change else []
    told += [f"{late} overdue"] if late else []
    told += [f"{counted(reads, 'spore test')} to read"] if reads else []
    told += [f"{soon} due"] if soon else []
    return f"Sterilizers: {', '.join(told) or 'nothing is due'}"


def text_of(name: str, parts: list[ClinicDigest], address_of: Callable[[str], str]) -> str:
    """The mail. `address_of` makes an address out of "" (the first page), "mail" or the slug of a clinic."""
    told = [f"For {name}.", ""]
    for part in parts:
        if not part.is_quiet:
            told += [*_clinic(part), f"More: {address_of(part.at.clinic.slug)}", ""]
    quiet = [p.at.judgement.name for p in parts if p.is_quiet]
    if quiet:
        told += [f"Nothing is due, and every unit may be used, at: {', '.join(quiet)}.", ""]
    if not parts:
        told += ["Your log-in belongs to no clinic today, so there is nothing to tell.", ""]
    told += [OUTRANKED, "", f"To end these mails or change how often they come: {address_of('mail')}"]
    return "\n".join(told) + "\n"


def _clinic(part: ClinicDigest) -> list[str]:
    head = f"{part.at.judgement.name}, {day(part.at.today)}"
    told = [head, "=" * len(head)]
    if part.stopped:
        told += ["", "May not be used:"]
        told += [f"- {_answer(u)}" for u in part.stopped]
    if part.changing:
        told += ["", "Answers that change with nothing new logged:"]
        told += [f"- {_changes(u)}" for u in part.changing]
    if part.to_read:
        told += ["", "Spore tests to read today, test and control together:"]
        told += [f"- {_read(line)}" for line in part.to_read[:MOST_LINES]]
    for title, items in (("Overdue, or no record found:", part.overdue), ("Due:", part.due)):
        if items:
            told += ["", title, *(f"- {_line(d)}" for d in items[:MOST_LINES])]
        if len(items) > MOST_LINES:
            told.append(f"- and {len(items) - MOST_LINES} more, see the clinic’s page")
    return [*told, ""]


def _answer(unit: UnitJudgement) -> str:
    """The answer, why, what is next by whom and by when, and from which day on it is another."""
    held = unit.standing
    told = [f"{unit.label}: {held.word}. {first_upper(dated(unit.short))}"]
    told += [f"Next: {dated(unit.next.words)}"] if unit.next else []
    told += [first_upper(dated(held.changes))] if held.holds_until else []
    return "\n  ".join(told)


def _changes(unit: UnitJudgement) -> str:
    """What the answer is today, and from which day on it is another, what then and why."""
    held = unit.standing
    return f"{unit.label}: {held.word} now; {dated(held.changes)}"


def _read(line: ReadLine) -> str:
    test = line.test
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    return (
        f"{line.unit.label}: run {day(test.row.happened_on)}{cycle}, {test.lot.incubation_hours} hours by its label"
    )


def _line(item: Due) -> str:
    return f"{item.about}: {first_upper(dated(item.clock.title))}, {dated(item.clock.when(item.at.today))}"
