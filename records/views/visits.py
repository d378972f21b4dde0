"""Logging a visit, and a visit as a report."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe

from records import access, forms, log
from records.models import Job
from records.views.visit_photos import photos_of

from .base import at_clinic, attempt, safe_next, start_values
from .fact_in_words import voiding_of
from .own import line_or_404, visible_rows
from .report import visit_report


def _chosen(request, ground) -> list:
    """The units asked for, in that order; 404 when one is not the clinic's."""
    asked = request.POST.getlist("units") or request.GET.getlist("units") or request.GET.getlist("unit")
    here = {str(u.ref): u for u in access.units_of_clinic(ground.clinic)}
    unknown = [ref for ref in asked if ref not in here]
    if unknown:
        raise Http404("no such unit here")
    return [here[ref] for ref in dict.fromkeys(asked)]


@at_clinic("visit")
def log_visit(request, ground):
    units = _chosen(request, ground)
    if not units:
        return _choose_units(request, ground)
    title, status = "Log a visit", 200
    page = forms.VisitForms(None, ground=ground, units=units, initial=start_values(request))
    if request.method == "POST" and request.POST.get("more"):
        data = forms.with_more_rows(request.POST, request.POST["more"])
        page = forms.VisitForms(data, ground=ground, units=units)
        page.quiet()
    elif request.method == "POST":
        page = forms.VisitForms(request.POST, ground=ground, units=units)
        response = _record(request, ground, page, title)
        if response:
            return response
        status = 422
    context = {"clinic": ground.clinic, "title": title, "page": page, "form": page, "units": units}
    return render(request, "records/log_visit.html", context, status=status)


def _record(request, ground, page, title):
    if not page.is_valid():
        return None
    key = page.cleaned_data["request_key"]
    common = {"by": request.user, "request_key": key, "clinic": ground.clinic}
    return attempt(request, ground, page, lambda: log.log_visit(**common, **page.values()), title=title, key=key)


def _choose_units(request, ground):
    asked = "chosen" in request.GET or request.method == "POST"
    context = {"clinic": ground.clinic, "title": "Log a visit", "units": ground.units()}
    context |= {"nothing_chosen": asked, "back": safe_next(request)}
    return render(request, "records/choose_units.html", context, status=422 if asked else 200)


@at_clinic("own")
@require_safe
def visit(request, ground, ref):
    """The whole visit as a report: the fields of a servicing record, 21 CFR 820.35(b) (2026)."""
    versions = line_or_404(ground, "visit", ref)
    newest, origin = versions[-1], versions[0]
    voiding = voiding_of(origin)
    every = Job.objects.filter(visit=origin).select_related("unit__amended_by", "worked_by").order_by("id")
    jobs = list(every.in_force()) or (list(every.newest()) if voiding else [])
    reports, end, photos = visit_report(origin, jobs, visible_rows(ground, photos_of(origin)))
    context = {
        "clinic": ground.clinic, "visit": newest, "end": end, "voiding": voiding,
        "jobs": reports, "corrected": len(versions) > 1,
        "photos": photos, "file": ground.rights is not None and bool(jobs),
    }  # fmt: skip
    return render(request, "records/visit.html", context)
