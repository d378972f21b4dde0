"""The indicator record as a strip of weeks."""

from __future__ import annotations

from bisect import bisect_left
from datetime import date, timedelta

from audit.facts import in_order
from audit.facts.dates import ONE_DAY, add_days
from audit.regimes.model import PERIODS, Duty

from .biological import AWAITED, FAILED, INVALID, PASSED, evidence_of
from .clocks.duties import main_test
from .clocks.duty import DutyFacts
from .clocks.periods import excused, first_duty_day, weeks_of
from .clocks.spans import spans
from .clocks.values import INVALID as NOT_COUNTED
from .clocks.values import MET_LATE, MISSED
from .judgement import WeekCell

MOST_WEEKS = 80
_SIX_DAYS = timedelta(days=6)
_ORDER = (FAILED, PASSED, AWAITED, INVALID)


def week_strip(facts: DutyFacts) -> tuple[WeekCell, ...]:
    """Up to 80 weeks, oldest first, the last one holding `as_of`; begins with the first week of use or test."""
    duty = main_test(facts.duties())
    tests = facts.tests()
    weeks = weeks_of(facts)
    start = first_week(facts)
    end = start + _SIX_DAYS
    missed = _missed(facts, duty, start) if duty else {}
    n = bisect_left(tests, start, key=lambda held: held[0].row.happened_on)
    out = []
    while start <= facts.as_of:
        while n < len(tests) and tests[n][0].row.happened_on < start:
            n += 1
        m = n
        while m < len(tests) and tests[m][0].row.happened_on <= end:
            m += 1
        out.append(_cell(facts, duty, start, end, tests[n:m], missed))
        start, end = weeks.following(start, end)
    return tuple(out[-MOST_WEEKS:])


def first_week(facts: DutyFacts) -> date:
    """The first day of the oldest week of the strip."""
    weeks = weeks_of(facts)
    last, _ = weeks.holding(facts.as_of)
    days = [facts.usage.begin, *[t.row.happened_on for t in in_order(facts.unit.bio_tests)[:1]]]
    oldest = max(min(days), add_days(last, -7 * (MOST_WEEKS - 1)))
    return weeks.first_holding(oldest)[0]


def _missed(facts: DutyFacts, duty: Duty, first: date) -> dict[date, str]:
    """First day of a week -> what was missed: the week of a period's last day, of the first day overdue."""
    out: dict[date, str] = {}
    for span in spans(facts, duty, first, facts.as_of):
        if span.result not in (MISSED, NOT_COUNTED, MET_LATE) or span.due_on is None:
            continue
        if duty.every in PERIODS:
            day, words = span.end, f"{span.start} to {span.end}: no test that counts"
        elif span.start == span.end:
            day, words = span.end, f"{span.end}: no test that counts on a day of use"
        else:
            day, words = span.due_on + ONE_DAY, _too_long(duty)
        week = span.start if duty.every.startswith("calendar-week") else weeks_of(facts).holding(day)[0]
        out[week] = f"{out[week]}; {words}" if week in out else words
    return out


def _too_long(duty: Duty) -> str:
    return f"more than {duty.count} days without a test" if duty.every == "rolling-days" else f"late: {duty.words}"


def _cell(facts: DutyFacts, duty: Duty | None, start: date, end: date, held, missed: dict) -> WeekCell:
    proof = tuple([evidence_of(t, v) for t, v in held])
    tested = {v.verdict for t, v in held if v.verdict != AWAITED or facts.meets(t, v)}
    result = next((r for r in _ORDER if r in tested), "")
    notes = []
    if any(v.verdict == AWAITED and not facts.meets(t, v) for t, v in held):
        notes.append("a result did not come")
    if result == INVALID:
        notes += [v.reason for _, v in held if v.verdict == INVALID]
    if not result:
        result, note = _untested(facts, duty, start, end, missed)
        notes += [note] if note else []
    elif start in missed and duty.every.startswith("day-of-use"):
        notes.append(missed[start])
    return WeekCell(start, end, result, proof, "; ".join(notes))


def _untested(facts: DutyFacts, duty: Duty | None, start, end, missed: dict) -> tuple[str, str]:
    if start in missed:
        return "missed", missed[start]
    if duty is None:
        return "exempt", "these rules name no frequency"
    if end < first_duty_day(facts, duty):
        return "before", "before the duty began"
    weekly = duty.every.startswith("calendar-week")
    why = excused(facts, duty, start, end) if weekly else ""
    if why:
        return "exempt", why
    if end >= facts.as_of:
        return "open", ""
    return "exempt", "no test asked in this week"
