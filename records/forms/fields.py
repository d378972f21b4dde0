"""Field kinds of the entry forms: every message says what is wrong, why, and the way out."""

from __future__ import annotations

from decimal import Decimal

from django import forms
from django.utils.html import format_html, format_html_join

from records.writing import preferences
from records.writing.measures import NotConvertible, convert

MISSING = "This is missing. Fill it in, the record needs it."


class Day(forms.DateField):
    """A calendar day, as the clinic's calendar has it."""

    def __init__(self, label, *, required=True, **kwargs):
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        messages = {
            "required": "The day is missing. Say on which day it was.",
            "invalid": "That is not a day of the calendar. Write year-month-day, such as 2026-03-31.",
        }
        super().__init__(label=label, required=required, error_messages=messages, **kwargs)

    def strptime(self, value, format):
        """One way of reading for all that is typed: 03/04/2026 only where its order was chosen."""
        return preferences.read_day(value)


class TimeOfDay(forms.TimeField):
    """A time of day in the clinic's time zone; blank when it is not known."""

    optional_word = "if known"

    def __init__(self, label, **kwargs):
        messages = {"invalid": "That is not a time of day. Write hours:minutes, such as 14:30."}
        widget = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
        super().__init__(label=label, required=False, widget=widget, error_messages=messages, **kwargs)


class Number(forms.DecimalField):
    """A decimal number, with a point. Typed as text, so that a slip is shown and not swallowed."""

    NOT_ONE = (
        "“%s” is not a number. Write digits with a point for decimals, such as 134.2, and the unit of measure in its "
        "own field."
    )

    def __init__(self, label, *, places=1, digits=12, required=False, **kwargs):
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 8})
        super().__init__(
            label=label, required=required, max_digits=digits, decimal_places=places, widget=widget,
            error_messages={"required": MISSING}, **kwargs,
        )  # fmt: skip

    def to_python(self, value) -> Decimal | None:
        try:
            return super().to_python(value)
        except forms.ValidationError:
            raise forms.ValidationError(self.NOT_ONE.replace("%s", str(value))) from None


class Typed(str):
    """What was typed, with the unit of measure that stood beside the field."""

    unit = ""


class MeasuredInput(forms.TextInput):
    """A number with its unit beside it. The unit is sent along, so that a choice made meanwhile changes nothing."""

    def __init__(self, base: str):
        super().__init__({"inputmode": "decimal", "autocomplete": "off", "size": 8})
        self.base = base

    def value_from_datadict(self, data, files, name):
        typed = super().value_from_datadict(data, files, name)
        if typed is None:
            return None
        found = Typed(typed)
        found.unit = data.get(f"{name}_in") or self.base
        return found

    def format_value(self, value):
        return None if value in (None, "") else str(value)

    def render(self, name, value, attrs=None, renderer=None):
        unit = getattr(value, "unit", "") or preferences.current().unit_for(self.base)
        at = f"{(attrs or {}).get('id', name)}_in"
        described = " ".join(part for part in ((attrs or {}).get("aria-describedby", ""), at) if part)
        field = super().render(name, value, {**(attrs or {}), "aria-describedby": described}, renderer)
        # The name of the hidden input is made of the field's own.
        sent = format_html('<input type="hidden" name="{}_in" value="{}">', name, unit)
        return format_html('<span class="measure">{}<span id="{}">{}</span>{}</span>', field, at, unit, sent)


class Measured(Number):
    """A number in a unit that the clinic chooses, kept in `base`: typed in °F, it is recorded in °C.

    Without a unit in what was sent it is one in `base`.
    """

    def __init__(self, label, base: str, *, places=1, **kwargs):
        super().__init__(label, places=places, **kwargs)
        self.base, self.places = base, places
        self.widget = MeasuredInput(base)
        self.widget.is_required = self.required

    def to_python(self, value) -> Decimal | None:
        number, unit = super().to_python(value), getattr(value, "unit", self.base)
        if number is None or unit == self.base:
            return number
        try:
            return convert(number, unit, self.base, self.places)
        except NotConvertible:
            raise forms.ValidationError(
                f"The number was sent in {unit}, which is not told in {self.base}. Open the form again."
            ) from None

    def prepare_value(self, value):
        """A recorded value, as the clinic writes it; what was typed stays as it was."""
        if not isinstance(value, Decimal):
            return value
        unit = preferences.current().unit_for(self.base)
        return value if unit == self.base else convert(value, self.base, unit)


class Whole(forms.IntegerField):
    """A whole number, not negative."""

    def __init__(self, label, *, required=False, largest=100_000_000, **kwargs):
        widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": 8})
        super().__init__(
            label=label, required=required, min_value=0, max_value=largest, widget=widget,
            error_messages={
                "required": MISSING,
                "invalid": "That is not a whole number. Write digits only, such as 24.",
            },
            **kwargs,
        )  # fmt: skip


