"""Pages of work that is owed: a fault that is reported, that one is settled, how one gets in at the clinic."""

from __future__ import annotations

from functools import partial

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse

from records import access, clock, forms, log
from records.models import FaultReport, SiteAccess

from .base import at_clinic, entry_page, one_or_404, safe_next, unit_or_404


def _unit_page(clinic, row) -> str:
    return reverse("unit", args=[clinic.slug, row.unit.ref])


@at_clinic()
def report_fault(request, ground, ref):
    """A fault of one unit, and whether the unit may be used meanwhile."""
    unit = unit_or_404(ground, ref)
    (said,) = access.as_corrected([unit])
    write = partial(log.report_fault, clinic=ground.clinic, unit=unit)
    context = {"about": f"{said.label}, {said.model}, serial {said.serial}"}
    title = "Report a fault"
    return entry_page(request, ground, forms.FaultForm, write, title=title, context=context, to=_unit_page)


@at_clinic()
def settle_fault(request, ground, ref):
    """A fault that needs no visit any more."""
    first = one_or_404(FaultReport.objects.origins().filter(clinic=ground.clinic), ref=ref)
    newest = one_or_404(FaultReport.objects.in_force().select_related("unit"), origin=first.origin)
    write = partial(log.settle_fault, clinic=ground.clinic, fault=newest)
    (unit,) = access.as_corrected([newest.unit])
    context = {"about": f"{unit.label}: {newest.what}"}
    title = "The fault is settled"
    return entry_page(request, ground, forms.FaultSettledForm, write, title=title, context=context, to=_unit_page)


@at_clinic()
def site_access(request, ground):
    """Contact, telephone, hours and getting in, written over by whoever may record at the clinic."""
    row = SiteAccess.objects.filter(clinic=ground.clinic).select_related("changed_by").first()
    known = {name: getattr(row, name) for name in forms.SiteAccessForm.base_fields} if row else None
    form = forms.SiteAccessForm(request.POST if request.method == "POST" else None, initial=known)
    if request.method == "POST" and form.is_valid():
        changed = form.cleaned_data | {"changed_by": request.user, "changed_at": clock.now()}
        SiteAccess.objects.update_or_create(clinic=ground.clinic, defaults=changed)
        messages.success(request, "Changed. The round, the day and the job sheets say it from now on.")
        return redirect(safe_next(request) or reverse("clinic", args=[ground.clinic.slug]))
    context = {"clinic": ground.clinic, "title": "Getting in", "form": form, "row": row, "back": safe_next(request)}
    return render(request, "records/site_access.html", context, status=422 if form.errors else 200)
