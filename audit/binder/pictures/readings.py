"""Readings over time against their limits: from jobs as found and as left, leak rates, user checks with a value."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from audit.binder.pictures.thin import high, is_many, low, thinned
from audit.binder.pictures.values import ReadingChart, Sample
from audit.binder.scope import Scope, UnitScope
from audit.binder.written_on_paper import counted, day, first_upper, number
from audit.facts import in_order

LEAK_UNIT = "kPa/min"
_MOST_TOLD = 12


def limit_words(lower: Decimal | None, upper: Decimal | None) -> str:
    """Limits with their comparators; both ends are inside."""
    told = [f"≥ {number(lower)}"] if lower is not None else []
    told += [f"≤ {number(upper)}"] if upper is not None else []
    return " and ".join(told) or "no limit stated"


def _jobs(scope: Scope, unit: UnitScope) -> Iterator[tuple[tuple[str, str, str], Sample]]:
    found = in_order(r for job in scope.inside(unit.facts.jobs) for r in scope.inside(job.readings))
    for r in found:
        if r.as_found is not None or r.as_left is not None:
            sample = Sample(r.row.happened_on, r.as_found, r.as_left, r.lower, r.upper, scope.row(r.row.ref))
            yield (r.quantity, r.point, r.unit_of_measure), sample


def _leaks(scope: Scope, unit: UnitScope) -> Iterator[tuple[tuple[str, str, str], Sample]]:
    for leak in scope.inside(unit.facts.leaks):
        sample = Sample(
            leak.row.happened_on, None, leak.rate, None, leak.limit, scope.row(leak.row.ref), leak.result == "fail"
        )
        yield ("air leakage test", "rate", LEAK_UNIT), sample


def _checks(scope: Scope, unit: UnitScope) -> Iterator[tuple[tuple[str, str, str], Sample]]:
    for check in scope.inside(unit.facts.checks):
        if check.value is not None:
            failed = check.result == "fail"
            sample = Sample(check.row.happened_on, None, check.value, None, None, scope.row(check.row.ref), failed)
            yield (check.kind, "user check", check.unit_of_measure), sample


def reading_charts(scope: Scope, unit: UnitScope) -> tuple[ReadingChart, ...]:
    """One for each quantity, point and unit of measure: those of jobs first, then leak rates, then user checks."""
    made = []
    for source, pairs in ((_jobs, True), (_leaks, False), (_checks, False)):
        held: dict[tuple[str, str, str], list[Sample]] = {}
        for key, sample in source(scope, unit):
            held.setdefault(key, []).append(sample)
        made += [_chart(scope, key, tuple(held[key]), pairs) for key in sorted(held)]
    return tuple(made)


def _chart(scope: Scope, key: tuple[str, str, str], samples: tuple[Sample, ...], pairs: bool) -> ReadingChart:
    quantity, point, unit = key
    caption = first_upper(", ".join(part for part in (quantity, point) if part) or "quantity not stated")
    return ReadingChart(
        caption=caption,
        unit=unit,
        from_on=scope.from_on,
        to_on=max(scope.last, scope.from_on),
        samples=thinned(samples),
        total=len(samples),
        pairs=pairs,
        alt=_words(caption, unit, samples, pairs),
        band=is_many(samples),
    )


# ------------------------------------------------------------------------------------------------ the words


def _value_words(sample: Sample, unit: str, pairs: bool) -> str:
    if not pairs:
        return f"{number(sample.left)} {unit}".strip()
    told = [f"as found {number(sample.found)}"] if sample.found is not None else []
    told += [f"as left {number(sample.left)}"] if sample.left is not None else []
    return f"{', '.join(told)} {unit}".strip()


def _outside_words(samples: tuple[Sample, ...], unit: str, pairs: bool) -> str:
    out = [s for s in samples if s.is_outside]
    if not out:
        return "None outside its limits." if any(_limited(s) for s in samples) else "None recorded as failed."
    told = "; ".join(f"{day(s.day)} {_value_words(s, unit, pairs)} ({_why(s)})" for s in out[:_MOST_TOLD])
    more = f"; and {len(out) - _MOST_TOLD} more" if len(out) > _MOST_TOLD else ""
    return f"Outside or failed, {len(out)}: {told}{more}."


def _why(sample: Sample) -> str:
    """The limit of that day, or that it was recorded as failed."""
    if sample.outside(sample.found) or sample.outside(sample.left):
        return f"limit {limit_words(sample.lower, sample.upper)}"
    return "recorded as failed"


def _limited(sample: Sample) -> bool:
    return sample.lower is not None or sample.upper is not None


def _words(caption: str, unit: str, samples: tuple[Sample, ...], pairs: bool) -> str:
    last = samples[-1]
    limits = dict.fromkeys(limit_words(s.lower, s.upper) for s in samples)
    lowest, highest = min(samples, key=low), max(samples, key=high)
    head = f"{caption} in {unit}" if unit else caption
    if len(samples) == 1:
        return (
            f"{head}: 1 reading, {day(last.day)} {_value_words(last, unit, pairs)}; limit {next(iter(limits))}. "
            f"{_outside_words(samples, unit, pairs)}"
        )
    return (
        f"{head}: {counted(len(samples), 'reading')} from {day(samples[0].day)} to {day(last.day)}; "
        f"lowest {number(low(lowest))} on {day(lowest.day)}, highest {number(high(highest))} on {day(highest.day)}, "
        f"last {_value_words(last, unit, pairs)}; limits: {', then '.join(limits)}. "
        f"{_outside_words(samples, unit, pairs)}"
    )
