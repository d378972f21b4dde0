"""The indicator record as a strip of weeks."""

from __future__ import annotations

from datetime import timedelta

from .biological import AWAITED, FAILED, INVALID, PASSED, evidence_of
from .clocks.duty import DutyFacts, excused, first_duty_day, missed_periods, repeating_duty, rolling_gaps
from .dates import week_of
from .judgement import WeekCell
from .regimes.model import Duty

MOST_WEEKS = 80
_ORDER = (FAILED, PASSED, AWAITED, INVALID)


def week_strip(facts: DutyFacts) -> tuple[WeekCell, ...]:
    """Up to 80 weeks, oldest first, the last one holding `as_of`; begins with the first week of use or test."""
    duty = repeating_duty(facts.regime, facts.clinic, facts.as_of)
    last, _ = week_of(facts.as_of, facts.week_start)
    days = [facts.usage.begin, *(t.row.happened_on for t, _ in facts.tests())]
    start = max(week_of(min(days), facts.week_start)[0], last - timedelta(weeks=MOST_WEEKS - 1))
    missed = _missed_weeks(facts, duty) if duty else {}
    out = []
    while start <= last:
        out.append(_cell(facts, duty, start, missed))
        start += timedelta(weeks=1)
    return tuple(out)


def _missed_weeks(facts: DutyFacts, duty: Duty) -> dict:
    """First day of a week -> what was missed; a longer period marks the week that holds its last day."""
    spans = [(end, f"{start} to {end}: no test that counts") for start, end in missed_periods(facts, duty)]
    if duty.every == "rolling-days":
        gaps = rolling_gaps(facts, duty)
        spans = [(first, f"more than {duty.count} days without a test") for first, _ in gaps]
    return {week_of(day, facts.week_start)[0]: words for day, words in spans}


def _cell(facts: DutyFacts, duty: Duty | None, start, missed: dict) -> WeekCell:
    end = start + timedelta(days=6)
    held = [(t, v) for t, v in facts.tests() if start <= t.row.happened_on <= end]
    proof = tuple(evidence_of(t, v) for t, v in held)
    tested = [v.verdict for t, v in held if v.verdict != AWAITED or facts.meets(t, v)]
    result = next((r for r in _ORDER if r in tested), "")
    over = [t for t, v in held if v.verdict == AWAITED and not facts.meets(t, v)]
    notes = ["a result did not come"] if over else []
    if result == INVALID:
        notes += [v.reason for _, v in held if v.verdict == INVALID]
    if not result:
        result, note = _untested(facts, duty, start, end, missed)
        notes += [note] if note else []
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
