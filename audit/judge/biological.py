"""What one biological test (spore test) counts for.

A test counts only with a control of the same product and lot that grew, a lot not expired on the day of the cycle,
incubation of at least the label's hours and, where it is stated, at a temperature within the label. Growth in the
test at any reading is a failure whatever the control did: the stricter evidence stands. A reading dated before the
cycle never counts, nor one whose hours the days or times on record make impossible. Sources: CDC 2003 (MMWR 52 RR-17)
VI.F item 6 (control, same lot); EN 285:1996 17.2.2.7 (control without growth: invalid). Hours and temperature are the
label's. That what contradicts itself proves nothing: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import lru_cache

from audit.facts import BioReadingFact, BioTestFact, LotFact, Row, in_order
from audit.facts.dates import add_days
from audit.regimes.model import Validity

from .judgement import Evidence, TestVerdict

PASSED, FAILED, INVALID, AWAITED = "passed", "failed", "invalid", "awaited"
GROWTH, NO_GROWTH = "growth", "no growth"
PASSED_WORDS = "no growth in the test, growth in the control"
ENOUGH, TOO_SHORT, NOT_RECORDED, CONTRADICTED, BEFORE = (
    "enough",
    "too short",
    "not recorded",
    "contradicted",
    "before the cycle",
)

Run = tuple[date, datetime | None, str]  # day, moment where it is known, number of the cycle as `number_key` or ""


def judge_tests(tests: Iterable[BioTestFact], validity: Validity) -> dict[str, TestVerdict]:
    """A verdict for each test, by the test's origin, oldest first.

    The commonest case is settled at a glance: one reading with everything stated and nothing to object to. That says
    nothing new: whatever is not settled so goes through the rules one by one, to the same verdict. Tests of one box
    are mostly incubated alike: what the label says of it is looked at once for a row of such tests.
    """
    found: dict[str, TestVerdict] = {}
    lot = control = hours = heat = whole = None
    fits = False
    for test in in_order(tests):
        run, readings = test.row, test.readings
        if len(readings) == 1 and (reading := readings[0]).test == NO_GROWTH and reading.control == GROWTH:
            now = reading.incubated_hours, reading.incubator_temperature
            if test.lot is not lot or test.control_lot is not control or now[0] != hours or now[1] != heat:
                lot, control, (hours, heat) = test.lot, test.control_lot, now
                fits = _fits_label(lot, control, hours, heat)
                whole = int(hours) if fits and hours == int(hours) else hours  # quicker to count with
            read = reading.row
            if fits and (lot.expiry is None or lot.expiry >= run.happened_on) and _time_enough(run, read, whole):
                on, known = read.happened_on, reading.known_on
                found[run.origin] = TestVerdict(run.origin, PASSED, PASSED_WORDS, known if known > on else on)
                continue
        found[run.origin] = _judge_closely(test, validity)
    return found


def judge_test(test: BioTestFact, validity: Validity) -> TestVerdict:
    """What the test counts for, with the reason in words and the day the clinic knew."""
    return judge_tests((test,), validity)[test.row.origin]


def _judge_closely(test: BioTestFact, validity: Validity) -> TestVerdict:
    readings = in_order(test.readings)
    grown = [r for r in readings if r.test == GROWTH]
    if grown:
        first = min(grown, key=known_day)
        return _verdict(test, FAILED, "growth in the test", known_day(first))
    fault = _fault_of_set_up(test)
    if fault:
        return _verdict(test, INVALID, fault, known_day(readings[-1]) if readings else test.row.happened_on)
    if not readings:
        return _verdict(test, AWAITED, "no reading yet", None)
    final = [r for r in readings if r.test != NO_GROWTH or hours_incubated(test, r) != TOO_SHORT]
    if not final:
        return _verdict(test, AWAITED, _early_words(test, readings[-1]), None)
    last = final[-1]
    if fault := _fault_of_reading(test, last, readings, validity):
        return _verdict(test, INVALID, fault, known_day(last))
    return _verdict(test, PASSED, PASSED_WORDS, known_day(last))


def _fits_label(lot: LotFact, control: LotFact | None, hours: Decimal | None, heat: Decimal | None) -> bool:
    """Whether the control is plainly of the same box, and hours and temperature are what the label asks."""
    return (
        control is not None
        and (control is lot or (control.lot == lot.lot and control.name == lot.name != ""))
        and lot.lot.strip() != ""
        and hours is not None
        and hours >= lot.incubation_hours > 0
        and heat is not None
        and (lot.incubation_low is None or heat >= lot.incubation_low)
        and (lot.incubation_high is None or heat <= lot.incubation_high)
    )


def _time_enough(run: Row, read: Row, hours: Decimal | int) -> bool:
    """Whether the hours stated plainly fit between cycle and reading, to a tenth of an hour."""
    began, ended = run.happened_at, read.happened_at
    if began is None or ended is None:
        return hours <= (read.happened_on - run.happened_on).days * 24
    between = ended - began
    if hours <= between.days * 24:
        return read.happened_on >= run.happened_on
    tenths = (between.days * 86400 + between.seconds) // 360
    return read.happened_on >= run.happened_on and hours * 10 <= tenths


def plain_text(text: str) -> str:
    """A lot or a name as it is compared: without case and without blanks. Common practice, no source."""
    return "".join(text.split()).casefold()


@lru_cache(maxsize=65536)  # the numbers of a log are compared again and again
def number_key(text: str) -> str:
    """A cycle number as it is compared: without case, blanks and leading noughts; "" where none is recorded."""
    plain = plain_text(text)
    return plain.lstrip("0") or plain[:1]


def cycle_key(fact) -> str:
    """The cycle number of a fact as it is compared; "" where it has none."""
    return number_key(getattr(fact, "cycle_number", ""))


def same_cycle(one, other) -> bool:
    """Whether two facts are shown to be of one cycle: of one day and of one cycle number."""
    key = cycle_key(one)
    return key != "" and key == cycle_key(other) and one.row.happened_on == other.row.happened_on


def same_product_and_lot(one: LotFact, other: LotFact) -> bool:
    """Whether two boxes are of one product and one lot, so that one may be the control of the other.

    Two boxes of which the product, or the lot, is not known are not the same, unless they are the very box.
    """
    return not _difference(one, other)


def _difference(lot: LotFact, control: LotFact) -> str:
    """What tells the control's box from that of the test, in words; "" for nothing."""
    if control is lot:
        return ""
    if plain_text(control.lot) != plain_text(lot.lot):
        return f"control of another lot ({control.lot}, test {lot.lot})"
    name, own = plain_text(control.name), plain_text(lot.name)
    if name != own:
        return f"control of another product ({control.name or 'not known'}, test {lot.name or 'not known'})"
    same_box = control.ref == lot.ref != ""
    return "" if own or same_box else "whether its control is of the same product is not known"


