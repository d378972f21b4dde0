"""What one biological test (spore test) counts for.

A test counts only with a control of the same lot that grew, a lot not expired on the day of the cycle, incubation of
at least the label's hours and, where it is stated, at a temperature within the label. Growth in the test at any
reading is a failure whatever the control did: the stricter evidence stands. Sources: CDC 2003 (MMWR 52 RR-17) VI.F
item 6 (control, same lot); EN 285:1996 17.2.2.7 (control without growth: invalid). Hours and temperature are the
label's.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from audit.facts import BioReadingFact, BioTestFact, in_order
from audit.facts.dates import add_days
from audit.regimes.model import Validity

from .judgement import Evidence, TestVerdict

PASSED, FAILED, INVALID, AWAITED = "passed", "failed", "invalid", "awaited"
GROWTH, NO_GROWTH = "growth", "no growth"
PASSED_WORDS = "no growth in the test, growth in the control"

Run = tuple[date, datetime | None, str]  # day, moment where it is known, number of the cycle or ""


def judge_tests(tests: Iterable[BioTestFact], validity: Validity) -> dict[str, TestVerdict]:
    """A verdict for each test, by the test's origin, oldest first."""
    return {t.row.origin: judge_test(t, validity) for t in in_order(tests)}


def judge_test(test: BioTestFact, validity: Validity) -> TestVerdict:
    """What the test counts for, with the reason in words and the day the clinic knew."""
    if len(test.readings) == 1:
        (reading,) = test.readings
        if _plainly_passed(test, reading):
            read, known = reading.row.happened_on, reading.known_on
            return TestVerdict(test.row.origin, PASSED, PASSED_WORDS, known if known > read else read)
    readings = in_order(test.readings)
    grown = [r for r in readings if r.test == GROWTH]
    if grown:
        first = min(grown, key=known_day)
        return _verdict(test, FAILED, "growth in the test", known_day(first))
    fault = _fault_of_set_up(test)
    if fault:
        return _verdict(test, INVALID, fault, known_day(readings[-1]) if readings else test.row.happened_on)
    final = [r for r in readings if r.test != NO_GROWTH or hours_incubated(test, r) != "too short"]
    if not readings:
        return _verdict(test, AWAITED, "no reading yet", None)
    if not final:
        return _verdict(test, AWAITED, _early_words(test, readings[-1]), None)
    last = final[-1]
    if last.test != NO_GROWTH:
        return _verdict(test, INVALID, "no result was obtained: counts as not tested", known_day(last))
    if fault := _fault_of_reading(test, last, readings, validity):
        return _verdict(test, INVALID, fault, known_day(last))
    return _verdict(test, PASSED, PASSED_WORDS, known_day(last))


def _plainly_passed(test: BioTestFact, reading: BioReadingFact) -> bool:
    """The commonest case settled at a glance: one reading with everything stated and nothing to object to.

    It says nothing new: whatever it does not settle goes through the rules one by one, to the same verdict.
    """
    lot, control, hours, heat = test.lot, test.control_lot, reading.incubated_hours, reading.incubator_temperature
    return (
        reading.test == NO_GROWTH
        and reading.control == GROWTH
        and lot.lot != ""
        and control is not None
        and (control is lot or control.lot == lot.lot)
        and (lot.expiry is None or lot.expiry >= test.row.happened_on)
        and hours is not None
        and hours >= lot.incubation_hours
        and heat is not None
        and (lot.incubation_low is None or heat >= lot.incubation_low)
        and (lot.incubation_high is None or heat <= lot.incubation_high)
    )


def known_day(reading: BioReadingFact) -> date:
    """The first day on which the clinic could act on the reading."""
    return max(reading.row.happened_on, reading.known_on)


