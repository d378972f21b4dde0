"""A day's stops in their order, and one stop: who goes, on which day, in which order."""

from __future__ import annotations

from datetime import date, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from audit.models import PlannedStop
from records import access, clock
from records.log import may_be_logged
from records.views.base import company_or_404

from .getting_in import getting_in_of
from .planned import change, move, people_of, stops_of
from .round_read import read_works
from .work import GiveForm


def _may_plan(request, company) -> None:
    if not access.may_visit_for(request.user, company):
        raise PermissionDenied("Only technicians and dispatchers of the company plan its work.")


def _day_of(request, today: date) -> tuple[date, str]:
    asked = request.GET.get("on", "")
    try:
        return (date.fromisoformat(asked) if asked else today), ""
    except ValueError:
        return today, "That is not a day of the calendar, so today is shown. Write year-month-day."


@login_required
@require_safe
def stops_page(request, slug: str):
    """The stops of `?on=` (the company's today), of `?person=` (a log-in's ref) or of all, with how one gets in."""
    company = company_or_404(request.user, slug)
    zone = may_be_logged.zone_of(company)
    day, problem = _day_of(request, clock.today(zone))
    clinics = list(access.clinics_of_company(company))
    there = PlannedStop.objects.filter(company=company, on=day).values_list("clinic_id", flat=True)
    visited = [c for c in clinics if c.pk in set(there)]
    read = read_works(visited)
    people = people_of(company)
    person = next((each for each in people if str(each.ref) == request.GET.get("person", "")), None)
    stops = stops_of(company, read.works, on=day, clinics=visited)
    if person is not None:
        stops = [stop for stop in stops if stop.row.given_to_id == person.pk]
    insides = getting_in_of(visited)
    context = {
        "company": company, "day": day, "person": person, "people": people, "problem": problem,
        "stops": [{"stop": stop, "inside": insides[stop.row.clinic.slug]} for stop in stops],
        "may_plan": access.may_visit_for(request.user, company), 
        "before": day - timedelta(days=1), "after": day + timedelta(days=1), "zone": zone,
    }  # fmt: skip
    return render(request, "audit/stops.html", context, status=400 if problem else 200)


@login_required
@require_POST
def order_stop(request, slug: str, pk: int):
    """One stop up (`way` "up") or down among those of its person and day."""
    company = company_or_404(request.user, slug)
    _may_plan(request, company)
    stop = get_object_or_404(PlannedStop, company=company, pk=pk)
    move(stop, by=request.user, up=request.POST.get("way") == "up")
    person = {"person": stop.given_to.ref} if request.POST.get("person") else {}
    address = reverse("stops", args=[company.slug])
    return redirect(f"{address}?{urlencode({'on': stop.on.isoformat()} | person)}#s-{stop.pk}")


@login_required
def stop_page(request, slug: str, pk: int):
    """One stop: what is owed on it, how one gets in, who goes; given to somebody else, or taken off the plan."""
    company = company_or_404(request.user, slug)
    clinics = access.clinics_of_company(company)
    row = get_object_or_404(PlannedStop.objects.filter(clinic__in=clinics), company=company, pk=pk)
    may_plan = access.may_visit_for(request.user, company)
    people = people_of(company)
    form = GiveForm(people=people, initial={"given_to": row.given_to, "on": row.on, "hour": row.hour})
    problem = ""
    if request.method == "POST":
        _may_plan(request, company)
        form = GiveForm(request.POST, people=people)
        problem = _change_problem(request, row, form)
        if not problem and (request.POST.get("do") == "off" or form.is_valid()):
            return _changed(request, company, row, form)
    read = read_works([row.clinic])
    stored = PlannedStop.objects.get(pk=pk)
    every = stops_of(company, read.works, on=stored.on, clinics=[row.clinic])
    stop = next(each for each in every if each.row.pk == pk)
    context = {
        "company": company, "stop": stop, "inside": getting_in_of([row.clinic])[row.clinic.slug], "form": form,
        "may_plan": may_plan, "problem": problem, "zone": may_be_logged.zone_of(row.clinic),
    }  # fmt: skip
    return render(request, "audit/stop.html", context, status=422 if request.method == "POST" else 200)


def _change_problem(request, row: PlannedStop, form: GiveForm) -> str:
    """What was agreed with a clinic is not changed by a plan."""
    if row.agreed is None:
        return ""
    if request.POST.get("do") == "off":
        return "This visit is agreed with the clinic. Call it off: then it is on record why, and who was told."
    if form.is_valid() and (form.cleaned_data["on"] != row.on or form.cleaned_data["hour"] != row.hour):
        return "Day and time are agreed with the clinic. Move the visit: then it is on record why, and who was told."
    return ""


def _changed(request, company, row: PlannedStop, form: GiveForm):
    if request.POST.get("do") == "off":
        row.delete()
        messages.success(request, "Taken off the plan. What is owed stands in the list as before.")
        return redirect("work", company.slug)
    change(row, by=request.user, **form.cleaned_data)
    messages.success(request, "Changed. This is a plan: agree on it with the clinic next.")
    return redirect("stop", company.slug, row.pk)
