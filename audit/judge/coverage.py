"""How each duty was kept over a period, judged by the rules that were in effect then.

The period is cut where other rules take effect: terms adopted from a day, an edition coming into force, a duty of the
clinic's own. A duty that stays the same across a cut is followed as one. A stretch counts in the part, and by the
rules, of the day on which it ends; one still running, on the day of the answer. So two periods side by side count
every stretch once. A duty that ended with a stretch already past due is not forgotten: that counts where it ended.
Common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from audit.facts.dates import ONE_DAY, add_days, days_words
from audit.regimes.model import SUBJECTS, Duty, Regime

from .biological import judge_tests
from .bounds import upper_bound
from .bounds import words as bound_words
from .clocks.duties import EVENT, IMPLANT, duties_on
from .clocks.duty import DutyFacts
from .clocks.spans import kept, spans
from .clocks.values import AWAITED, BEFORE, EXEMPT, FAILED, INVALID, MET, MET_LATE, MISSED, OPEN, PASSED, Kept, Span
from .judgement import Coverage, Lapse, Stretch

DUE = (MET, MET_LATE, MISSED, INVALID, AWAITED)
_LAPSES = (MET_LATE, MISSED, INVALID, EXEMPT, AWAITED)
_ON_OCCASION = (EVENT, IMPLANT)  # not at regular times: no gap is measured
_NO_REASON = "no reason recorded"

RegimeOn = Callable[[date], Regime]


@dataclass(frozen=True, slots=True)
class CoveredPart:
    """One duty as it held from `first` to `last`, both inclusive, with the facts as the rules of then read them."""

    duty: Duty
    facts: DutyFacts
    first: date
    last: date


def coverage_of(
    facts: DutyFacts, first: date, last: date, regime_on: RegimeOn, *, whole: bool = False
) -> tuple[Coverage, ...]:
    """How the duties were kept from `first` to `last`, both inclusive, by id of the duty; () for an empty period.

    Days after `facts.as_of` are left out. `regime_on` gives the rules of a day in the edition then in force. `whole`
    adds every stretch and all that was done, for a picture of it.
    """
    last = min(last, facts.as_of)
    if first > last:
        return ()
    parts: dict[str, list[CoveredPart]] = {}
    for part in _parts(facts, first, last, regime_on):
        held = parts.setdefault(part.duty.id, [])
        before = held[-1] if held else None
        if before and before.last + ONE_DAY == part.first and _same(before, part):
            held[-1] = replace(part, first=before.first)
        else:
            held.append(part)
    made = ((parts[id], _coverage(parts[id], first, last)) for id in sorted(parts))
    return tuple(_whole(said, held, last) if whole else said for held, said in made)


# ------------------------------------------------------------------------------------------------ the parts


def turns(clinic, first: date, last: date, regime_on: RegimeOn) -> list[date]:
    """The first days, after `first` and up to `last`, on which other rules or own duties may take effect; sorted."""
    changes = [t.effective_on for t in clinic.terms] + [d.effective_on for d in clinic.local_duties]
    known = sorted({first, *(day for day in changes if first < day <= last)})
    out: list[date] = []
    for start, end in zip(known, [*(day - ONE_DAY for day in known[1:]), last], strict=True):
        out += [start, *_editions(start, end, regime_on)]
    return out[1:]


def _editions(first: date, last: date, regime_on: RegimeOn) -> Iterator[date]:
    """Days after `first` on which a newer edition of the same rules comes into force, found by halving."""
    if _edition(regime_on(first)) == _edition(regime_on(last)):
        return
    low, high = first, last  # another edition holds at `high` than at `low`
    while high - low > ONE_DAY:
        middle = add_days(low, (high - low).days // 2)
        low, high = (middle, high) if _edition(regime_on(middle)) == _edition(regime_on(first)) else (low, middle)
    yield high
    yield from _editions(high, last, regime_on)


def _edition(regime: Regime) -> tuple[str, str, date]:
    return regime.id, regime.edition, regime.valid_from


def _parts(facts: DutyFacts, first: date, last: date, regime_on: RegimeOn) -> Iterator[CoveredPart]:
    starts = [first, *turns(facts.clinic, first, last, regime_on)]
    for start, end in zip(starts, [*(day - ONE_DAY for day in starts[1:]), last], strict=True):
        then = _under(facts, regime_on(start))
        for duty in duties_on(then.regime, facts.clinic, facts.unit, start):
            yield CoveredPart(duty, then, start, end)


def _under(facts: DutyFacts, regime: Regime) -> DutyFacts:
    """The facts as these rules read them: a test may count under one set of rules and not under another."""
    if regime is facts.regime:
        return facts
    verdicts = facts.verdicts
    if facts.unit is not None and regime.validity != facts.regime.validity:
        verdicts = judge_tests(facts.unit.bio_tests, regime.validity)
    return replace(facts, regime=regime, verdicts=verdicts, memo={})


def _same(one: CoveredPart, other: CoveredPart) -> bool:
    """Whether the duty asks the same in both parts, whatever text it stands in."""
    return _asks(one) == _asks(other)


def _asks(part: CoveredPart) -> tuple:
    return (*what_it_asks(part.duty), part.facts.regime.validity)


def what_it_asks(d: Duty) -> tuple:
    """What a duty asks, whatever text it stands in: equal for two that ask the same."""
    when = (d.every, d.count, d.hours, d.events, d.passes, d.chamber, d.each_cycle_type, d.idle_days, d.site, d.place)
    return (d.subject, *when, d.equipment, d.signed)


# ------------------------------------------------------------------------------------------------ the counting


def _coverage(parts: list[CoveredPart], first: date, last: date) -> Coverage:
    stretches, done = [], []
    for part, following in zip(parts, [*parts[1:], None], strict=True):
        stretches += _ended_in(part, last, following)
        done += kept(part.facts, part.duty, part.first, part.last)
    return count(parts[-1].duty, first, last, stretches, done, changes_words(parts, first, last))


def _ended_in(part: CoveredPart, last: date, following: CoveredPart | None) -> Iterator[Span]:
    """The stretches that count in the part."""
    as_of = part.facts.as_of
    ends_here = part.last < last and (following is None or following.first > part.last + ONE_DAY)
    for span in spans(part.facts, part.duty, part.first, part.last):
        if part.first <= min(span.end, as_of) <= part.last:
            yield span
        elif ends_here and span.start <= part.last < span.end and span.due_on and span.due_on < part.last:
            yield replace(span, end=part.last)


def _whole(said: Coverage, parts: list[CoveredPart], last: date) -> Coverage:
    """With every stretch that touches the period: also one that ends after it and is not counted in it.

    On occasion (an event, an implant) only what was done for that; else also what was done in a stretch that began
    before the period.
    """
    duty, stretches, done = parts[-1].duty, [], []
    for part, following in zip(parts, [*parts[1:], None], strict=True):
        stretches += _ended_in(part, last, following)
        if following is None:
            beyond = spans(part.facts, part.duty, part.first, part.last)
            stretches += [s for s in beyond if part.last < min(s.end, part.facts.as_of) and part.last == last]
        since = min([part.first, *(s.start for s in stretches[:1])]) if part is parts[0] else part.first
        done += kept(part.facts, part.duty, since, part.last)
    if duty.every in _ON_OCCASION:
        held = {id(fact) for stretch in stretches for fact in stretch.facts}
        done = [k for k in done if id(k.fact) in held]
    return replace(
        said,
        every=duty.every,
        every_days=duty.count if duty.every in ("rolling-days", "hours-or-days") else 0,
        subject=duty.subject,
        stretches=tuple(Stretch(s.start, s.end, s.result, s.due_on) for s in stretches),
        done=tuple((k.day, k.result) for k in done),
    )


def count(
    duty: Duty, first: date, last: date, stretches: Iterable[Span], done: Iterable[Kept], changed: str = ""
) -> Coverage:
    """The coverage from stretches and what was done, both oldest first. `changed`: how the rule changed, in words."""
    stretches = tuple(s for s in stretches if s.result not in (OPEN, BEFORE))
    numbers = Counter(s.result for s in stretches)
    reasons = Counter(s.note or _NO_REASON for s in stretches if s.result == EXEMPT)
    tests = _tests(duty, stretches, done)
    failed = sum(k.result == FAILED for k in tests)
    measured = SUBJECTS[duty.subject] in ("test", "check")
    gap = None if duty.every in _ON_OCCASION else longest_gap(k.day for k in tests)
    bound = upper_bound(len(tests)) if measured and not failed else None
    said = Coverage(
        duty=duty.id,
        title=duty.title,
        first=first,
        last=last,
        rule=duty.words,
        source=duty.source,
        due=sum(numbers[result] for result in DUE),
        met=numbers[MET],
        met_late=numbers[MET_LATE],
        missed=numbers[MISSED],
        invalid=numbers[INVALID],
        awaited=numbers[AWAITED],
        exempt=numbers[EXEMPT],
        exempt_why=tuple(sorted(reasons.items(), key=lambda r: (-r[1], r[0]))),
        longest_gap=None if gap is None else (gap[1] - gap[0]).days,
        gap=gap,
        tests=len(tests) if measured else 0,
        failed=failed if measured else 0,
        bound=bound,
        words="",
        lapses=tuple(Lapse(s.start, s.end, s.result, s.note, s.proof) for s in stretches if s.result in _LAPSES),
    )
    return replace(said, words=coverage_words(said, changed))


def _tests(duty: Duty, stretches: tuple[Span, ...], done: Iterable[Kept]) -> list[Kept]:
    """What counts of what was done. On occasion (an event, an implant) only what was done for that."""
    out = [k for k in done if k.result in (PASSED, FAILED)]
    if duty.every in _ON_OCCASION:
        refs = {e.ref for s in stretches for e in s.proof}
        out = [k for k in out if k.fact.row.ref in refs]
    return out


def longest_gap(days: Iterable[date]) -> tuple[date, date] | None:
    """The two neighbouring days farthest apart, the first such; None for fewer than two. `days` oldest first."""
    best = before = None
    for day in days:
        if before is not None and (best is None or day - before > best[1] - best[0]):
            best = (before, day)
        before = day
    return best


# ------------------------------------------------------------------------------------------------ the words

_NUMBERS = (
    ("met", "met"),
    ("met_late", "met late"),
    ("missed", "missed"),
    ("invalid", "with nothing that counts"),
    ("awaited", "with the result awaited"),
)


def coverage_words(said: Coverage, changed: str = "") -> str:
    """All of it in a few short sentences."""
    sentences = [_due_words(said)]
    if said.exempt:
        told = "; ".join(f"{why}: {n}" for why, n in said.exempt_why)
        sentences.append(f"Not asked {_times(said.exempt)} ({told})")
    if said.gap:
        between = " to ".join(day.isoformat() for day in said.gap)
        sentences.append(f"Longest time between two: {days_words(said.longest_gap)}, {between}")
    if said.failed:
        sentences.append(f"{said.failed} of {said.tests} {'test' if said.tests == 1 else 'tests'} failed")
    elif said.tests:
        sentences.append(bound_words(said.tests, said.bound))
    return ". ".join([s for s in [*sentences, changed] if s]) + "."


def _due_words(said: Coverage) -> str:
    if not said.due:
        return "Nothing was due"
    told = [f"{n} {word}" for name, word in _NUMBERS if (n := getattr(said, name))]
    return f"Due {_times(said.due)}: {', '.join(told)}"


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def changes_words(parts: list[CoveredPart], first: date, last: date) -> str:
    """How the duty changed within the period, and that it held for some of it only; "" for neither."""
    told = []
    if parts[0].first > first:
        told.append(f"asked only from {parts[0].first.isoformat()}")
    for before, after in zip(parts, parts[1:], strict=False):
        if before.last + ONE_DAY < after.first:
            told.append(f"not asked from {(before.last + ONE_DAY).isoformat()} to {_day_before(after.first)}")
        told.append(f"until {before.last.isoformat()} the rule was {before.duty.words!r}")
    if parts[-1].last < last:
        told.append(f"asked until {parts[-1].last.isoformat()}")
    text = "; ".join(told)
    return text[:1].upper() + text[1:]


def _day_before(day: date) -> str:
    return (day - ONE_DAY).isoformat()
