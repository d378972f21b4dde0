"""When so many hours of use are reached: by the hours counter and by the minutes of the loads logged.

Use time is the sum of the cycle times (Florida Administrative Code 64B5-25.003: cycles times cycle time). The
greatest use that either shows counts, so the earlier day holds. A load of the very day of the last test counts unless
it is shown to have run before it, or to be the test's own cycle. Between readings of the counter the hours are spread
evenly; after the last one they are projected at the present rate, or where there is none yet its word holds for 28
days. The minutes of loads are never projected.

Where neither can tell, the hours are not known: without a counter that tells, no load is on record at all but such
as went wrong, or days with loads of unknown minutes (up to 24 hours each) could make up what is missing; or a counter
is kept and its readings do not tell the use since the last test. One read on the day of that test and not since,
without a rate, tells of it only while 24 hours a day cannot make up the hours. That holds beside loads whose minutes
are few: what was not logged would show on the counter alone. Common practice, no source.

Of two readings neither can be lost and permit more. That the last one left is lost does, where all minutes are logged
and few: the rule counts cycles times cycle time, so the log alone is a proof, and without a reading nothing on record
says that a counter is kept. Both cannot be had: two readings that show 40 hours forbid, so one of them alone must, so
must none.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import accumulate

from audit.facts import LoadFact, happened_on, in_order
from audit.facts.dates import add_days
from audit.judge.biological import run_of, shown_before
from audit.regimes.model import Duty

from .counters import NEEDED_SPAN, Counter, counter_of
from .duty import DutyFacts

_MINUTES = 60
_DAY = 24 * _MINUTES


@dataclass(frozen=True, slots=True)
class Limit:
    """The last day in time, whether it is a projection, and what is to be said of it."""

    due_on: date
    projected: bool = False
    note: str = ""
    unknown: str = ""  # why it cannot be said whether the hours are reached, "" where it can


@dataclass(frozen=True, slots=True)
class _MinutesLogged:
    """What the loads since a test show: the day the hours are reached, minutes known, days with unknown minutes."""

    day: date | None
    known: Decimal
    without: int  # loads whose minutes are not recorded
    days: int  # days with such loads


def reached(facts: DutyFacts, duty: Duty, base: date, fact, days: date) -> Limit:
    """The day the hours were reached after `base`, as far as it is known, or `days`, whichever is sooner."""
    counter = _counter(facts)
    shown = counter.reached_on(base, Decimal(duty.hours)) if counter is not None else None
    logged = _by_loads(facts, duty, base, fact)
    found = [shown[0] if shown is not None else None, logged.day]
    return Limit(min([days, *(d for d in found if d is not None)]))


def reached_or_projected(facts: DutyFacts, duty: Duty, base: date, fact, days: date) -> Limit:
    """The same for the time that still runs: projected from the counter, with what is to be said of it."""
    counter = _counter(facts)
    by_counter = None if counter is None else counter.due_on(base, Decimal(duty.hours))
    logged = _by_loads(facts, duty, base, fact)
    tells = counter is not None and counter.total_on(base) is not None
    stale = None
    if tells and by_counter is None and counter.rate is None:
        stale = add_days(counter.days[-1], NEEDED_SPAN)
    found = [(days, False, ""), (logged.day, False, "")]
    if by_counter is not None:
        found.append((*by_counter, "date projected from counter readings" if by_counter[1] else ""))
    found.append((stale, False, "the last reading of the hours counter is good until then: read it again"))
    day, projected, note = min((f for f in found if f[0] is not None), key=lambda f: f[0])
    unknown = ""
    if not tells or _not_read_since(facts, duty, counter, base):
        unknown = _unknown(facts, duty, counter, logged)
    elif counter.rate is None:
        unknown = _unknown_minutes(duty, logged)
    said = [note, *([] if tells and not logged.without else [_words(duty, logged)])]
    return Limit(day, projected, "; ".join(s for s in said if s), unknown)


def _not_read_since(facts: DutyFacts, duty: Duty, counter: Counter, base: date) -> bool:
    """Whether all that the counter tells is what it showed on the day of the last test, and so many hours may have
    run since: 24 a day, both of these days too."""
    days = (facts.as_of - base).days + 1
    return counter.rate is None and counter.days[-1] <= base and days * 24 >= duty.hours


def _unknown(facts: DutyFacts, duty: Duty, counter: Counter | None, logged: _MinutesLogged) -> str:
    if counter is not None:
        return "hours of use are not known: too few readings of the hours counter since the last test; read it"
    if all(_went_wrong(x) for x in facts.unit.loads):
        return (
            "hours of use are not known: neither a counter nor a load is on record; read the hours counter, or log "
            "the loads with their minutes"
        )
    return _unknown_minutes(duty, logged)


def _went_wrong(load: LoadFact) -> bool:
    """Whether something in the cycle failed: such a row alone does not show that loads are logged."""
    return "fail" in (load.mechanical, load.chemical) or bool(load.barrier_lost)


def _unknown_minutes(duty: Duty, logged: _MinutesLogged) -> str:
    if logged.without and logged.known + logged.days * _DAY >= duty.hours * _MINUTES:
        return f"hours of use are not known: {logged.without} load(s) without minutes; add these, or read the counter"
    return ""


def _words(duty: Duty, logged: _MinutesLogged) -> str:
    note = f"{logged.known.normalize():f} of {duty.hours * _MINUTES} minutes of use logged since"
    return f"{note}; {logged.without} load(s) without minutes not counted" if logged.without else note


def known_since(facts: DutyFacts, base: date) -> date:
    """The day since when the hours are known, at the latest. `base` is the day of the last test.

    By the counter from the first reading that gave it a rate, by the loads from the first one where each has its
    minutes; else from the last test on.
    """
    counter = _counter(facts)
    if counter is None:
        loads, without = in_order(facts.unit.loads), facts.once("minutes", lambda: _sums(facts.unit.loads))[1]
        return happened_on(loads[0]) if loads and not without else base
    days = sorted({c.row.happened_on for c in facts.unit.counters if c.counter == "hours"})
    told = (day for day in days if (by_then := counter_of(facts.unit, "hours", day)) is not None and by_then.rate)
    return next(told, base) if counter.fell_on is None else max(base, counter.fell_on)


def _counter(facts: DutyFacts) -> Counter | None:
    return facts.once("hours", lambda: counter_of(facts.unit, "hours"))


def _by_loads(facts: DutyFacts, duty: Duty, base: date, fact) -> _MinutesLogged:
    """What the loads since `base`, the day of the test `fact` (None: the begin of use), show."""
    sums, unknown = facts.once("minutes", lambda: _sums(facts.unit.loads))
    loads = in_order(facts.unit.loads)
    first, low = bisect_left(loads, base, key=happened_on), bisect_right(loads, base, key=happened_on)
    of_day = [x for x in loads[first:low] if _may_be_after(x, fact)]
    known = sum((x.minutes or Decimal(0)) for x in of_day)
    before = (sums[low - 1] if low else Decimal(0)) - known
    need = duty.hours * _MINUTES
    n = low - 1 if known >= need else bisect_left(sums, before + need, lo=low)
    without = [x for x in of_day if x.minutes is None]
    without += [loads[i] for i in unknown[bisect_left(unknown, low) :]]
    day = happened_on(loads[n]) if n < len(loads) else None
    run = (sums[-1] if sums else Decimal(0)) - before
    return _MinutesLogged(day, run, len(without), len({happened_on(x) for x in without}))


def _may_be_after(load, fact) -> bool:
    """Whether a load of the day of the last test is not shown to have run before it, nor to be its cycle."""
    if fact is None:
        return True
    run, test = run_of(load), run_of(fact)
    return not shown_before(run, test) and not (run[2] and run[2] == test[2])


def _sums(loads) -> tuple[list[Decimal], list[int]]:
    """(minutes up to and with each load in order, places of the loads without minutes)."""
    ordered = in_order(loads)
    sums = list(accumulate((x.minutes or Decimal(0)) for x in ordered))
    return sums, [n for n, x in enumerate(ordered) if x.minutes is None]
