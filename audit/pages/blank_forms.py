"""Forms on paper, to be printed before the power is out: a sheet for a day, a week or a service visit."""

from __future__ import annotations

from datetime import timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.pdf.page import SIZES
from audit.gather.kept_facts import kept_facts
from audit.issue.blank_forms import AHEAD, KINDS, NoUnit, print_sheets
from records.forms import EntryContext
from records.views.base import at_clinic

from .days import DayProblem, read_day, today_of
from .opened import opened

WORDS = {
    "day": "tests and checks of the day, a spore test, loads",
    "week": "each day of one week, the spore test, loads",
    "visit": "a service visit: due tasks, readings, parts and lots, tests before return to service",
}


@at_clinic("look")
@require_safe
def sheets_page(request, ground: EntryContext):
    """Which sheet, for which unit and day."""
    return _show(request, ground, "")


def _show(request, ground: EntryContext, problem: str):
    page = opened(request, ground)
    context = page.context() | {
        "kinds": [(kind, WORDS[kind]) for kind in KINDS],
        "units": page.facts.units,
        "asked": request.GET,
        "sizes": sorted(SIZES, reverse=True),
        "latest": page.today + timedelta(days=AHEAD),
        "sheet_problem": problem,
    }
    return render(request, "audit/sheets.html", context, status=400 if problem else 200)


@at_clinic("look")
@require_safe
def sheets_file(request, ground: EntryContext, kind: str):
    """The sheets as a PDF file: of `?unit=`, all units in use without it; for `?on=`, blank where it is empty."""
    clinic = ground.clinic
    if kind not in KINDS:
        raise Http404("No such sheet.")
    facts = kept_facts(clinic)
    today, unit = today_of(facts), request.GET.get("unit", "")
    page = request.GET.get("page", "letter")
    if (unit and unit not in {each.ref for each in facts.units}) or page not in SIZES:
        raise Http404("No such unit or size of paper.")
    try:
        asked = request.GET.get("on", "")
        on = read_day(asked, "the day of the sheet", latest=today + timedelta(days=AHEAD)) if asked else None
        printed = print_sheets(facts, kind, today=today, on=on, unit=unit, page=page)
    except (DayProblem, NoUnit) as problem:
        return _show(request, ground, str(problem))
    name = f"{kind}-sheets-{clinic.slug}-{on.isoformat() if on else 'undated'}.pdf"
    return HttpResponse(
        printed.body,
        content_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"},
    )
