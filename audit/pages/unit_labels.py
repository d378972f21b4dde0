"""Labels for units, printed as sheets: which units, how many places of the first sheet are used already."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.pdf.page import SIZES
from audit.issue.unit_labels import PER_SHEET, print_labels
from records.views.base import at_clinic


@at_clinic("look")
@require_safe
def labels_page(request, ground):
    """All units of the clinic with a tick each."""
    return _show(request, ground, "")


def _show(request, ground, problem: str):
    asked = set(request.GET.getlist("unit"))
    context = {
        "clinic": ground.clinic,
        "units": [(u, not problem or str(u.origin) in asked) for u in ground.units()],
        "skip": request.GET.get("skip", "0"),
        "page": request.GET.get("page", "letter"),
        "sizes": sorted(SIZES, reverse=True),
        "most": PER_SHEET - 1,
        "label_problem": problem,
    }
    return render(request, "audit/labels.html", context, status=400 if problem else 200)


@at_clinic("look")
@require_safe
def labels_file(request, ground):
    """The sheets as a PDF file, for every `?unit=` in the order of the clinic's page."""
    asked = request.GET.getlist("unit")
    units = {str(u.origin): u for u in ground.units()}
    page = request.GET.get("page", "letter")
    if set(asked) - set(units) or page not in SIZES:
        raise Http404("No such unit or size of paper.")
    chosen = [unit for ref, unit in units.items() if ref in asked]
    if not chosen:
        return _show(request, ground, "No unit is chosen. Tick the units that want a label.")
    skip = request.GET.get("skip", "").strip() or "0"
    if not skip.isdecimal() or int(skip) >= PER_SHEET:
        most = PER_SHEET - 1
        return _show(request, ground, f"“{skip}” is no number of used places. Give a number from 0 to {most}.")
    site = request.build_absolute_uri("/")
    body, _ = print_labels(ground.clinic, chosen, site, ground.today, skip=int(skip), page=page)
    return HttpResponse(
        body,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="unit-labels-{ground.clinic.slug}.pdf"',
            "Cache-Control": "private, no-store",
        },
    )
