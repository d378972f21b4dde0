"""A stop is agreed with the clinic, moved or called off: a fact and the plan that follows it, in one transaction.

A form that is sent again is recorded once and changes the plan once. Who comes second, with a form of their own, is
told how the visit stands now.
"""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from audit.models import PlannedStop
from records import forms, log
from records.log.submission import answered
from records.models import VisitAgreed, VisitCalledOff
from records.views.base import at_clinic, entry_page

from .planned import change, stops_of
from .round_read import read_works


@at_clinic("visit")
def agree_stop(request, ground, pk):
    """The clinic agreed on the day: a fact, and the plan takes its day and time from it; a second one moves it.

    `instead_of` of the form names the agreement that it was opened on, so that what was agreed meanwhile is no
    mere move of it.
    """
    company = _company_or_404(ground)
    recorded = _recorded(request, VisitAgreed)
    row = PlannedStop.objects.filter(clinic=ground.clinic, company=company, pk=pk).first()
    if row is None and recorded is not None:
        messages.info(request, f"This was already recorded, as entry {recorded.entry.number}. {_now(recorded)}")
        return redirect("work", company.slug)
    if row is None:
        raise Http404("no such stop of your company here")
    standing = _agreement(row)
    seen = (
        request.POST.get("instead_of", "") if request.method == "POST" else str(standing.origin if standing else "")
    )
    earlier = VisitAgreed.objects.in_force().filter(clinic=ground.clinic, company=company, origin=_uuid(seen)).first()

    def written(**values):
        with transaction.atomic():
            stop = PlannedStop.objects.select_for_update().filter(pk=row.pk).first()
            if recorded is None:
                _refuse_if_other(stop, seen)
            about = recorded.about if recorded else _about(ground, row)
            fact = log.agree_visit(
                clinic=ground.clinic, company=company, about=about, instead_of=earlier, **values
            )  # fmt: skip
            if stop is not None and recorded is None:
                change(stop, by=request.user, on=fact.visit_on, hour=fact.hour, agreed=fact.origin)
            return fact

    title = "Move the visit" if seen else "Agreed with the clinic"
    initial = {"visit_on": row.on, "hour": row.hour, "instead_of": seen}
    return entry_page(
        request, ground, forms.VisitAgreedForm, written, title=title, initial=initial, moved=bool(seen),
        context={"about": f"{ground.clinic.name}, {row.on}"},
        to=lambda *_: reverse("stop", args=[company.slug, row.pk]),
    )  # fmt: skip


@at_clinic("visit")
def call_off_visit(request, ground, ref):
    """An agreed visit is called off: a fact; its stop leaves the plan and what is owed stays owed.

    The address names the agreement, which stays when the stop is gone: a second time says how it stands.
    """
    company = _company_or_404(ground)
    agreed = get_object_or_404(VisitAgreed.objects.in_force(), clinic=ground.clinic, company=company, origin=ref)
    if _recorded(request, VisitCalledOff) is None and (gone := _gone(agreed)):
        context = {"clinic": ground.clinic, "company": company, "agreed": agreed, **gone}
        return render(request, "audit/stop_gone.html", context, status=409 if request.method == "POST" else 200)

    def written(**values):
        with transaction.atomic():
            stops = PlannedStop.objects.select_for_update().filter(company=company, agreed=agreed.origin)
            held = [stop.pk for stop in stops]
            fact = log.call_off_visit(clinic=ground.clinic, agreed=agreed, **values)
            PlannedStop.objects.filter(pk__in=held).delete()
            return fact

    return entry_page(
        request, ground, forms.VisitCalledOffForm, written, title="Call the visit off",
        context={"about": f"{ground.clinic.name}, {agreed}"}, to=lambda *_: reverse("work", args=[company.slug]),
    )  # fmt: skip


def _company_or_404(ground):
    if ground.rights.company is None:
        raise Http404("a stop is of a company's people")
    return ground.rights.company


def _recorded(request, model):
    """What this very form recorded already, None where it is sent for the first time."""
    key = _uuid(request.POST.get("request_key", ""))
    if key is None or not answered(request.user, key):
        return None
    return model.objects.filter(entry__account=request.user, entry__request_key=key).select_related("entry").first()


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _agreement(row: PlannedStop) -> VisitAgreed | None:
    return VisitAgreed.objects.in_force().filter(origin=row.agreed).first() if row.agreed else None


def _refuse_if_other(stop: PlannedStop | None, seen: str) -> None:
    """Raises Refused where the stop left the plan, or stands on another agreement, since the form was opened."""
    if stop is None:
        raise log.Refused([log.Problem("", "This stop was taken off the plan meanwhile. Give the work anew first.")])
    if str(stop.agreed or "") == seen:
        return
    held = _agreement(stop)
    words = "was called off" if held is None else f"is agreed for {held.visit_on}"
    if held is not None:
        words += f"{f', {held.hour}' if held.hour else ''}, by {held.agreed_by} with {held.agreed_with}"
    raise log.Refused(
        [log.Problem("visit_on", f"Meanwhile this visit {words}. Open the stop again, and move the visit if that day "
                                 "does not hold.")]
    )  # fmt: skip


def _gone(agreed: VisitAgreed) -> dict:
    """What became of an agreement that no longer stands: `off` or `moved`; empty while it stands."""
    off = VisitCalledOff.objects.in_force().filter(agreed__origin=agreed.origin)
    moved = VisitAgreed.objects.in_force().filter(instead_of__origin=agreed.origin)
    off, moved = off.select_related("told_by", "told_to", "entry").first(), moved.first()
    return {name: row for name, row in (("off", off), ("moved", moved)) if row is not None}


def _now(agreed: VisitAgreed) -> str:
    """In words how the visit of a form that is sent again stands now."""
    gone = _gone(agreed)
    if "moved" in gone:
        return f"Since then it was moved to {gone['moved'].visit_on}."
    return (
        "Since then it was called off." if "off" in gone else "It stands, though no stop of the plan is left of it."
    )


def _about(ground, row: PlannedStop) -> str:
    stops = stops_of(row.company, read_works([ground.clinic]).works, on=row.on, clinics=[ground.clinic])
    items = next((stop.items for stop in stops if stop.row.pk == row.pk), [])
    return "; ".join(f"{item.label}: {item.title}" for item in items)[:1000]
