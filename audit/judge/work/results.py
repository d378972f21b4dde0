"""What the tests after work showed: a result as ticked, against the values recorded with it.

A test ticked as passed counts as failed where a value lies outside the band recorded with it, and, for the function
cycle and the calibration check, where a temperature, pressure or time of the same job was left outside its limits.
Where a band or a value is recorded in part only, nothing can be compared: the test is stated, not shown. So is a test
of which the rules ask a value and which has none. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from audit.facts import JobFact, ReadingFact, VerificationFact, in_order
from audit.judge.biological import run_of, shown_before

PASS, FAIL, STATED = "pass", "fail", "stated"
MEASURED = ("V1", "V4")  # the tests that compare temperature, pressure and time
QUANTITIES = ("temperature", "pressure", "time", "minute", "holding", "exposure")


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed
class Result:
    """The result of one test that counts. `shown`: with a value (`has_value`) or without one."""

    word: str  # pass, fail, stated
    shown: bool
    row: VerificationFact


def results_of(job: JobFact, asks_value: Container[str], left_out: tuple[ReadingFact, ...]) -> dict[str, Result]:
    """The last result of each test within a job; of two on one day a pass makes a failure good only if it is shown
    to be the later one, or written after it without any other time.

    `asks_value`: codes that prove nothing without a value; `left_out`: readings of the job left outside their limits.
    """
    held: dict[str, Result] = {}
    measured = any([r.as_left is not None and is_of_cycle(r.quantity) for r in job.readings])
    wrong = any([is_of_cycle(r.quantity) for r in left_out])
    for test in in_order(job.tests):
        if test.result != PASS and test.result != FAIL:
            continue
        code = test.code
        result = _result(test, code in asks_value, measured, wrong)
        if code not in held or not _stands(held[code], result):
            held[code] = result
    return held


def _stands(before: Result, after: Result) -> bool:
    """Whether an earlier row outweighs a later one: a failure that the pass is not shown to follow; a pass shown."""
    if after.word == STATED:
        return before.word in (PASS, FAIL)
    if before.word != FAIL or after.word != PASS:
        return False
    same_moment = before.row.row.happened_at == after.row.row.happened_at
    return not (same_moment or shown_before(run_of(before.row), run_of(after.row)))


def _result(test: VerificationFact, asks_value: bool, measured: bool, wrong: bool) -> Result:
    of_cycle = test.code in MEASURED
    shown = (measured and of_cycle) or has_value(test)
    limited = not _without_limits(test)
    if test.result == FAIL or (wrong and of_cycle) or (limited and out_of_band(test)):
        return Result(FAIL, shown, test)
    if (asks_value and not shown) or (limited and cannot_be_compared(test)):
        return Result(STATED, False, test)
    return Result(PASS, shown, test)


@lru_cache(maxsize=512)  # few quantities are ever measured
def is_of_cycle(quantity: str) -> bool:
    """Whether a reading is of what a cycle reaches, by the name of its quantity."""
    return any(word in quantity.casefold() for word in QUANTITIES)


def has_value(test: VerificationFact) -> bool:
    """Whether a number was recorded with the test: in a field of its own or in words."""
    return (
        test.temperature_low is not None
        or test.temperature_high is not None
        or test.pressure_low is not None
        or test.pressure_high is not None
        or test.minutes is not None
        or (test.value != "" and any(map(str.isdigit, test.value)))
    )


def out_of_band(test: VerificationFact) -> bool:
    """Whether a temperature lies outside the band, both ends of which are inside, or the time is too short."""
    if _without_limits(test):
        return False
    heats = [v for v in (test.temperature_low, test.temperature_high) if v is not None]
    too_cold = test.band_low is not None and any(v < test.band_low for v in heats)
    too_hot = test.band_high is not None and any(v > test.band_high for v in heats)
    return too_cold or too_hot or _less(test.minutes, test.minutes_needed)


def cannot_be_compared(test: VerificationFact) -> bool:
    """Whether some of the limits or values were recorded and what belongs to them was not."""
    if _without_limits(test):
        return False
    pairs = (
        (test.temperature_low, test.band_low),
        (test.temperature_high, test.band_high),
        (test.minutes, test.minutes_needed),
    )
    return any((value is None) != (limit is None) for value, limit in pairs)


def _without_limits(test: VerificationFact) -> bool:
    return test.band_low is None and test.band_high is None and test.minutes_needed is None


def _less(value: Decimal | None, least: Decimal | None) -> bool:
    return value is not None and least is not None and value < least
