"""Due items of the rules: the biological test in its frequency, and tests after an event.

Periods (calendar week, calendar month): a period is met from the day of the cycle by a test that passed or failed
(it was tested; a failure stops the unit by itself) or one still awaited within reason. The item is due on the last
day of the first period not met since the last one met, and overdue from the day after. Periods without any use of
the unit ask nothing; a whole-place closure over the full week excuses it only where the rule speaks of weeks with
patients. Rolling: `count` days after the last test it is due, the day after overdue; it never pauses, but falls
due again no earlier than the unit's return to use.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from audit.biological import AWAITED, FAILED, PASSED, awaited_until, evidence_of
from audit.dates import ONE_DAY, add_days, month_of, week_of
from audit.facts import BioTestFact, ClinicFacts, LocalDutyFact, UnitFacts, in_order
from audit.judgement import Clock, Evidence, Source, State, TestVerdict
from audit.regimes.model import FREQUENCIES, PERIODS, Duty, Regime
from audit.usage import Usage
from audit.work import Work, major_repairs

TEST = "biological-test"
_LOOK_AHEAD = 120  # periods looked through for the next one that asks a test
_STRICTNESS = {"calendar-week": 7.0, "calendar-week-with-patients": 7.5, "calendar-month": 31.0}


@dataclass(frozen=True, slots=True)
class DutyFacts:
    """What a duty is computed from. `met`: (day of the cycle, verdict, evidence) of tests that count, in order."""

    unit: UnitFacts
    clinic: ClinicFacts
    regime: Regime
    as_of: date
    usage: Usage
    verdicts: dict[str, TestVerdict]
    works: tuple[Work, ...]
    week_start: int

    def counting(self) -> list[tuple[BioTestFact, TestVerdict]]:
        """Tests that meet a duty on `as_of`, in order of the run."""
        return [(t, v) for t, v in self.tests() if self.meets(t, v)]

    def tests(self) -> list[tuple[BioTestFact, TestVerdict]]:
        """Every test with its verdict, in order of the run."""
        return [(t, self.verdicts[t.row.origin]) for t in in_order(self.unit.bio_tests)]

    def meets(self, test: BioTestFact, verdict: TestVerdict) -> bool:
        """Whether the test meets a duty: passed, failed, or awaited within reason."""
        if verdict.verdict == AWAITED:
            return self.as_of <= awaited_until(test, self.regime.validity)
        return verdict.verdict in (PASSED, FAILED)


def strictness(every: str, count: int) -> float:
    """The longest days between two tests that the frequency roughly allows; smaller is stricter."""
    return float(count) if every == "rolling-days" else _STRICTNESS.get(every, 1e9)


def repeating_duty(regime: Regime, clinic: ClinicFacts, as_of: date) -> Duty | None:
    """The repeating biological-test duty: of the rules, or the clinic's own where it is stricter; None: none."""
    own = next((d for d in regime.duties if d.id == TEST), None)
    local = local_duty(clinic, as_of)
    if local is None or (own and strictness(local.every, local.count) >= strictness(own.every, own.count)):
        return own
    words = FREQUENCIES[local.every].format(count=local.count, hours=0, events="")
    title = own.title if own else "Spore test (biological indicator)"
    source = Source(f"the clinic's own rule: {local.source}")
    return plain_duty(TEST, "biological", title, local.every, local.count, words, source)


def plain_duty(id: str, subject: str, title: str, every: str, count: int, words: str, source: Source) -> Duty:
    """A repeating duty without any condition."""
    return Duty(id, subject, title, every, count, 0, (), 1, "any", False, 0, (), False, False, 0, words, "", source)


def local_duty(clinic: ClinicFacts, as_of: date) -> LocalDutyFact | None:
    """The clinic's own frequency in effect, or None. One with an unknown frequency is passed over."""
    known = [d for d in clinic.local_duties if d.duty == TEST and d.effective_on <= as_of and _known(d)]
    return max(known, key=lambda d: (d.effective_on, d.row.number, d.row.line), default=None)


def _known(duty: LocalDutyFact) -> bool:
    return duty.every in FREQUENCIES and duty.every != "after-event" and duty.count >= 1


def duty_clocks(facts: DutyFacts) -> tuple[Clock, ...]:
    """The due items of the rules for the unit."""
    out = []
    duty = repeating_duty(facts.regime, facts.clinic, facts.as_of)
    if duty is not None:
        out.append(_repeating(facts, duty))
    out += [c for d in facts.regime.duties if d.every == "after-event" for c in _after_event(facts, d)]
    return tuple(out)


def _blank(duty: Duty, state: State, note: str, counts: Evidence | None = None) -> Clock:
    id = f"duty:{duty.id}"
    return Clock(id, duty.title, state, None, None, counts, duty.words, duty.source, note, action="test")


def _repeating(facts: DutyFacts, duty: Duty) -> Clock:
    why = facts.usage.why_idle(facts.as_of)
    if not facts.usage.in_use(facts.as_of):
        return _blank(duty, State.NOT_APPLICABLE, f"not in use: {why}" if why else "not in use yet")
    counting = facts.counting()
    last = counting[-1] if counting else None
    proof = evidence_of(*last) if last else None
    if duty.every == "rolling-days":
        due_on, start = _rolling(facts, duty, last[0] if last else None)
        overdue_on = due_on + ONE_DAY
    else:
        period = next(unmet_periods(facts, duty), None)
        if period is None:
            return _blank(duty, State.OK, "no coming week asks a test", proof)
        start, due_on = period
        overdue_on = due_on + ONE_DAY
    return Clock(
        id=f"duty:{duty.id}",
        title=duty.title,
        state=_duty_state(facts.as_of, start, overdue_on),
        due_on=due_on,
        overdue_on=overdue_on,
        counts_from=proof,
        rule=duty.words,
        source=duty.source,
        note=_awaited_note(facts, last),
        action="test",
    )