def known_day(reading: BioReadingFact) -> date:
    """The first day on which the clinic could act on the reading."""
    return max(reading.row.happened_on, reading.known_on)


def hours_incubated(test: BioTestFact, reading: BioReadingFact) -> str:
    """ "enough", "too short" or "not recorded", against the label's least hours (inclusive); "before the cycle" of a
    reading dated so, "contradicted" where more hours are stated than lie between cycle and reading.

    The hours stated come first, then the time between cycle and reading; days alone give bounds only. A laboratory's
    report stands for its own incubation, of a test that was sent to a laboratory. Whoever read it, what was read
    sooner after the cycle than the label's hours is too short. A label without hours gives "not recorded".
    """
    if _before_cycle(test, reading):
        return BEFORE
    need, stated = test.lot.incubation_hours, reading.incubated_hours
    least, most, exact = _hours_between(test, reading)
    if stated is not None and stated > most.to_integral_value(ROUND_CEILING):
        return CONTRADICTED
    if need < 1:
        return NOT_RECORDED
    if need > most or (need == most and not exact and stated is None):
        return TOO_SHORT
    if stated is not None:
        return ENOUGH if stated >= need else TOO_SHORT
    if least >= need or (reading.report and test.site == "laboratory"):
        return ENOUGH
    return NOT_RECORDED


def _before_cycle(test: BioTestFact, reading: BioReadingFact) -> bool:
    run, read = test.row, reading.row
    both = run.happened_at is not None and read.happened_at is not None
    return read.happened_on < run.happened_on or (both and read.happened_at < run.happened_at)


