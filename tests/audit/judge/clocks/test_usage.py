"""When a unit was in use, as spans."""

from datetime import date, timedelta

from hypothesis import example, given
from hypothesis import strategies as st

from audit.judge.usage import Usage

FIRST = date(2025, 1, 1)


def day_of(n):
    return FIRST + timedelta(days=n)


IDLE = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 20), st.booleans()), max_size=5)


@example(idle=[(5, 3, False), (9, 2, False)], begin=0, first=6, length=4)  # the second begins the day after the first
@given(idle=IDLE, begin=st.integers(0, 30), first=st.integers(-5, 60), length=st.integers(0, 40))
def test_against_every_single_day(idle, begin, first, length):
    spans = tuple((day_of(a), None if still else day_of(a + n), "stored") for a, n, still in idle)
    usage = Usage(day_of(begin), True, spans)
    used = [d >= begin and not any(a <= d and (still or d <= a + n) for a, n, still in idle) for d in range(-5, 200)]
    at = dict(zip(range(-5, 200), used, strict=True))
    last = first + length
    assert [usage.in_use(day_of(d)) for d in range(-5, 120)] == used[:125]
    assert usage.any_use(day_of(first), day_of(last)) == any(at[d] for d in range(first, last + 1))
    touched = [d for d in range(first, last + 1) if at[d]]
    found = list(usage.stretches(day_of(first), day_of(last)))
    inside = [d for a, b in found for d in range(first, last + 1) if a <= day_of(d) <= b]
    assert inside == touched
    for start, end in found:
        assert usage.in_use(start) and not usage.in_use(start - timedelta(days=1))
        assert end == date.max or not usage.in_use(end + timedelta(days=1))
    for d in touched:
        back = d
        while at[back - 1]:
            back -= 1
        assert usage.resumed(day_of(d)) == day_of(back)
