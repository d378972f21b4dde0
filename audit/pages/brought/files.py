"""A table is chosen; those on their way and those recorded of late are listed."""

from __future__ import annotations

from pathlib import PurePath

from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from audit.issue.jobs import tables
from audit.models import BroughtTable
from records import log
from records.brought.kinds import KINDS
from records.brought.mapping import best_sheet
from records.doors import often
from records.files import apart, table_file
from records.views.base import at_clinic
from records.views.room import room_at

SHOWN = 20


@often.at_most(60, "tables")
@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def tables_in(request, ground):
    """Choose a file; then its columns are named."""
    problem = ""
    if request.method == "POST":
        try:
            table = _taken_in(request, ground)
        except (table_file.Unreadable, log.Refused) as refused:
            problem = refused.problems[0].message if isinstance(refused, log.Refused) else str(refused)
        else:
            return redirect("table-columns", slug=ground.clinic.slug, ref=table.ref)
    own = BroughtTable.objects.filter(clinic=ground.clinic).defer("cells", "picture", "found")
    context = {
        "clinic": ground.clinic,
        "kinds": KINDS.values(),
        "kind": request.POST.get("kind", ""),
        "problem": problem,
        "largest": table_file.LARGEST_BYTES // 1024 // 1024,
        "tables": [
            (table, KINDS[table.kind].title) for table in own.select_related("account").order_by("-pk")[:SHOWN]
        ],
    }
    return render(request, "audit/brought/files.html", context, status=422 if problem else 200)


def _taken_in(request, ground) -> BroughtTable:
    """The table that was sent, read. Raises Unreadable and Refused."""
    kind, file = KINDS.get(request.POST.get("kind", "")), request.FILES.get("file")
    if kind is None:
        raise table_file.Unreadable("What do the rows hold? Choose one of the kinds.")
    if file is None:
        raise table_file.Unreadable("No file was chosen. Choose the CSV or XLSX file with the rows.")
    if file.size > table_file.LARGEST_BYTES:
        raise table_file.Unreadable(table_file.TOO_LARGE)
    content, name = file.read(), PurePath(file.name.replace("\\", "/")).name
    packed = apart.table_read(content, name)
    with room_at("file", ground, content):
        sheets = table_file.unpacked(packed)
        rows = max(len(sheet.rows) for sheet in sheets)
        table = tables.take_in(ground.clinic, request.user, kind.code, name, packed, rows)
    table.mapping = tables.proposal(table, best_sheet(kind, sheets)).to_json()
    table.save(update_fields=["mapping"])
    return table