def hours_incubated(test: BioTestFact, reading: BioReadingFact) -> str:
    """ "enough", "too short" or "not recorded", against the label's least hours (inclusive).

    The hours stated come first, then the time between cycle and reading; days alone give bounds only. A laboratory's
    report stands for its own incubation.
    """
    need = Decimal(test.lot.incubation_hours)
    if reading.incubated_hours is not None:
        return "enough" if reading.incubated_hours >= need else "too short"
    if reading.report:
        return "enough"
    if test.row.happened_at and reading.row.happened_at:
        passed = reading.row.happened_at - test.row.happened_at
        return "enough" if Decimal(int(passed.total_seconds())) >= need * 3600 else "too short"
    days = (reading.row.happened_on - test.row.happened_on).days
    if (days - 1) * 24 >= need:
        return "enough"
    return "too short" if (days + 1) * 24 <= need else "not recorded"


def awaited_until(test: BioTestFact, validity: Validity) -> date:
    """The last day on which a missing result is still within reason (inclusive). Common practice, no source."""
    if test.site == "laboratory":
        return add_days(test.row.happened_on, validity.awaited_days_laboratory)
    incubation = -(-test.lot.incubation_hours // 24)
    return add_days(test.row.happened_on, incubation + validity.awaited_days_clinic)


def ran_after(test_day: date, test_at: datetime | None, known_on: date, known_at: datetime | None) -> bool | None:
    """Whether a run came after the day and time known; None on the same day without both times."""
    if test_day != known_on:
        return test_day > known_on
    if test_at is None or known_at is None:
        return None
    return test_at > known_at


def run_of(fact) -> Run:
    """When a fact was run: the day, the moment or None, the number of the cycle or ""."""
    return fact.row.happened_on, fact.row.happened_at, getattr(fact, "cycle_number", "")


def shown_before(run: Run, other: Run) -> bool:
    """Whether a run is shown to have come before another; what is not shown is not so.

    By day; on one day by both times, or without them by both cycle numbers. Two results of one cycle, or of one
    moment, never. In which order they were logged shows nothing. Common practice, no source.
    """
    (day, at, cycle), (other_day, other_at, other_cycle) = run, other
    if day != other_day:
        return day < other_day
    if cycle and cycle == other_cycle:
        return False
    if at is not None and other_at is not None:
        return at < other_at
    return cycle.isdecimal() and other_cycle.isdecimal() and int(cycle) < int(other_cycle)


def evidence_of(test: BioTestFact, verdict: TestVerdict) -> Evidence:
    """The test in one line."""
    day = test.row.happened_on.isoformat()
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    word = verdict.verdict if verdict.verdict != INVALID else f"doesn't count: {verdict.reason}"
    return Evidence(test.row.ref, f"spore test of {day}{cycle}: {word}")


def _verdict(test, verdict, reason, known_on) -> TestVerdict:
    return TestVerdict(test.row.origin, verdict, reason, known_on)


def _fault_of_set_up(test: BioTestFact) -> str:
    """What keeps the test from ever passing, known from the day of the cycle; "" when nothing does."""
    if not test.lot.lot:
        return "the lot it was run with is not known"
    expiry = test.lot.expiry
    if expiry is not None and expiry < test.row.happened_on:
        return f"lot {test.lot.lot} expired on {expiry.isoformat()}, before the cycle"
    if test.control_lot is None:
        return "no control was run"
    if not test.control_lot.lot:
        return "the lot of its control is not known"
    if test.control_lot.lot != test.lot.lot:
        return f"control of another lot ({test.control_lot.lot}, test {test.lot.lot})"
    return ""


def _fault_of_reading(test, last: BioReadingFact, readings, validity: Validity) -> str:
    if hours_incubated(test, last) == "not recorded":
        return f"hours of incubation not recorded ({test.lot.incubation_hours} h needed)"
    heat, low, high = last.incubator_temperature, test.lot.incubation_low, test.lot.incubation_high
    if heat is not None and ((low is not None and heat < low) or (high is not None and heat > high)):
        return f"incubated at {heat} °C, label {low} to {high} °C"
    if any(r.control == GROWTH for r in readings):
        return ""
    if last.control == "not stated":
        counts = validity.control_not_stated_counts
        return "" if counts else "the report does not state the control"
    return "control did not grow" if last.control == NO_GROWTH else "control gave no result"


def _early_words(test: BioTestFact, reading: BioReadingFact) -> str:
    hours = reading.incubated_hours
    read = f"after {hours} h" if hours is not None else "early"
    return f"no growth {read}; not final before {test.lot.incubation_hours} h"
