"""The units of a company's clinics as a file, as the list is filtered and sorted on the company's page."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe
from django_tables2 import RequestConfig

from audit.judge.next_step import named
from audit.models import Standing
from audit.pages.company import current_standings
from audit.pages.filters import StandingFilter
from audit.pages.table_files import KINDS, table_file
from audit.pages.tables import StandingTable
from audit.pages.written_on_screen import said
from records import access
from records.views.base import company_or_404

HEADS = (
    "clinic", "unit", "serial number", "model", "type", "room", "may it be used", "why", "since", "who is next",
    "what is next", "by", "next due on", "next due", "open items", "answer as of", "holds until",
)  # fmt: skip


@login_required
@require_safe
def company_units_file(request, slug: str, ending: str):
    """The rows of the list, all pages of it; a choice that cannot be read is said on the page."""
    if ending not in KINDS:
        raise Http404("no such file")
    company = company_or_404(request.user, slug)
    clinics = list(access.clinics_of_company(company))
    rows, today = current_standings(clinics)
    chosen = StandingFilter(request.GET, queryset=rows, clinics=clinics, today=today)
    if not chosen.form.is_valid():
        return redirect(f"{reverse('company', args=[company.slug])}?{request.GET.urlencode()}")
    table = StandingTable(chosen.qs.select_related("clinic"), today=today, company=company.name)
    RequestConfig(request, paginate=False).configure(table)
    cells = [_cells(row.record, company.name) for row in table.rows]
    return table_file(ending, f"units-{company.slug}-{today.isoformat()}", HEADS, cells)


def _cells(row: Standing, company: str) -> tuple:
    what = said(row.next_what) if row.next_what else ""
    return (
        row.clinic.name, row.label, row.serial, row.model, row.equipment_type, row.room, row.word,
        said(row.short or row.reason), row.since, named(row.next_who, company) if what else "", what, row.next_by,
        row.next_due_on, row.next_due_title, row.open_items, row.as_of, row.holds_until,
    )  # fmt: skip
