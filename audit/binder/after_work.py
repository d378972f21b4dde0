"""What was measured and tested at a visit, and who signed that the unit was released and returned to use."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, Signed, Table
from audit.binder.written_on_paper import NO_RECORD, day, first_upper, labelled, lines, number, quantity, tied
from audit.facts import JobFact, ReadingFact, SignatureFact, UnitFacts, VerificationFact, in_order
from audit.facts.names import test_title

_RESULTS = {"pass": "passed", "fail": "failed"}
_RECORD = Column("Record", 38, small=True)


def counter_words(unit: UnitFacts, counter: str) -> str:
    """The newest reading of a counter, with the life total where an earlier counter is added."""
    readings = in_order(c for c in unit.counters if c.counter == counter)
    if not readings:
        return NO_RECORD
    last = readings[-1]
    total = f", life total {number(last.total)}" if last.offset else ""
    return f"{number(last.shown)} on {day(last.row.happened_on)}{total}"


def allowed_words(reading: ReadingFact) -> str:
    """The limits of a reading with its unit of measure; both ends are inside."""
    low, high = reading.lower, reading.upper
    if low is None and high is None:
        return "no limit stated"
    if low is None:
        return f"at most {quantity(high, reading.unit_of_measure)}"
    if high is None:
        return f"at least {quantity(low, reading.unit_of_measure)}"
    return f"{number(low)} to {quantity(high, reading.unit_of_measure)}"


def is_outside(reading: ReadingFact, value: Decimal | None) -> bool:
    """Whether a value lies beyond a limit; one at the limit is inside."""
    low, high = reading.lower, reading.upper
    return value is not None and ((low is not None and value < low) or (high is not None and value > high))


def _instruments(reading: ReadingFact) -> str:
    """With what it was measured; where as left was taken with another instrument, both by the value they took."""
    used = [_instrument(name, due, reading) for name, due in reading.instruments]
    if len(used) == 1:
        return used[0]
    found, left = (words or "none named" for words in used)
    return lines(f"as found: {found}", f"as left: {left}")


def _instrument(name: str, due: date | None, reading: ReadingFact) -> str:
    expired = due is not None and due < reading.row.happened_on
    last = f"calibration to {day(due)}" if due else ""
    return lines(", ".join(t for t in (name, last) if t), "expired on that day" if expired else "")


def measured_table(scope: Scope, job: JobFact) -> Table:
    columns = (
        Column("Measured", 160, names=True),
        Column("As found", 56),
        Column("As left", 56),
        Column("Allowed", 84),
        Column("Instrument", 116),
        _RECORD,
    )
    same = len({r.limit_source for r in job.readings}) == 1
    rows = tuple(
        (
            Cell(", ".join(part for part in (r.quantity, r.point) if part)),
            _value_cell(r, r.as_found, r.found_while),
            _value_cell(r, r.as_left),
            Cell(lines(allowed_words(r), "" if same else r.limit_source)),
            Cell(_instruments(r)),
            scope.proof(r),
        )
        for r in job.readings
    )
    return Table("", columns, rows, "Nothing was measured as found or as left.")


def _value_cell(reading: ReadingFact, value: Decimal | None, taken: str = "") -> Cell:
    """A measured value, with when it was taken; in bold, with a word, one beyond its limits."""
    if value is None:
        return Cell("not measured")
    outside = is_outside(reading, value)
    told = quantity(value, reading.unit_of_measure)
    return Cell(lines(told, "outside" if outside else "", taken), strong=outside)


def _band(low: Decimal | None, high: Decimal | None, unit: str) -> str:
    if low is None and high is None:
        return ""
    if low is None or high is None or low == high:
        return quantity(high if low is None else low, unit)
    return f"{number(low)} to {quantity(high, unit)}"


def _test_value(test: VerificationFact) -> Cell:
    """What a test showed, and what was asked; in bold where a test that was run shows no value at all."""
    allowed = labelled("allowed", _band(test.band_low, test.band_high, "°C"))
    needed = f"{quantity(test.minutes_needed, 'min')} needed" if test.minutes_needed is not None else ""
    held = quantity(test.minutes, "min") if test.minutes is not None else ""
    measured = (
        _with(_band(test.temperature_low, test.temperature_high, "°C"), allowed),
        _with(held, needed),
        _band(test.pressure_low, test.pressure_high, "kPa"),
    )
    cycle = f"cycle {test.cycle_number}" if test.cycle_number else ""
    values = [part for part in (test.value, *measured) if part]
    ran = test.result in ("pass", "fail")
    missing = "no value entered" if ran and not values else ""
    told = "; ".join(part for part in (cycle, *values, missing, labelled("why", test.reason)) if part)
    return Cell(tied(told), bold=(missing,) if missing else ())


def _with(value: str, more: str) -> str:
    return f"{value} ({more})" if value and more else value or more


def tests_table(scope: Scope, job: JobFact) -> Table:
    columns = (
        Column("Test before return to use", 160, names=True),
        Column("Result", 56),
        Column("Value", 256),
        _RECORD,
    )
    rows = tuple(
        (
            Cell(test_title(t.code)),
            Cell(_RESULTS.get(t.result, t.result), strong=t.result in ("fail", "not done")),
            _test_value(t),
            scope.proof(t),
        )
        for t in job.tests
    )
    return Table("", columns, rows, "No test before return to use is on record.")


# ------------------------------------------------------------------------------------------------ signed


_TITLES = {
    "released": "Released after work",
    "returned to use": "Returned to use",
    "left out of use": "Left out of use",
    "refused": "Return to use refused",
    "nobody present": "Returned to use: nobody present to sign",
}


def _statement(scope: Scope, signature: SignatureFact) -> tuple[str, tuple[str, ...]]:
    """Who signed what, when, how, and the record of it."""
    nobody = "" if signature.meaning == "nobody present" else "no name"
    who = ", ".join(part for part in (signature.name or nobody, signature.role) if part)
    when = ", ".join(part for part in (who, day(signature.row.happened_on)) if part)
    how = "; ".join(part for part in (signature.given_words, f"record {scope.row(signature.row.ref)}") if part)
    told = (when, how, labelled("why", signature.reason))
    title = _TITLES.get(signature.meaning, first_upper(signature.meaning))
    return title, tuple(part for part in told if part)


def signed_block(scope: Scope, job: JobFact) -> Signed:
    """The release and what the clinic signed side by side: the return to use, that it refused, or was not there."""
    released = [s for s in job.signatures if s.meaning == "released"]
    returned = [s for s in job.signatures if s.meaning != "released"]
    none = ("No signature on record.",)
    return Signed(
        (
            *([_statement(scope, s) for s in released] or [(_TITLES["released"], none)]),
            *([_statement(scope, s) for s in returned] or [(_TITLES["returned to use"], none)]),
        )
    )
