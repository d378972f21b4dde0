"""Fewer samples for the same picture: of each stretch of time the lowest, the highest and what lies outside."""

from __future__ import annotations

from audit.binder.pictures.values import Sample

COLUMNS = 160  # stretches that a chart can tell apart


def low(sample: Sample):
    return min(value for value in (sample.found, sample.left) if value is not None)


def high(sample: Sample):
    return max(value for value in (sample.found, sample.left) if value is not None)


def is_many(samples: tuple[Sample, ...], columns: int = COLUMNS) -> bool:
    """Whether there are more than two for each stretch of time."""
    return len(samples) > 2 * columns


def thinned(samples: tuple[Sample, ...], columns: int = COLUMNS) -> tuple[Sample, ...]:
    """At most five samples of each of `columns` equal stretches of time, oldest first; all where there are few.

    The first, the lowest, the highest, and the lowest and the highest of those outside their limits are kept, so that
    the extremes and whether anything was outside are the same as of all. `samples` oldest first.
    """
    if not is_many(samples, columns):
        return samples
    start = samples[0].day
    days = (samples[-1].day - start).days + 1
    stretches: dict[int, list[int]] = {}
    for n, sample in enumerate(samples):
        stretches.setdefault((sample.day - start).days * columns // days, []).append(n)
    kept: set[int] = {len(samples) - 1}
    for numbers in stretches.values():
        outside = [n for n in numbers if samples[n].is_outside]
        for of in (numbers, outside):
            if of:
                kept |= {min(of, key=lambda n: low(samples[n])), max(of, key=lambda n: high(samples[n]))}
        kept.add(numbers[0])
    return tuple(samples[n] for n in sorted(kept))