class Line(forms.CharField):
    """A line of text."""

    def __init__(self, label, *, longest=120, required=False, **kwargs):
        kwargs.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off"}))
        super().__init__(
            label=label, required=required, max_length=longest, error_messages={"required": MISSING}, **kwargs
        )


class SuggestedInput(forms.TextInput):
    """A line that offers what was entered before; anything else may be typed."""

    offered: tuple[str, ...] = ()

    def render(self, name, value, attrs=None, renderer=None):
        if not self.offered:
            return super().render(name, value, attrs, renderer)
        at = f"{(attrs or {}).get('id', name)}_offered"
        field = super().render(name, value, {**(attrs or {}), "list": at}, renderer)
        options = format_html_join("", '<option value="{}"></option>', ((each,) for each in self.offered))
        return format_html('{}<datalist id="{}">{}</datalist>', field, at, options)


class Remembered(Line):
    """A line of text that offers what was entered before, see `offer`."""

    def __init__(self, label, **kwargs):
        super().__init__(label, widget=SuggestedInput({"autocomplete": "off"}), **kwargs)

    def offer(self, texts) -> None:
        """Offer these, each once, in their order."""
        self.widget.offered = tuple(dict.fromkeys(text for text in texts if text))


class Lines(Line):
    """A few sentences."""

    def __init__(self, label, *, longest=500, rows=2, **kwargs):
        super().__init__(label, longest=longest, widget=forms.Textarea(attrs={"rows": rows}), **kwargs)


def _pairs(choices):
    return [c if isinstance(c, tuple) else (c, c) for c in choices]


class Choice(forms.TypedChoiceField):
    """One of a few words. Nothing is chosen beforehand unless `initial` says so: a result is never prefilled."""

    def __init__(self, label, choices, *, required=True, blank="choose", **kwargs):
        super().__init__(
            label=label, required=required, choices=[("", f"— {blank} —"), *_pairs(choices)],
            error_messages={
                "required": "Nothing is chosen. Choose what was the case.",
                "invalid_choice": "“%(value)s” is not one of the answers. Choose one of the list.",
            },
            **kwargs,
        )  # fmt: skip


class OneOf(forms.TypedChoiceField):
    """One of the given rows, by its ref. Rows of other organisations are not among them and so not known."""

    def __init__(self, label, rows=(), *, required=True, blank="choose", unknown="", missing="", name=str, **kwargs):
        self.missing = missing or f"The {label.lower()} is missing. Choose one of the list."
        unknown = unknown or f"That {label.lower()} is not known here. Choose one of the list."
        self.blank, self.name = blank, name
        super().__init__(
            label=label, required=required, empty_value=None, coerce=self._row,
            error_messages={"required": self.missing, "invalid_choice": unknown}, **kwargs,
        )  # fmt: skip
        self.take(rows)

    def take(self, rows) -> None:
        """Offer these rows."""
        rows = list(rows)
        self.rows = {str(r.ref): r for r in rows}
        self.choices = [("", f"— {self.blank} —"), *((ref, self.name(r)) for ref, r in self.rows.items())]

    def __deepcopy__(self, memo):
        result = super().__deepcopy__(memo)
        result.coerce = result._row
        result.rows = self.rows
        return result

    def has_changed(self, initial, data):
        return str(self.prepare_value(initial) or "") != str(data or "")

    def _row(self, ref):
        return self.rows[str(ref)]

    def prepare_value(self, value):
        return str(value.ref) if hasattr(value, "ref") else value


class Tick(forms.BooleanField):
    """A tick box; unticked means no."""

    def __init__(self, label, **kwargs):
        super().__init__(label=label, required=False, **kwargs)


class Steps(forms.CharField):
    """Steps with what became of them, one a line: "unplugged: done"."""

    def __init__(self, label, **kwargs):
        super().__init__(label=label, required=False, widget=forms.Textarea(attrs={"rows": 6}), **kwargs)

    def prepare_value(self, value):
        return "\n".join(f"{what}: {done}" for what, done in value) if isinstance(value, list) else value

    def has_changed(self, initial, data):
        return self.to_python(data) != (initial or [])

    def to_python(self, value):
        lines = [line.strip() for line in (value or "").splitlines() if line.strip()]
        if any(":" not in line for line in lines):
            raise forms.ValidationError("Write each step on a line of its own, as “step: done” or “step: why not”.")
        return [[part.strip() for part in line.split(":", 1)] for line in lines]

    def run_validators(self, value):
        return None

    def validate(self, value):
        return None
