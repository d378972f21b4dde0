"""Lists of the record."""

from __future__ import annotations

from datetime import timedelta

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join

from records.late import is_late
from records.ledger.entry_rows import rows_by_entry
from records.log import leaps
from records.models import Entry, Visit
from records.writing.preferences import day_text

# Below this the device and the server only took a moment to talk.
SENT_LATER = timedelta(minutes=5)


class EntryTable(tables.Table):
    """Entries of one ledger, newest first, with what each of them is about."""

    number = tables.Column("Entry", attrs={"td": {"class": "number"}, "th": {"class": "number"}})
    happened = tables.Column("Happened", empty_values=(), orderable=False)
    what = tables.Column("What", orderable=False)
    logged_at = tables.DateTimeColumn(verbose_name="Recorded", format="j M Y, H:i")
    logged_by = tables.Column("By", orderable=False)
    remarks = tables.Column("Remarks", empty_values=(), orderable=False)

    class Meta:
        model = Entry
        fields = ("number", "happened", "what", "logged_at", "logged_by", "remarks")
        attrs = {"class": "table table--stack table--log"}
        order_by = "-number"
        empty_text = "Nothing is recorded yet."

    def __init__(self, *args, clinic, **kwargs):
        super().__init__(*args, **kwargs)
        self.clinic, self.rows_of = clinic, {}
        for column in self.columns:
            # Each cell says what it is where the table is stacked on a narrow screen.
            attrs = dict(column.column.attrs)
            column.column.attrs = attrs | {"td": attrs.get("td", {}) | {"data-label": column.header}}

    def _first(self, entry):
        return (self.rows_of.get(entry.pk) or [None])[0]

    def render_happened(self, record):
        row = self._first(record)
        return said_day(row.happened_on) if row else "—"

    def render_what(self, record, value):
        row = self._first(record)
        if row is None:
            return value
        about = f": {row.unit}" if row.unit else ""
        return format_html('<a href="{}">{}{}</a>', _address(self.clinic, row), value, about)

    def render_logged_by(self, record, value):
        return f"{value}, {record.logged_for.name}" if record.logged_for else str(value)

    def render_remarks(self, record):
        said = []
        row = self._first(record)
        if record.paper:
            said.append(f"historic, from paper: {record.paper}")
        elif row is not None and not row.amends_id and is_late(row, record.written_at):
            said.append("recorded late")
        if not record.paper and record.logged_at - record.written_at > SENT_LATER:
            written = timezone.localtime(record.written_at)
            said.append(f"written on a device on {said_day(written)}, {written:%H:%M}, sent later")
        if record.clock_off is not None:
            said.append(f"the clock of the server was {leaps.words(record.clock_off)} what it should have said")
        if row is not None and row.amends_id:
            said.append(f"correction: {row.amend_reason}")
        if row is not None and row._meta.model_name == "voiding":
            said.append(f"entered in error: {row.said}")
        return format_html_join("; ", "{}", ((s,) for s in said))


def said_day(day) -> str:
    """A day as people write it: 4 Mar 2026, or as whoever looks chose."""
    return day_text(day)


def _address(clinic, row) -> str:
    if row.model is Visit:
        return reverse("visit", args=[clinic.slug, row.origin])
    return reverse("record", args=[clinic.slug, row._meta.model_name, row.origin])


def with_rows(table: EntryTable) -> None:
    """Say what the entries on this page of the table are about; one query."""
    table.rows_of = rows_by_entry(row.record.pk for row in table.page.object_list)
