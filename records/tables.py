"""Lists of the record."""

from __future__ import annotations

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html, format_html_join

from records.late import is_late
from records.models import Entry, Visit, fact_models


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
        attrs = {"class": "table table--stack"}
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
        about = f": {row.unit.label}" if getattr(row, "unit_id", None) else ""
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
        if row is not None and row.amends_id:
            said.append(f"correction: {row.amend_reason}")
        if row is not None and row._meta.model_name == "voiding":
            said.append(f"entered in error: {row.reason}")
        return format_html_join("; ", "{}", ((s,) for s in said))


def said_day(day) -> str:
    """A day as people write it: 4 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def _address(clinic, row) -> str:
    if isinstance(row, Visit):
        return reverse("visit", args=[clinic.slug, row.origin])
    return reverse("record", args=[clinic.slug, row._meta.model_name, row.origin])


def with_rows(table: EntryTable) -> None:
    """Fetch the facts of the entries on this page of the table: one query a kind of fact."""
    entries = [row.record.pk for row in table.page.object_list]
    found: dict[int, list] = {}
    for model in fact_models():
        rows = model.objects.filter(entry__in=entries)
        if any(f.name == "unit" for f in model._meta.concrete_fields):
            rows = rows.select_related("unit")
        for row in rows:
            found.setdefault(row.entry_id, []).append(row)
    table.rows_of = {entry: sorted(rows, key=lambda r: r.line) for entry, rows in found.items()}
