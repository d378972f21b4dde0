"""What happened to a unit along the days: visits, parts, failures, time out of use, moves, recalls."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from audit.binder.pictures.values import Lane, TimeMark, TimeSpan, UnitTimeLine
from audit.binder.scope import Scope, UnitScope
from audit.binder.written_on_paper import dated, day, span, unit_title
from audit.facts import PartFact, in_order
from audit.facts.dates import add_days, add_months
from audit.facts.names import repair_class
from audit.judge.judgement import LookBack
from audit.judge.usage import STORED, usage_of
from audit.judge.work.asked import shown_class

ONE_PICTURE = 24  # months that are drawn in one picture; a longer period has one for each calendar year
OUTLINE, SOLID, HATCHED = "outline", "solid", "hatched"
_STOPS = ("withdrawn", "decommissioned", "loaner out")
_STARTS = ("returned", "installed", "loaner in")
_PART_RECALL = "part recall"
_NAMES = ("Visits", "Parts", "Failures", "Out of use", "Moves, returns", "Recalls")
_SIGNS = {
    "R": "work, routine",
    "S": "work, significant",
    "M": "work, major",
    "X": "do not use",
    "N": "visit without work",
    "p": "part fitted",
    "↑": "returned to use",
    "i": "installed, moved or lent",
    "!": "recall received",
}
_LETTERS = {"A": "R", "B": "S", "C": "M", "X": "X"}
_MOST_TOLD = 40
_ROWS = (
    "The rows are in the service history of this unit (visits, parts, time out of use, moves), in its indicator "
    "record (failures, loads affected) and in the list of part recalls."
)


# ------------------------------------------------------------------------------------------------ the lanes


def _visits(scope: Scope, unit: UnitScope) -> Iterator[TimeMark]:
    for job in scope.inside(unit.facts.jobs):
        letter = shown_class(job, unit.facts)
        told = f"{job.reason or 'visit'}, {repair_class(letter) if letter else 'no work'}"
        yield TimeMark(job.row.happened_on, _LETTERS.get(letter, "N"), told, scope.row(job.row.ref))


def _part_words(part: PartFact) -> str:
    return f"{part.name}, lot {part.lot}" if part.lot else part.name


def _parts(scope: Scope, unit: UnitScope) -> Iterator[TimeMark]:
    """One mark for all parts fitted on one day."""
    by_day: dict[date, list[PartFact]] = {}
    for part in scope.inside(p for job in unit.facts.jobs for p in job.parts if p.action != "found in place"):
        by_day.setdefault(part.row.happened_on, []).append(part)
    for fitted_on, parts in by_day.items():
        more = f" and {len(parts) - 1} more" if len(parts) > 1 else ""
        yield TimeMark(fitted_on, "p", f"{_part_words(parts[0])}{more}", scope.row(parts[0].row.ref))


def _failures(scope: Scope, unit: UnitScope) -> Iterator[TimeSpan]:
    """From the day of the failed test to the day it was resolved."""
    for case in reversed(unit.judgement.cases if unit.judgement else ()):
        ended = case.phase == "entered in error"
        if not ended and _touches(scope, case.failed_on, case.resolved_on):
            ref = case.ref or next((e.ref for e in case.evidence), "")
            yield TimeSpan(case.failed_on, case.resolved_on, dated(case.title), scope.row(ref) if ref else "")


def _touches(scope: Scope, start: date, end: date | None) -> bool:
    return start <= scope.last and (end is None or end >= scope.from_on)


def _idle(scope: Scope, unit: UnitScope) -> Iterator[TimeSpan]:
    """Withdrawn to returned, both days as logged, and the days in store."""
    since = None
    for event in in_order(unit.facts.events):
        if event.kind in _STOPS and since is None:
            since = event
        elif event.kind in _STARTS and since is not None and not event.told_return:
            yield _out(scope, since, event.row.happened_on)
            since = None
    if since is not None:
        yield _out(scope, since, None)
    for first, last, why in usage_of(unit.facts).idle:
        if why == STORED:
            yield TimeSpan(first, last, why, "")


def _out(scope: Scope, event, end: date | None) -> TimeSpan:
    told = f"{event.kind}: {event.reason}" if event.reason else event.kind
    return TimeSpan(event.row.happened_on, end, told, scope.row(event.row.ref))


def _moves(scope: Scope, unit: UnitScope) -> Iterator[TimeMark]:
    for event in scope.inside(unit.facts.events):
        if event.kind not in _STOPS:
            mark = "↑" if event.kind == "returned" else "i"
            told = f"{event.kind}: {event.reason}" if event.reason else event.kind
            yield TimeMark(event.row.happened_on, mark, told, scope.row(event.row.ref))


def _look_backs(unit: UnitScope) -> tuple[LookBack, ...]:
    return unit.judgement.look_backs if unit.judgement else ()


def _notices(scope: Scope, unit: UnitScope) -> Iterator[TimeMark]:
    """Notices that a lot of a part is in doubt, where it is or was fitted here."""
    meant = {e.ref for back in _look_backs(unit) if back.kind == _PART_RECALL for e in back.evidence}
    for notice in scope.inside(scope.facts.part_recalls):
        if {notice.row.ref, notice.row.origin} & meant:
            lot = f", lot {notice.lot}" if notice.lot else ""
            yield TimeMark(notice.row.happened_on, "!", f"part recall: {notice.part}{lot}", scope.row(notice.row.ref))


def _in_doubt(scope: Scope, unit: UnitScope) -> Iterator[TimeSpan]:
    """The days of the loads in doubt; from the first record on where no good proof is known."""
    for back in _look_backs(unit):
        start = add_days(back.after, 1) if back.after else min(scope.from_on, back.to)
        if _touches(scope, min(start, back.to), back.to):
            ref = next((e.ref for e in back.evidence), "")
            told = f"loads affected: {back.kind}" + ("" if back.settled_on else ", open")
            yield TimeSpan(min(start, back.to), back.to, told, scope.row(ref) if ref else "")


def _lanes(scope: Scope, unit: UnitScope) -> tuple[Lane, ...]:
    """All kinds in reading order, those without anything too."""
    idle = sorted((s for s in _idle(scope, unit) if _touches(scope, s.start, s.end)), key=lambda s: s.start)
    return (
        Lane(_NAMES[0], OUTLINE, tuple(_visits(scope, unit))),
        Lane(_NAMES[1], OUTLINE, tuple(_parts(scope, unit))),
        Lane(_NAMES[2], SOLID, (), tuple(sorted(_failures(scope, unit), key=lambda s: s.start))),
        Lane(_NAMES[3], HATCHED, (), tuple(idle)),
        Lane(_NAMES[4], OUTLINE, tuple(_moves(scope, unit))),
        Lane(_NAMES[5], OUTLINE, tuple(_notices(scope, unit)), tuple(_in_doubt(scope, unit))),
    )


# ------------------------------------------------------------------------------------------------ the pictures


def _stretches(first: date, last: date) -> list[tuple[date, date]]:
    """The days of each picture: all of them, or year by year."""
    if last < add_months(first, ONE_PICTURE):
        return [(first, last)]
    years = range(first.year, last.year + 1)
    return [(max(first, date(year, 1, 1)), min(last, date(year, 12, 31))) for year in years]


def _within(lane: Lane, first: date, last: date) -> Lane:
    marks = tuple(m for m in lane.marks if first <= m.day <= last)
    spans = tuple(s for s in lane.spans if s.start <= last and (s.end is None or s.end >= first))
    return Lane(lane.name, lane.look, marks, spans)


def _span_words(each: TimeSpan) -> str:
    until = f"to {day(each.end)}" if each.end else "and not over"
    return (
        f"{each.label}, {day(each.start)} {until}" if each.end != each.start else f"{each.label}, {day(each.start)}"
    )


def _lane_words(lane: Lane) -> str:
    told = [(m.day, f"{day(m.day)} {m.label}") for m in lane.marks]
    told += [(s.start, _span_words(s)) for s in lane.spans]
    texts = [text for _, text in sorted(told, key=lambda each: each[0])]
    more = f"; and {len(texts) - _MOST_TOLD} more" if len(texts) > _MOST_TOLD else ""
    return f"{lane.name}, {len(texts)}: {'; '.join(texts[:_MOST_TOLD])}{more}."


def _legend(lanes: Iterable[Lane]) -> tuple[tuple[str, str], ...]:
    used = {mark.mark for lane in lanes for mark in lane.marks}
    return tuple((mark, meaning) for mark, meaning in _SIGNS.items() if mark in used)


def _note(lanes: tuple[Lane, ...]) -> str:
    absent = [lane.name.lower() for lane in lanes if not (lane.marks or lane.spans)]
    return f"None on record in these days: {', '.join(absent)}." if absent else ""


def _picture(unit: UnitScope, lanes: tuple[Lane, ...], first: date, last: date, seen_to: date) -> UnitTimeLine:
    mine = tuple(_within(lane, first, last) for lane in lanes)
    shown = tuple(lane for lane in mine if lane.marks or lane.spans)
    whole = first == date(first.year, 1, 1) and last == date(first.year, 12, 31)
    title = f"{unit_title(unit.label)}, {first.year if whole else span(first, last)}"
    words = " ".join(_lane_words(lane) for lane in shown)
    return UnitTimeLine(
        caption=title,
        from_on=first,
        to_on=last,
        seen_to=min(seen_to, last),
        lanes=shown,
        legend=(),
        note=_note(mine),
        alt=f"Time line of {title}. {words} {_note(mine)}".strip(),
        rows="",
    )


def time_lines(scope: Scope, unit: UnitScope) -> tuple[tuple[UnitTimeLine, ...], tuple[str, ...]]:
    """The pictures in which something happened, and the years (as text) in which nothing did; oldest first."""
    lanes, made, quiet = _lanes(scope, unit), [], []
    for first, last in _stretches(scope.from_on, scope.to_on):
        picture = _picture(unit, lanes, first, last, scope.last)
        if picture.lanes:
            made.append(picture)
        elif first <= scope.last:
            quiet.append(span(first, last))
    if made:
        # What holds for all stands below the last.
        made[-1] = replace(made[-1], legend=_legend(lane for line in made for lane in line.lanes), rows=_ROWS)
    return tuple(made), tuple(quiet)


def time_line_words(pictures: int, quiet: tuple[str, ...]) -> str:
    """What the pictures leave out; "" for nothing."""
    if not pictures:
        return "Nothing is on record for a time line: no visit, part, failure, time out of use, move or recall."
    if not quiet:
        return ""
    return f"Nothing of a time line is on record from {'; from '.join(quiet)}."
