"""Periods, days and stretches that asked a test, a check or a paper and have none that counts, or had it late.

A stretch counts by the rules of the day on which it ended, as in the coverage (`audit.judge.coverage`): what was not
asked then was not missed. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import within
from audit.facts.dates import ONE_DAY
from audit.judge.biological import evidence_of
from audit.judge.clocks.duties import EVENT, IMPLANT, main_test
from audit.judge.clocks.spans import unmet_spans
from audit.judge.clocks.values import INVALID, MET_LATE, MISSED, Span
from audit.judge.coverage import what_it_asks
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.weeks import first_week
from audit.regimes.model import PERIODS, SUBJECTS, Duty

from .tools import CLINIC, COMPANY, Judged, day

_NOT_PERIODS = (EVENT, IMPLANT)  # their own due items and open items say more
_SHOWN = 20  # rows of evidence at most
_WAY_OUT = "cannot be made good; explain it in the record and {do} in every coming period"
_DO = {"test": "test", "check": "check", "work": "service", "document": "renew the paper"}


@dataclass(slots=True, unsafe_hash=True)
class _MissedRow:
    """Stretches missed that follow on each other. Both ends inclusive."""

    start: date
    end: date
    periods: int
    proof: tuple[Evidence, ...]


def check(judged: Judged) -> Iterator[Finding]:
    """One for each unbroken row missed within the weeks shown, of every repeating duty."""
    facts = judged.now.duty
    duties = facts.duties()
    main = main_test(duties)
    oldest = first_week(facts)
    for duty in duties:
        if duty.every in _NOT_PERIODS:
            continue
        unmet = unmet_spans(facts, duty, oldest, facts.as_of)
        for row in _rows(duty, unmet if judged.asked_on is None else _asked_then(judged, duty, unmet), oldest):
            yield _finding(judged, duty, row, main=duty is main)


def _finding(judged: Judged, duty: Duty, row: _MissedRow, *, main: bool) -> Finding:
    tests = row.proof
    if main:
        held, verdicts = within(judged.unit.bio_tests, row.start, row.end), judged.settled.verdicts
        tests = tuple([evidence_of(t, verdicts[t.row.origin]) for t in held])
    how_many = f"{row.periods} in a row, " if row.periods > 1 else ""
    what = "no spore test that counts" if duty.subject == "biological" else f"{duty.title}: nothing that counts"
    kind = SUBJECTS[duty.subject]
    return Finding(
        rule="missed-week" if main else "missed-duty",
        severity=Severity.NOTE,
        since=row.start,
        message=f"{what} from {day(row.start)} to {day(row.end)} "
        f"({how_many}{duty.words}){_closures(judged, row.start, row.end)}",
        way_out=_WAY_OUT.format(do=_DO[kind]),
        evidence=tests[-_SHOWN:],
        source=duty.source,
        owner=COMPANY if kind == "work" else CLINIC,
    )


def _asked_then(judged: Judged, duty: Duty, held: list[Span]) -> list[Span]:
    """The stretches on whose last day the same was asked."""
    asks = what_it_asks(duty)

    def asked(span: Span) -> bool:
        then = judged.asked_on(min(span.end, judged.now.as_of))
        return any(what_it_asks(d) == asks for d in then)

    return [span for span in held if span.result not in (MISSED, INVALID, MET_LATE) or asked(span)]


def _rows(duty: Duty, held: list[Span], oldest: date) -> list[_MissedRow]:
    """Stretches missed made one where nothing was kept between them."""
    out: list[_MissedRow] = []
    joins = False
    for span in held:
        found = _missed(duty, span)
        if found is None or found[1] < oldest:
            joins = False
            continue
        start, end = found
        if out and joins and _adjacent(duty, out[-1].end, start):
            before = out.pop()
            start, many = before.start, before.periods + (before.end != end)
            out.append(_MissedRow(start, end, many, before.proof + span.proof))
        else:
            out.append(_MissedRow(start, end, 1, span.proof))
        joins = True
    return out


def _adjacent(duty: Duty, before: date, start: date) -> bool:
    return duty.every.startswith("day-of-use") or start == before + ONE_DAY


def _missed(duty: Duty, span: Span) -> tuple[date, date] | None:
    """First and last day of what was missed, or None for nothing: of a stretch only the days overdue."""
    if duty.every in PERIODS or duty.every.startswith("day-of-use"):
        return (span.start, span.end) if span.result in (MISSED, INVALID) else None
    if span.result not in (MISSED, MET_LATE) or span.due_on is None:
        return None
    first = span.due_on + ONE_DAY
    return (first, span.end) if first < span.end or span.result == MISSED else None


def _closures(judged: Judged, start: date, end: date) -> str:
    """Closures that touch the period: shown, though this rule may not pause for them."""
    found = [c for c in judged.settled.clinic.closures if c.from_on <= end and c.to_on >= start]
    found = [c for c in found if c.unit in ("", judged.unit.ref)]
    if not found:
        return ""
    words = ", ".join(f"{day(c.from_on)} to {day(c.to_on)}: {c.why}" for c in found)
    return f"; closed {words}"
