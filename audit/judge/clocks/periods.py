"""Once in each calendar week, month, quarter or year.

A period is met from the day of the cycle by a test that counts. The item is due on the last day of the first period
not met since the last one met, and overdue from the day after. Periods without any use of the unit ask nothing; a
whole-place closure over the full week excuses it only where the rule speaks of weeks with patients, and not a week in
which a load or a spore test of the unit is logged. A period that the unit was in use for a part of asks its test:
once it is over without one it stays overdue, whether the unit is out of use since or back. Where the sources do not
define a week, a calendar week with the clinic's own first day is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from itertools import compress

from audit.facts import ClinicFacts, happened_on
from audit.facts.dates import ONE_DAY, month_of
from audit.judge.judgement import Clock, State
from audit.regimes.model import Duty

from .build import awaited_note, blank, dated, not_in_use
from .calendar_weeks import Weeks
from .duty import NONE_AWAITED, DutyFacts
from .rows import DutyRows, rows_of
from .uses import uses_of
from .values import AWAITED, BEFORE, EXEMPT, INVALID, MET, MISSED, OPEN, Span

_LOOK_AHEAD = 120  # periods looked through for the next one that asks a test
_WEEK, _SIX_DAYS = timedelta(weeks=1), timedelta(days=6)
Period = Callable[[date], tuple[date, date]]


def quarter_of(day: date) -> tuple[date, date]:
    """First and last day, both inclusive, of the calendar quarter of `day`."""
    first = day.month - (day.month - 1) % 3
    return date(day.year, first, 1), month_of(date(day.year, first + 2, 1))[1]


def year_of(day: date) -> tuple[date, date]:
    """First and last day, both inclusive, of the calendar year of `day`."""
    return date(day.year, 1, 1), date(day.year, 12, 31)


_PERIODS: dict[str, Period] = {
    "calendar-month": month_of,
    "calendar-quarter": quarter_of,
    "calendar-year": year_of,
}


def weeks_of(facts: DutyFacts) -> Weeks:
    """The clinic's calendar weeks."""
    return facts.once("weeks", lambda: Weeks.of(facts.clinic.terms))


def _holding(facts: DutyFacts, duty: Duty) -> Period:
    """Gives the last period (first and last day, inclusive) that holds a day."""
    return _PERIODS.get(duty.every) or weeks_of(facts).holding


def _following(facts: DutyFacts, duty: Duty) -> Callable[[date, date], tuple[date, date]]:
    """Gives the period after that of these two days, first and last."""
    named = _PERIODS.get(duty.every)
    return weeks_of(facts).following if named is None else lambda start, end: named(end + ONE_DAY)


def first_duty_day(facts: DutyFacts, duty: Duty) -> date:
    """From an installation the duty holds at once; where records merely begin, from the first full period."""
    begin = facts.usage.begin
    if facts.usage.begin_known:
        return begin
    start, end = _holding(facts, duty)(begin)
    return begin if start == begin else end + ONE_DAY


def excused(facts: DutyFacts, duty: Duty, start: date, end: date) -> str:
    """Why the period asks no test, or ""."""
    begin = first_duty_day(facts, duty)
    if end < begin:
        return "before the duty began"
    if not facts.usage.any_use(max(start, begin), end):
        return facts.usage.why_idle(end) or "not in use"
    if duty.every == "calendar-week-with-patients" and closed(facts.clinic, start, end):
        return "" if uses_of(facts).days(start, min(end, facts.as_of)) else "closed, no patients"
    return ""


def closed(clinic: ClinicFacts, start: date, end: date) -> bool:
    """Whether whole-place closures together cover every day of the span, both ends inclusive."""
    day = start
    while day <= end:
        reach = [c.to_on for c in clinic.closures if c.unit == "" and c.from_on <= day <= c.to_on]
        if not reach:
            return False
        day = max(reach) + ONE_DAY
    return True


def clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item on the day. While no result is awaited, what is overdue stays so on all days that follow."""
    key = ("stays overdue", duty.id)
    of, kept = facts.memo.get(key, (None, None))
    if of is duty and kept.overdue_on <= facts.as_of:
        return kept
    made = _on_the_day(facts, duty)
    if made.state is State.OVERDUE and facts.memo.get(NONE_AWAITED):
        facts.memo[key] = duty, made
    return made


def _on_the_day(facts: DutyFacts, duty: Duty) -> Clock:
    rows, unused = rows_of(facts, duty), not_in_use(facts, duty)
    last = rows.last()
    proof = rows.told(last) if last is not None else None
    found = next(_unmet(facts, duty, rows, last), None)
    if found is None:
        return unused or blank(duty, State.OK, "no coming period asks one", proof)
    start, due_on = found
    if unused is not None and due_on >= facts.as_of:
        return unused
    return dated(facts, duty, due_on, proof, awaited_note(facts, rows, last), start=start)


def _unmet(facts: DutyFacts, duty: Duty, rows: DutyRows, last) -> Iterator[tuple[date, date]]:
    """Periods that ask a test, after the last one that was met, earliest first; into the future."""
    period, following = _holding(facts, duty), _following(facts, duty)
    begin = first_duty_day(facts, duty)
    start, end = period(begin)
    if last is not None:
        start, end = following(*period(rows.day(last)))
    limit = max(facts.as_of, start)
    ahead = 0
    while ahead < _LOOK_AHEAD:
        if not excused(facts, duty, start, end):
            yield start, end
        ahead += end > limit
        start, end = following(start, end)


def spans(facts: DutyFacts, duty: Duty, first: date, last: date, *, unmet: bool = False) -> list[Span]:
    """Every period that touches `first` to `last` and has begun by the day, oldest first; `unmet`: not those met."""
    weekly, following = duty.every not in _PERIODS, _following(facts, duty)
    rows = rows_of(facts, duty)
    start, end = weeks_of(facts).first_holding(first) if weekly else _PERIODS[duty.every](first)
    last = min(last, facts.as_of)
    done = rows.within(start, date.max)
    if unmet and weekly and weeks_of(facts).unchanged:
        return _unmet_weeks(facts, duty, rows, done, start, last)
    out, n = [], 0
    while start <= last:
        while n < len(done) and rows.day(done[n]) < start:
            n += 1
        m = n
        while m < len(done) and rows.day(done[m]) <= end:
            m += 1
        if not (unmet and any(map(rows.counts, done[n:m]))):
            out.append(_span(facts, duty, rows, start, end, done[n:m]))
        start, end = following(start, end)
    return out


def _unmet_weeks(facts: DutyFacts, duty: Duty, rows: DutyRows, done, start: date, last: date) -> list[Span]:
    """The weeks from that of `start`, its first day, to `last` that were not met: most are, so these are told apart
    by number first."""
    zero = start.toordinal()
    if rows.day is happened_on:
        week_of_each = [(f.row.happened_on.toordinal() - zero) // 7 for f in done]
    else:
        week_of_each = [(on.toordinal() - zero) // 7 for on in map(rows.day, done)]
    met = set(compress(week_of_each, map(rows.counts, done)))
    out = []
    for week in range((last.toordinal() - zero) // 7 + 1):
        if week not in met:
            held = [f for n, f in zip(week_of_each, done, strict=True) if n == week]
            first = start + week * _WEEK
            out.append(_span(facts, duty, rows, first, first + _SIX_DAYS, held))
    return out


def _span(facts: DutyFacts, duty: Duty, rows: DutyRows, start: date, end: date, held) -> Span:
    counting = tuple([f for f in held if rows.counts(f)])
    if counting:
        known = rows.result(counting[0]) != AWAITED or any(rows.result(f) != AWAITED for f in counting[1:])
        return Span(start, end, MET if known else AWAITED, "", end, counting, rows.told)
    proof = (tuple(held), rows.told)
    why = excused(facts, duty, start, end)
    if why:
        return Span(start, end, BEFORE if end < first_duty_day(facts, duty) else EXEMPT, why, None, *proof)
    if end >= facts.as_of:
        return Span(start, end, OPEN, "not over yet", end, *proof)
    invalid = [rows.told(f).text for f in held if rows.result(f) == INVALID]
    if invalid:
        return Span(start, end, INVALID, f"nothing that counts: {'; '.join(invalid)}", end, *proof)
    return Span(start, end, MISSED, "nothing that counts", end, *proof)
