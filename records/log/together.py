"""What must hold between answers, as data: the writers judge by it, and so do pages and devices without a signal.

A `Case` names answers that all must hold; a rule applies in one of its cases. Answers are those of a row or of a
page, by name; numbers are Decimals here, and text as typed on a device.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

Case = Mapping[str, Collection[str] | None]  # all must hold: the answer is one of these; None: any at all
ALWAYS: tuple[Case, ...] = ({},)


def is_answered(value: Any) -> bool:
    """Whether anything was answered; a number 0 is an answer, a box without a tick is none."""
    return value is not None and value != "" and value is not False


def holds(cases: Iterable[Case], get: Callable[[str], Any]) -> bool:
    """Whether one of the cases holds; `get` gives an answer by its name."""
    return any(all(_is_so(get(name), wanted) for name, wanted in case.items()) for case in cases)


def _is_so(value: Any, wanted: Collection[str] | None) -> bool:
    return is_answered(value) and (wanted is None or str(value) in wanted)


@dataclass(frozen=True, slots=True)
class Order:
    """`low` must not be above `high` (with `above`: must lie below it). Each is a number, or the name of an answer.

    To `high` the answer `plus` is added, or `plus_else` where it is none. Nothing is compared while one of the two
    is not answered, or one of `unless` is. `message` is told at `field`; {low} and {high} in it are the numbers.
    """

    low: str | Decimal
    high: str | Decimal
    field: str
    message: str
    when: tuple[Case, ...] = ALWAYS
    unless: tuple[str, ...] = ()
    above: bool = False
    plus: str = ""
    plus_else: Decimal = Decimal(0)

    def renamed(self, name: Callable[[str], str]) -> Order:
        """The same of a page that calls the answers otherwise."""
        low, high = (name(n) if isinstance(n, str) else n for n in (self.low, self.high))
        when = tuple({name(k): wanted for k, wanted in case.items()} for case in self.when)
        unless = tuple(map(name, self.unless))
        plus = name(self.plus) if self.plus else ""
        return replace(self, low=low, high=high, field=name(self.field), when=when, unless=unless, plus=plus)


def out_of_order(orders: Iterable[Order], get: Callable[[str], Any]) -> Iterator[tuple[str, str]]:
    """(field, message) of each that does not hold, of each field the first alone."""
    told = set()
    for order in orders:
        if order.field not in told and (words := _broken(order, get)):
            told.add(order.field)
            yield order.field, words


def _broken(order: Order, get: Callable[[str], Any]) -> str:
    low, high = (get(n) if isinstance(n, str) else n for n in (order.low, order.high))
    if not (isinstance(low, Decimal) and isinstance(high, Decimal)):
        return ""
    if any(is_answered(get(name)) for name in order.unless) or not holds(order.when, get):
        return ""
    more = get(order.plus) if order.plus else None
    total = high + (order.plus_else if more is None else more)
    fine = low < total if order.above else low <= total
    return "" if fine else order.message.replace("{low}", f"{low:f}").replace("{high}", f"{high:f}")


# ------------------------------------------------------------------------------- a test of a cycle with its values

_PASS: tuple[Case, ...] = ({"result": ("pass",)},)
_NO_PASS = ": that is no pass. Enter “fail”, or check the numbers."


def _pair(low: str, high: str, what: str) -> Order:
    return Order(low, high, high, f"The greatest {what} lies below the least. Check both numbers.")


def _over_nothing(name: str) -> Order:
    words = "Enter a number above 0, or leave it blank if it was not read."
    return Order(Decimal(0), name, name, words, above=True)


def _within(low: str, high: str, field: str, words: str) -> Order:
    return Order(low, high, field, words + _NO_PASS, _PASS)


_COLD = "{high} °C lies below the band, which begins at {low} °C"
_HOT = "{low} °C lies above the band, which ends at {high} °C"
_SHORT = "{high} minutes of holding are fewer than the {low} that are needed"
# What was measured runs from least to greatest; a pass lies inside its band, both ends of which are inside, and holds
# as long as is needed.
VERIFICATION = (
    _pair("temperature_low", "temperature_high", "temperature"),
    _pair("pressure_low", "pressure_high", "pressure"),
    _pair("band_low", "band_high", "end of the band"),
    *map(_over_nothing, ("minutes", "minutes_needed", "pressure_low", "pressure_high")),
    _within("band_low", "temperature_low", "temperature_low", _COLD),
    _within("band_low", "temperature_high", "temperature_low", _COLD),
    _within("temperature_high", "band_high", "temperature_high", _HOT),
    _within("temperature_low", "band_high", "temperature_high", _HOT),
    _within("minutes_needed", "minutes", "minutes", _SHORT),
)

# The tests that hold readings of the cycle against their limits, and in what those are read.
MEASURING = ("V1", "V4")
OF_A_CYCLE = frozenset({"°c", "°f", "k", "kpa", "mpa", "mbar", "bar", "psi", "min", "minutes", "s", "seconds"})


def within_limits(code: str, quantity: str, unit: str, lower, upper) -> tuple[Order, ...]:
    """A test of what a cycle reaches did not pass while the reading `left` lies outside its limits, both inside.

    () for a test or a unit of measure that is none of a cycle.
    """
    if code not in MEASURING or unit.strip().casefold() not in OF_A_CYCLE:
        return ()

    def told(value: str) -> str:
        return (
            f"{quantity} was left at {value} {unit}, outside its limits: {code} is no pass. Put it right and measure "
            "again, or enter “fail”."
        )

    found = [] if lower is None else [Order(Decimal(lower), "left", "result", told("{high}"), _PASS)]
    return (*found, *([] if upper is None else [Order("left", Decimal(upper), "result", told("{low}"), _PASS)]))