def _hours_between(test: BioTestFact, reading: BioReadingFact) -> tuple[Decimal, Decimal, bool]:
    """(at least, at most, exact) hours between cycle and reading.

    By days alone the most is never quite reached; hours that are stated are whole ones, and may be as many.
    """
    run, read = test.row, reading.row
    if run.happened_at is not None and read.happened_at is not None:
        hours = Decimal(int((read.happened_at - run.happened_at).total_seconds())) / 3600
        return hours, hours, True
    days = (read.happened_on - run.happened_on).days
    return Decimal((days - 1) * 24), Decimal((days + 1) * 24), False


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
    """When a fact was run: the day, the moment or None, the number of the cycle as it is compared or ""."""
    return fact.row.happened_on, fact.row.happened_at, cycle_key(fact)


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
    """A result is never known before the cycle, whatever its day says."""
    known = known_on if known_on is None or known_on > test.row.happened_on else test.row.happened_on
    return TestVerdict(test.row.origin, verdict, reason, known)


def _fault_of_set_up(test: BioTestFact) -> str:
    """What keeps the test from ever passing, known from the day of the cycle; "" when nothing does."""
    lot, control = test.lot, test.control_lot
    if not plain_text(lot.lot):
        return "the lot it was run with is not known"
    if lot.expiry is not None and lot.expiry < test.row.happened_on:
        return f"lot {lot.lot} expired on {lot.expiry.isoformat()}, before the cycle"
    if control is None:
        return "no control was run"
    if not plain_text(control.lot):
        return "the lot of its control is not known"
    if lot.incubation_hours < 1:
        return f"the hours of incubation that the label of lot {lot.lot} asks are not known"
    return _difference(lot, control)


def _fault_of_reading(test, last: BioReadingFact, readings, validity: Validity) -> str:
    """Why the test counts for nothing though nothing grew in it; `last` is the reading that decides."""
    if fault := _fault_of_time(test, last):
        return fault
    if last.test != NO_GROWTH:
        return "no result was obtained: counts as not tested"
    held = [r for r in readings if not _before_cycle(test, r)]
    low, high = test.lot.incubation_low, test.lot.incubation_high
    for heat in (r.incubator_temperature for r in held):
        if heat is not None and ((low is not None and heat < low) or (high is not None and heat > high)):
            return f"incubated at {heat} °C, label {_limits(low, high)}"
    return _fault_of_control(held, last, validity)


def _fault_of_time(test: BioTestFact, last: BioReadingFact) -> str:
    said = hours_incubated(test, last)
    if said == BEFORE:
        day, cycle = last.row.happened_on, test.row.happened_on
        when = f"on {day.isoformat()}" if day < cycle else "earlier on its day"
        return f"its reading is dated {when}, before the cycle"
    if last.test != NO_GROWTH:
        return ""
    if said == CONTRADICTED:
        most, words = _most(test, last)
        return (
            f"{last.incubated_hours} h of incubation are stated, and {words} {most} h lie between cycle and reading"
        )
    return f"hours of incubation not recorded ({test.lot.incubation_hours} h needed)" if said == NOT_RECORDED else ""


def _fault_of_control(held, last: BioReadingFact, validity: Validity) -> str:
    """`held`: the readings that are not dated before the cycle, in order; once grown a control stays so."""
    controls = [r.control for r in held]
    if GROWTH in controls:
        later = controls[controls.index(GROWTH) :]
        return "control read as grown, and later as not grown" if NO_GROWTH in later else ""
    if last.control == "not stated":
        counts = validity.control_not_stated_counts
        return "" if counts else "the report does not state the control"
    return "control did not grow" if last.control == NO_GROWTH else "control gave no result"


def _limits(low: Decimal | None, high: Decimal | None) -> str:
    if high is None:
        return f"from {low} °C"
    return f"{low} to {high} °C" if low is not None else f"to {high} °C"


def _most(test: BioTestFact, reading: BioReadingFact) -> tuple[Decimal, str]:
    """The most hours that lie between the two, to a tenth, and the words for them."""
    _, most, exact = _hours_between(test, reading)
    return most.quantize(Decimal("0.1"), ROUND_FLOOR), "only" if exact else "less than"


def _early_words(test: BioTestFact, reading: BioReadingFact) -> str:
    stated, need = reading.incubated_hours, test.lot.incubation_hours
    if stated is not None and stated < need:
        return f"no growth after {stated} h; not final before {need} h"
    most, words = _most(test, reading)
    return f"no growth {words} {most} h after the cycle; not final before {need} h"
