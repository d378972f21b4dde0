"""What a page of a visit asks, said once: the server checks a form by it, and a device without a signal reads it.

A `Demand` or a `OneAnswer` is data, so that both sides ask the same; what a kind of field refuses is read off the
field.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django import forms as django_forms
from django.core.validators import DecimalValidator, MaxLengthValidator, MaxValueValidator

from records.forms.fields import Choice, Day, Line, Number, Tick, TimeOfDay, Whole

Case = Mapping[str, Collection[str] | None]  # all must hold: the field has one of these values; None: any at all
ALWAYS: tuple[Case, ...] = ({},)


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


def is_answered(value: Any) -> bool:
    """Whether anything was answered; a number 0 is an answer, a box without a tick is none."""
    return value is not None and value != "" and value is not False


def applies(need: Demand, values: Mapping[str, Any]) -> bool:
    """Whether the field must be answered, by the other answers."""
    if any(is_answered(values.get(name)) for name in need.unless):
        return False
    return any(all(_is_so(values.get(name), wanted) for name, wanted in case.items()) for case in need.when)


def _is_so(value: Any, wanted: Collection[str] | None) -> bool:
    return is_answered(value) and (wanted is None or str(value) in wanted)


def missing(needs: Iterable[Demand], answers: Iterable[OneAnswer], values: Mapping[str, Any]) -> Iterator[tuple]:
    """(field, message) of everything that these ask and the answers leave out or say twice."""
    for need in needs:
        if not is_answered(values.get(need.field)) and applies(need, values):
            yield need.field, need.message
    for one in answers:
        given = sum(is_answered(values.get(name)) for name in one.of)
        if given != 1:
            yield (one.of[-1], one.many) if given else (one.of[0], one.none)


def described(fields: Mapping, needs: Iterable[Demand], answers: Iterable[OneAnswer], lots: Mapping | None) -> dict:
    """All of it as data for a device. `lots`: what a typed lot number means, see `TaskForm.known_lots`."""
    return {
        "fields": {name: _kind(field) for name, field in fields.items() if not field.widget.is_hidden},
        "needs": [
            {"field": n.field, "message": n.message, "unless": n.unless, "when": [_plain(case) for case in n.when]}
            for n in needs
        ],
        "answers": [asdict(one) for one in answers],
        "lots": lots,
    }


def _plain(case: Case) -> dict:
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