def _duty_state(day: date, start: date, overdue_on: date) -> State:
    if day >= overdue_on:
        return State.OVERDUE
    return State.DUE if day >= start else State.OK


def _awaited_note(facts: DutyFacts, last) -> str:
    if last is None or last[1].verdict != AWAITED:
        return ""
    until = awaited_until(last[0], facts.regime.validity).isoformat()
    sent = "sent, awaited" if last[0].site == "laboratory" else "incubating, awaited"
    return f"{sent} by {until}; falls back if no result comes"


def _rolling(facts: DutyFacts, duty: Duty, last: BioTestFact | None) -> tuple[date, date]:
    """(day it is due, first day shown as due)."""
    base = last.row.happened_on if last else facts.usage.begin
    back = facts.usage.resumed(facts.as_of)
    due_on = max(add_days(base, duty.count), back)
    return due_on, due_on


# ------------------------------------------------------------------------------------------------ periods


def period_function(duty: Duty, week_start: int) -> Callable[[date], tuple[date, date]]:
    """Gives the period (first and last day, inclusive) that holds a day."""
    if duty.every == "calendar-month":
        return month_of
    return lambda day: week_of(day, week_start)


def first_duty_day(facts: DutyFacts, duty: Duty) -> date:
    """From an installation the duty holds at once; where records merely begin, from the first full period."""
    begin = facts.usage.begin
    if facts.usage.begin_known:
        return begin
    start, end = period_function(duty, facts.week_start)(begin)
    return begin if start == begin else end + ONE_DAY


def excused(facts: DutyFacts, duty: Duty, start: date, end: date) -> str:
    """Why the period asks no test, or ""."""
    begin = first_duty_day(facts, duty)
    if end < begin:
        return "before the duty began"
    if not facts.usage.any_use(max(start, begin), end):
        return facts.usage.why_idle(end) or "not in use"
    if duty.every == "calendar-week-with-patients" and closed(facts.clinic, start, end):
        return "closed, no patients"
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


def unmet_periods(facts: DutyFacts, duty: Duty) -> Iterator[tuple[date, date]]:
    """Periods that ask a test and have none, after the last one that was met, earliest first; into the future."""
    period = period_function(duty, facts.week_start)
    met = {period(t.row.happened_on) for t, _ in facts.counting()}
    begin = first_duty_day(facts, duty)
    start, end = max(met) if met else period(begin)
    if met:
        start, end = period(end + ONE_DAY)
    limit = max(facts.as_of, start)
    ahead = 0
    while ahead < _LOOK_AHEAD:
        if not excused(facts, duty, start, end):
            yield start, end
        ahead += end > limit
        start, end = period(end + ONE_DAY)


def missed_periods(facts: DutyFacts, duty: Duty) -> list[tuple[date, date]]:
    """Every period over by `as_of` that asked a test and had none that counts, oldest first."""
    if duty.every not in PERIODS:
        return []
    period = period_function(duty, facts.week_start)
    met = {period(t.row.happened_on) for t, _ in facts.counting()}
    start, end = period(first_duty_day(facts, duty))
    out = []
    while end < facts.as_of:
        if (start, end) not in met and not excused(facts, duty, start, end):
            out.append((start, end))
        start, end = period(end + ONE_DAY)
    return out


def rolling_gaps(facts: DutyFacts, duty: Duty) -> list[tuple[date, date]]:
    """Spans longer than allowed between two tests in use: (first day overdue, day of the next test or `as_of`)."""
    days = [t.row.happened_on for t, _ in facts.counting()]
    ends = [*days, facts.as_of]
    starts = [facts.usage.begin, *days]
    out = []
    for before, after in zip(starts, ends, strict=True):
        first = max(add_days(before, duty.count), facts.usage.resumed(after)) + ONE_DAY
        tested = after in days
        if first < after or (first == after and not tested):
            out.append((first, after))
    return out


# ------------------------------------------------------------------------------------------------ after an event


def _after_event(facts: DutyFacts, duty: Duty) -> Iterator[Clock]:
    """Tests in a row after the newest of the events named; overdue from the day after the event."""
    found = [(e.row.happened_on, e.row.ref, e.kind) for e in in_order(facts.unit.events) if e.kind in duty.events]
    if "major repair" in duty.events:
        found += [(day, proof.ref, "major repair") for day, proof in major_repairs(facts.works)]
    if not found:
        return
    day, ref, kind = max(found, key=lambda f: f[0])
    proof = Evidence(ref, f"{kind} on {day.isoformat()}")
    run = 0
    for test, verdict in facts.tests():
        if test.row.happened_on < day or run >= duty.passes:
            continue
        if verdict.verdict == FAILED:
            run = 0
        elif facts.meets(test, verdict):
            run += 1
    if run >= duty.passes:
        yield _blank(duty, State.OK, f"done after: {kind} on {day.isoformat()}", proof)
    elif not facts.usage.in_use(facts.as_of):
        yield _blank(duty, State.NOT_APPLICABLE, "not in use", proof)
    else:
        yield Clock(
            id=f"duty:{duty.id}",
            title=duty.title,
            state=State.OVERDUE if facts.as_of > day else State.DUE,
            due_on=day,
            overdue_on=day + ONE_DAY,
            counts_from=proof,
            rule=duty.words,
            source=duty.source,
            note=f"{duty.passes - run} more test(s) needed",
            action="test",
        )
