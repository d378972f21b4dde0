"""What a page of a visit asks, said once: the server checks a form by it, and a device without a signal reads it.

A `Demand`, a `OneAnswer`, a `Clash`, a `LastDay` or an `Order` is data, so that both sides ask the same; what a kind
of field refuses is read off the field. Beside what is typed on the page stand, under names with a point or an @ in
them, what other pages of the unit say (`found.x0_quantity`) and what all of them amount to (`@outside`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms as django_forms
from django.core.validators import DecimalValidator, MaxLengthValidator, MaxValueValidator

from records.forms.fields import Choice, Day, Line, Number, Tick, TimeOfDay, Whole
from records.log.together import ALWAYS, Case, Order, holds, is_answered, out_of_order


@dataclass(frozen=True, slots=True)
class Demand:
    """The field must be answered in one of the cases, unless one of the other fields is."""

    field: str
    message: str
    when: tuple[Case, ...] = ALWAYS
    unless: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OneAnswer:
    """Exactly one of the fields is answered; `none` is told at the first of them, `many` at the last."""

    of: tuple[str, ...]
    none: str
    many: str


@dataclass(frozen=True, slots=True)
class Clash:
    """In one of the cases the answers contradict each other, unless one of the other fields is answered; told at
    `field`."""

    field: str
    message: str
    when: tuple[Case, ...]
    unless: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LastDay:
    """In one of the cases what is answered may be used up to and with a day, and is told at `field` when the work is
    done later, unless one of the other fields is answered. `days`: answer to that day; None where it is the answer
    itself. The message has the day as {day}."""

    field: str
    message: str
    days: Mapping[str, date] | None = None
    when: tuple[Case, ...] = ALWAYS
    unless: tuple[str, ...] = ()

    def passed(self, values: Mapping[str, Any], on: date) -> date | None:
        """The day, where it is over on that day of the work."""
        said = values.get(self.field)
        last = said if self.days is None else self.days.get(said or "")
        return last if isinstance(last, date) and last < on else None


@dataclass(frozen=True, slots=True)
class PageAsks:
    """All that a page asks between its fields."""

    needs: tuple[Demand, ...] = ()
    answers: tuple[OneAnswer, ...] = ()
    clashes: tuple[Clash, ...] = ()
    orders: tuple[Order, ...] = ()
    last_days: tuple[LastDay, ...] = ()


def applies(need: Demand | Clash | LastDay, values: Mapping[str, Any]) -> bool:
    """Whether the field must be answered, or the answers contradict each other, by the other answers."""
    if any(is_answered(values.get(name)) for name in need.unless):
        return False
    return holds(need.when, values.get)


def missing(asked: PageAsks, values: Mapping[str, Any], on: date) -> Iterator[tuple[str, str]]:
    """(field, message) of everything that is asked and the answers leave out, say twice or contradict.

    `on`: the day of the work.
    """
    for need in asked.needs:
        if not is_answered(values.get(need.field)) and applies(need, values):
            yield need.field, need.message
    for one in asked.answers:
        given = sum(is_answered(values.get(name)) for name in one.of)
        if given != 1:
            yield (one.of[-1], one.many) if given else (one.of[0], one.none)
    for clash in asked.clashes:
        if applies(clash, values):
            yield clash.field, clash.message
    for rule in asked.last_days:
        day = rule.passed(values, on)
        if day and applies(rule, values):
            yield rule.field, rule.message.replace("{day}", day.isoformat())
    yield from out_of_order(asked.orders, values.get)


def described(fields: Mapping, asked: PageAsks, lots: Mapping | None) -> dict:
    """All of it as data for a device. `lots`: what a typed lot number means, see `TaskForm.known_lots`."""
    return {
        "fields": {name: _kind(field) for name, field in fields.items() if not field.widget.is_hidden},
        "needs": _told(asked.needs),
        "answers": [asdict(one) for one in asked.answers],
        "clashes": _told(asked.clashes),
        "orders": _told(asked.orders),
        "last_days": [told | {"days": _iso(told["days"])} for told in _told(asked.last_days)],
        "lots": lots,
    }


def _iso(days: Mapping[str, date] | None) -> dict | None:
    return None if days is None else {answer: day.isoformat() for answer, day in days.items()}


def _told(rules: Iterable[Demand | Clash | LastDay | Order]) -> list[dict]:
    return [
        {name: str(value) if isinstance(value, Decimal) else value for name, value in _fields(rule).items()}
        | {"when": [plain_case(case) for case in rule.when]}
        for rule in rules
    ]


def _fields(rule) -> dict:
    found = {name: getattr(rule, name) for name in rule.__dataclass_fields__}
    # A number that stands fast is told apart from the name of an answer.
    return {n: {"is": str(v)} if n in ("low", "high") and isinstance(v, Decimal) else v for n, v in found.items()}


def plain_case(case: Case) -> dict:
    """A case as JSON takes it."""
    return {name: None if wanted is None else list(wanted) for name, wanted in case.items()}


KINDS = ((Number, "number"), (Whole, "whole"), (Day, "day"), (TimeOfDay, "time"), (Tick, "tick"), (Choice, "choice"))


def _kind(field: django_forms.Field) -> dict:
    kind = next((word for of, word in KINDS if isinstance(field, of)), "line")
    said: dict = {"kind": kind, "label": str(field.label or "")}
    if field.required:
        said["required"] = str(field.error_messages["required"])
    if isinstance(field, Number):
        decimal = next(v for v in field.validators if isinstance(v, DecimalValidator))
        said |= {"places": decimal.decimal_places, "digits": decimal.max_digits, "invalid": Number.NOT_ONE}
        said["many"] = _digits(decimal)
    elif isinstance(field, Whole):
        said |= {"most": field.max_value, "invalid": str(field.error_messages["invalid"])}
        greatest = next(v for v in field.validators if isinstance(v, MaxValueValidator))
        said["over"] = str(greatest.message % {"limit_value": field.max_value})
    elif isinstance(field, Line):
        longest = next(v for v in field.validators if isinstance(v, MaxLengthValidator))
        most = longest.limit_value
        said |= {"longest": most, "over": f"It is longer than {most} characters. Shorten it."}
    elif "invalid" in field.error_messages:
        said["invalid"] = str(field.error_messages["invalid"])
    return said


def _digits(decimal: DecimalValidator) -> dict[str, str]:
    """By its code, what the validator says of too many digits."""
    whole = decimal.max_digits - decimal.decimal_places
    most = {"max_digits": decimal.max_digits, "max_decimal_places": decimal.decimal_places, "max_whole_digits": whole}
    return {code: str(decimal.messages[code] % {"max": number}) for code, number in most.items()}
