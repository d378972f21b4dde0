"""The list of standings over many clinics."""

from __future__ import annotations

from datetime import date

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html

from audit.binder.written_on_paper import days
from audit.judge.judgement import NextStep
from audit.judge.next_step import named
from audit.models import Standing
from audit.pages.written_on_screen import day, said, standing_slug


def _cell(label: str, **more) -> dict:
    """Attributes of a cell that names its column where the heading is out of sight."""
    return {"td": {"data-label": label, **more}}


class StandingTable(tables.Table):
    """One line a unit. `today` is the day from which days overdue are counted, `company` whose list it is."""

    word = tables.Column("May it be used?", order_by=("rank", "next_by", "clinic__name", "label"))
    label = tables.Column("Unit", attrs={"td": {"class": "unit-cell"}})
    clinic = tables.Column("Clinic", order_by=("clinic__name", "label"), attrs=_cell("Clinic"))
    short = tables.Column("Why, and what is next", orderable=False, empty_values=())
    next_due_on = tables.Column("Next due", empty_values=(), attrs=_cell("Next due", **{"class": "wide"}))
    open_items = tables.Column("Open items", attrs=_cell("Open items", **{"class": "number wide"}))

    class Meta:
        model = Standing
        fields = ("word", "label", "clinic", "short", "next_due_on", "open_items")
        order_by = ("word",)
        attrs = {"class": "table table--stack table--answers"}
        empty_text = "No unit fits these choices. Clear one of them to see more."

    def __init__(self, *args, today: date, company: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.today, self.company = today, company

    def render_label(self, record):
        address = reverse("unit", args=[record.clinic.slug, record.unit_ref])
        return format_html(
            '<a href="{}"><strong>{}</strong></a><br><span class="muted small">{}{}</span>',
            address,
            record.label,
            record.model,
            f", {record.room}" if record.room else "",
        )

    def render_clinic(self, record):
        return format_html('<a href="{}">{}</a>', reverse("clinic", args=[record.clinic.slug]), record.clinic.name)

    def render_word(self, record):
        slug = standing_slug(record.word)
        sign = render_to_string("audit/_sign.html", {"slug": slug})
        return format_html('<strong class="word word--{}">{}<span>{}</span></strong>', slug, sign, record.word)

    def render_short(self, record):
        step = NextStep(named(record.next_who, self.company), record.next_what, record.next_by, record.next_late)
        shown = render_to_string("audit/_next.html", {"step": step if step.what else None})
        return format_html("{}{}", said(record.short or record.reason), shown)

    def render_next_due_on(self, record):
        if record.next_due_on is None:
            return "nothing dated"
        late = (self.today - record.next_due_on).days
        note = f", {days(late)} ago" if late > 0 else ", today" if late == 0 else ""
        return format_html("{}{}<br>{}", day(record.next_due_on), note, record.next_due_title)
