"""How the list of standings is narrowed: by word, month due, clinic, and words typed."""

from __future__ import annotations

from datetime import date

import django_filters
from django import forms
from django.db.models import Q

from audit.facts.dates import add_months, month_of
from audit.judge.judgement import Word
from audit.models import Standing
from records.models import Clinic
from records.models.units import EQUIPMENT_TYPES
from records.wording import MONTHS

MONTHS_AHEAD = 12
PAST = "past"


class StandingFilter(django_filters.FilterSet):
    """`clinics` are those that may be chosen; `today` is the day from which months ahead are offered."""

    q = django_filters.CharFilter(
        method="containing", label="Contains", widget=forms.TextInput(attrs={"type": "search"})
    )
    word = django_filters.ChoiceFilter(
        label="May it be used?", choices=[(w.value, w.value) for w in Word], empty_label="any answer"
    )
    due = django_filters.ChoiceFilter(method="falling_due", label="Next due", empty_label="any month")
    before = django_filters.DateFilter(
        field_name="next_due_on",
        lookup_expr="lte",
        label="Due on or before",
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    type = django_filters.ChoiceFilter(
        field_name="equipment_type",
        label="Type of sterilizer",
        choices=[(t, t) for t in EQUIPMENT_TYPES],
        empty_label="every type",
    )
    clinic = django_filters.ModelChoiceFilter(
        queryset=Clinic.objects.none(), to_field_name="slug", label="Clinic", empty_label="every clinic"
    )

    asks = django_filters.CharFilter(
        field_name="next_what", lookup_expr="exact", widget=forms.HiddenInput, label="What is next"
    )

    class Meta:
        model = Standing
        fields = ["q", "word", "due", "before", "type", "clinic", "asks"]

    def __init__(self, *args, clinics, today: date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today
        # As fields are made from these on first use, both must be set before `form` is read.
        self.filters["due"].extra["choices"] = month_choices(today)
        self.filters["clinic"].extra["queryset"] = Clinic.objects.filter(pk__in=[c.pk for c in clinics])

    def containing(self, rows, name, value):
        """Every word must occur somewhere in the row."""
        for word in value.split():
            rows = rows.filter(
                Q(label__icontains=word)
                | Q(serial__icontains=word)
                | Q(model__icontains=word)
                | Q(room__icontains=word)
                | Q(clinic__name__icontains=word)
            )
        return rows

    def falling_due(self, rows, name, value):
        if value == PAST:
            return rows.filter(next_due_on__lt=self.today)
        first, last = month_of(date.fromisoformat(f"{value}-01"))
        return rows.filter(next_due_on__range=(first, last))


def month_choices(today: date) -> list[tuple[str, str]]:
    """Before today, then this month and the months ahead."""
    months = [add_months(today.replace(day=1), n) for n in range(MONTHS_AHEAD + 1)]
    return [(PAST, "before today"), *((f"{m:%Y-%m}", f"{MONTHS[m.month - 1]} {m.year}") for m in months)]
