"""The form that corrects a fact, made from the fields that a correction may change; and "entered in error"."""

from __future__ import annotations

from django import forms
from django.db import models

from records.log import changes
from records.log.withdrawals import open_withdrawals
from records.models import IndicatorLot, PartLot, PlanLine, Position, UnitEvent

from .base import EntryForm, marked, plan_lines_of, positions_of
from .fields import Lines, OneOf, Steps


class Reasoned(EntryForm):
    """About one version of a row: `version` is the ref of the one that was looked at."""

    version = forms.UUIDField(widget=forms.HiddenInput)
    # The writer says that the reason is missing, in the words of its case.
    reason = Lines("Why", rows=3)
    reason.optional_word = "needed"

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.order_fields([n for n in self.fields if n != "reason"] + ["reason"])


class VoidForm(Reasoned):
    legend = "It did not happen. It stays visible with your reason, and judgement leaves it out."


class CorrectionForm(Reasoned):
    """`row` is the version that is corrected. A field named reason in the row is shown as `row_reason`."""

    legend = "Put right what was wrong. The earlier version stays visible beside this one, with your reason."
    confirmable = True

    def __init__(self, *args, row, ground, initial=None, **kwargs):
        self.row = row
        self.names: dict[str, str] = {}
        start = dict(initial or {})
        fields = {}
        for field in changes.changeable(row):
            made = _form_field(field, row, ground)
            if made is None:
                continue
            name = f"row_{field.name}"
            self.names[name] = field.name
            fields[name] = made
            start[name] = _shown(field, row)
        super().__init__(*args, ground=ground, initial=start, **kwargs)
        self.fields = {**self.fields, **fields}
        self.order_fields([n for n in self.fields if n != "reason"] + ["reason"])

    def changes(self) -> dict:
        """What differs from the version that is corrected, in the model's names."""
        changed = set(self.changed_data)
        return {self.names[n]: self.cleaned_data[n] for n in self.names if n in changed}

    def take(self, problems) -> None:
        for problem in problems:
            name = f"row_{problem.field}"
            at = problem.field if problem.field == "reason" or name not in self.fields else name
            self.refuse(at, problem.message, problem.confirm)


def _shown(field, row):
    if not field.is_relation:
        return getattr(row, field.name)
    target = getattr(row, field.name)
    return str(target.origin) if target is not None else ""


def _form_field(field, row, ground):
    label = field.verbose_name[:1].upper() + field.verbose_name[1:]
    if field.is_relation:
        rows = _choices(field, row, ground)
        name = marked if field.related_model is PartLot else str
        return None if rows is None else OneOf(label, rows, required=not field.null, blank="none", name=name)
    if isinstance(field, models.UUIDField) or field.name == "kind" and field.model._meta.model_name == "voiding":
        return None
    if isinstance(field, models.JSONField):
        return Steps(label, help_text="One step a line: “step: done” or “step: why not”.")
    made = field.formfield()
    made.label = label
    _dress(made)
    return made


def _dress(made) -> None:
    if isinstance(made, forms.DateTimeField):
        attrs = {"type": "datetime-local", "step": "1"}
        made.widget = forms.DateTimeInput(format="%Y-%m-%dT%H:%M:%S", attrs=attrs)
    elif isinstance(made, forms.DateField):
        made.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    elif isinstance(made, forms.DecimalField):
        made.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    elif isinstance(made, forms.IntegerField):
        made.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


def _choices(field, row, ground):
    """The rows that a correction may point to; None when the pointer is not corrected here."""
    kind = field.related_model
    if kind is IndicatorLot:
        chemical = row._meta.model_name in ("chemicalresult", "airremovaltest")
        return _with_own(ground.indicator_lots("chemical" if chemical else "biological"), field, row)
    if kind is Position:
        return _with_own(positions_of(row.unit), field, row)
    if kind is PlanLine:
        return _with_own(plan_lines_of(row.unit, ground.today), field, row)
    if kind is UnitEvent:
        return _with_own(open_withdrawals(row.unit, ground.today), field, row)
    if kind is PartLot:
        return _with_own(ground.part_lots(), field, row)
    return None


def _with_own(rows: list, field, row) -> list:
    """What stands now is always among the choices, also when it would not be offered any more."""
    own = getattr(row, field.name)
    return rows if own is None or own in rows else [own.origin_row(), *rows]
