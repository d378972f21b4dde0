"""The report of a visit as a file for the clinic."""

from __future__ import annotations

from dataclasses import replace

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from audit.binder.pdf.page import SIZES
from audit.binder.pdf.photos import for_paper
from audit.binder.pdf.report import render_report
from audit.binder.report import ShownPhoto, visit_report
from audit.binder.scope import scope
from records.files import blobs
from records.forms import EntryContext
from records.models import BioTest, ChemicalResult, Visit
from records.views.base import at_clinic
from records.views.visit_photos import photos_of

from ..opened import opened


@at_clinic("look")
@require_safe
def visit_report_file(request, ground: EntryContext, ref):
    """The jobs of one visit as they stand on record today, with its photos; `?page=` letter or a4."""
    page = opened(request, ground)
    row = get_object_or_404(Visit, ref=ref, clinic=page.clinic)
    origin, size = str(row.origin), request.GET.get("page", "letter")
    units = tuple(u for u in page.facts.units if any(job.visit == origin for job in u.jobs))
    if not units or size not in SIZES:
        raise Http404("No such report, or no such size of paper.")
    on = next(job.row.happened_on for unit in units for job in unit.jobs if job.visit == origin)
    asked = scope(replace(page.facts, units=units), page.judgement, on, on)
    shown, pictures = _photos(page.clinic, row)
    body = render_report(visit_report(asked, origin, shown, _tests(row)), pictures, page_size=size)
    name = f"service-report-{page.clinic.slug}-{on.isoformat()}-{str(row.origin)[:8]}.pdf"
    headers = {"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"}
    return HttpResponse(body, content_type="application/pdf", headers=headers)


def _tests(visit) -> set[str]:
    """The origins of the spore tests and chemical indicators that were recorded in one entry with the visit."""
    entry = visit.origin_row().entry_id
    found = (model.objects.filter(entry=entry, amends=None) for model in (BioTest, ChemicalResult))
    return {str(origin) for rows in found for origin in rows.values_list("origin", flat=True)}


def _photos(clinic, visit) -> tuple[list[ShownPhoto], dict]:
    """The photos for the report, and by key their pixels; without pixels where the file is lost or damaged."""
    shown, pictures = [], {}
    for n, photo in enumerate(photos_of(visit).select_related("unit"), start=1):
        key, pixels = f"Photo{n}", None
        try:
            pictures[key] = for_paper(blobs.read(clinic, photo.sha256))
            pixels = pictures[key][1]
        except (OSError, ValueError):
            pictures.pop(key, None)
        shown.append(ShownPhoto(str(photo.unit.ref), key, pixels, photo.caption))
    return shown, pictures
