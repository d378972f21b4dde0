"""What became of a table: how far it is, what speaks against which rows and the way out, and what was recorded."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from audit.issue.jobs import tables, workers
from audit.issue.jobs.aside import csv_of_aside
from audit.models import BroughtTable
from records import clock
from records.brought.kinds import KINDS
from records.brought.record import MOST_TOLD
from records.forms import CONFIRMED_WORDS
from records.models import Entry
from records.views.base import at_clinic
from records.writing.preferences import day_text, read_day

REFRESH_SECONDS = 2
PATIENCE_SECONDS = 20
ROWS_NAMED = 12
GROUPS = 60
State = BroughtTable.State


@dataclass(slots=True)
class FaultGroup:
    """Rows of which the same is to be said: where, what, and how it is confirmed where that is the way out."""

    where: str
    message: str
    confirm: str
    rows: list[tuple[int, str]]  # row and what stands there

    @property
    def named(self) -> list[tuple[int, str]]:
        return self.rows[:ROWS_NAMED]

    @property
    def more(self) -> int:
        return len(self.rows) - len(self.named)

    @property
    def words(self) -> str:
        return CONFIRMED_WORDS.get(self.confirm, "")


@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def table_in(request, ground, ref):
    """A POST looks once more (`again`), sets wrong rows aside (`aside`), records (`record`), or puts it `away`."""
    table = get_object_or_404(BroughtTable.objects.select_related("account"), clinic=ground.clinic, ref=ref)
    here = {"slug": ground.clinic.slug, "ref": ref}
    if table.state == State.MAPPING:
        return redirect("table-columns", **here)
    problem = ""
    if request.method == "POST":
        if "away" in request.POST and table.state not in (State.RUNNING, State.DONE):
            table.delete()
            return redirect("tables-in", slug=ground.clinic.slug)
        problem = _wanted(request, table)
        if not problem:
            workers.call_for_table(table)
            return redirect("table-in", **here)
    workers.call_for_table(table)
    table.refresh_from_db()
    context = _shown(request, ground, table) | {"problem": problem}
    return render(request, "audit/brought/table.html", context, status=422 if problem else 200)


def _wanted(request, table: BroughtTable) -> str:
    """Do what was asked for; what speaks against it, "" for nothing."""
    found, ticked = table.found, [c for c in request.POST.getlist("confirmed") if c in CONFIRMED_WORDS]
    if table.state not in (State.JUDGED, State.FAILED):
        return "The rows are being looked through. Wait until that is done."
    table.account = request.user
    if "record" in request.POST:
        if table.state != State.JUDGED or found.get("wrong"):
            return "Some rows have a fault that stands. Put it right, or set these rows aside; then record the rest."
        if not found.get("right"):
            return "There is nothing to record: no row is new."
        tables.want(table, "record")
        return ""
    if "aside" in request.POST:
        table.aside = table.aside | {str(row): why for row, why in tables.why_wrong(found).items()}
    elif "back" in request.POST:
        table.aside = {}
    table.confirmed = list(dict.fromkeys(ticked))
    tables.want(table, "judge")
    return ""


def _shown(request, ground, table: BroughtTable) -> dict:
    over = table.state in (State.JUDGED, State.DONE, State.FAILED)
    found, still = table.found, request.GET.get("still") == "1"
    groups = groups_of(found.get("faults", ()))
    names = sorted(found.get("names", {}).items(), key=lambda each: (-each[1], each[0]))
    entries = Entry.objects.filter(ledger__organisation=ground.clinic.pk, number__in=table.entries).order_by("number")
    waited = (clock.now() - table.asked_at).total_seconds() > PATIENCE_SECONDS
    return {
        "clinic": ground.clinic,
        "table": table,
        "kind": KINDS[table.kind],
        "found": found,
        "over": over,
        "groups": groups[:GROUPS],
        "groups_more": max(0, len(groups) - GROUPS),
        "most_told": MOST_TOLD if len(found.get("faults", ())) >= MOST_TOLD else 0,
        "wrong": len(found.get("wrong", ())),
        "names": names[:30],
        "missing": sorted({(f["missing"], f["said"]) for f in found.get("faults", ()) if f["missing"]})[:20],
        "ticked": [(code, CONFIRMED_WORDS[code]) for code in table.confirmed if code in CONFIRMED_WORDS],
        "days": [day_text(read_day(found[name])) for name in ("first", "last") if found.get(name)],
        "entries": list(entries),
        "still": still,
        "refresh": REFRESH_SECONDS if not over and not still else 0,
        "nobody": not over and waited and tables.waits(table),
    }


def groups_of(faults) -> list[FaultGroup]:
    """Faults of which the same is said in the same column, together; those that can be confirmed last."""
    groups: dict[tuple, FaultGroup] = {}
    for fault in faults:
        where = ", ".join(
            part for part in (f"column {fault['column']}" if fault["column"] else "", fault["head"]) if part
        )
        same = fault["confirm"] or fault["message"]
        group = groups.setdefault((where, same), FaultGroup(where, fault["message"], fault["confirm"], []))
        group.rows.append((fault["row"], fault["said"]))
    return sorted(groups.values(), key=lambda group: bool(group.confirm))


@at_clinic("log")
@require_safe
def table_aside(request, ground, ref):
    """The rows that are wrong or were set aside, as a file to be mended and brought in."""
    table = get_object_or_404(BroughtTable, clinic=ground.clinic, ref=ref)
    answer = HttpResponse(csv_of_aside(table), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="set-aside-{ground.clinic.slug}-{table.kind}.csv"'
    answer["Cache-Control"] = "private, no-store"
    return answer
