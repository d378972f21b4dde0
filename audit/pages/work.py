"""Work to be done: all that is owed by clinic and week, and giving it to a person with a day and an hour."""

from __future__ import annotations

from datetime import date

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.urls import reverse

from audit.planning.round import WorkItem, plan_round
from records import access
from records.forms.fields import Day, Line, OneOf
from records.views.base import company_or_404

from .getting_in import getting_in_of
from .planned import by_item, give, people_of, stops_of
from .round_read import read_works

OPEN = "open"  # only what nobody has been given yet


class GiveForm(forms.Form):
    """Who does it, on which day, at what time."""

    use_required_attribute = False

    given_to = OneOf("Give to", required=False, blank="nobody yet", name=lambda each: each.full_name)
    on = Day("On")
    hour = Line("At", longest=60)

    def __init__(self, *args, people, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["given_to"].take(people)


@login_required
def work_page(request, slug: str):
    """What is owed, the most urgent first; a POST of one clinic's form gives what is ticked."""
    company = company_or_404(request.user, slug)
    clinics = list(access.clinics_of_company(company))
    read = read_works(clinics)
    stops = stops_of(company, read.works, clinics=clinics)
    may_plan = access.may_visit_for(request.user, company)
    people = people_of(company) if may_plan else []
    asked = next((c for c in clinics if c.slug == request.POST.get("clinic", "")), None)
    form, ticked, problem = None, [], ""
    if request.method == "POST":
        if not may_plan:
            raise PermissionDenied("Only technicians and dispatchers of the company plan its work.")
        form = GiveForm(request.POST, people=people, auto_id=f"{asked.slug if asked else 'x'}-%s")
        ticked = request.POST.getlist("item")
        owed = {_key(i): i for w in read.works if asked and w.clinic == asked.slug for i in w.items}
        items = [owed[each] for each in ticked if each in owed]
        problem = _problem(asked, items, ticked, by_item(stops))
        if form.is_valid() and not problem:
            stop = give(company, asked, items, by=request.user, **form.cleaned_data)
            messages.success(request, f"{len(items)} given to {_name(stop.given_to)} for {stop.on:%Y-%m-%d}.")
            return redirect(f"{reverse('work', args=[company.slug])}#c-{asked.slug}")
    context = _context(company, clinics, read, stops, people, request.GET.get("show", ""))
    context |= {"may_plan": may_plan, "form": form, "ticked": ticked, "problem": problem, "asked": asked}
    return render(request, "audit/work.html", context, status=422 if form is not None else 200)


def _key(item: WorkItem) -> str:
    return f"{item.unit}|{item.id}"


def _name(account) -> str:
    return account.full_name if account else "nobody yet"


def _problem(clinic, items: list[WorkItem], ticked: list[str], standing: dict) -> str:
    if clinic is None:
        return "That clinic is not served by this company today. Open the list again."
    if not ticked:
        return "Nothing is ticked. Tick what is given, then give it."
    if len(items) < len(ticked):
        return "Some of what was ticked is not owed any more. Tick what is left, and give it again."
    for item in items:
        stop = standing.get(item.key)
        if stop is not None and stop.agreed is not None:
            return (
                f"{item.title} stands on the visit of {stop.row.on:%Y-%m-%d}, which is agreed with the clinic. Open "
                "that stop and move it or call it off: then it is on record who told whom."
            )
    return ""


def _context(company, clinics, read, stops, people, show: str) -> dict:
    standing = by_item(stops)
    works = read.works
    made = plan_round(works, read.today, window=0)
    insides = getting_in_of(clinics)
    weeks = []
    for week in made.weeks:
        shown = [_stop(stop, standing, insides, show) for stop in week.stops]
        if shown := [each for each in shown if each["lines"]]:
            weeks.append({"week": week, "stops": shown})
    return {
        "company": company, "clinics": clinics, "weeks": weeks, "people": people, "today": read.today,
        "show": show, "waiting": read.waiting, "waiting_named": read.waiting[:5], "read": len(works),
        "waiting_count": len(read.waiting), "waiting_more": max(0, len(read.waiting) - 5), "query": "",
        "days": _days(stops, read.today),
    }  # fmt: skip


def _stop(stop, standing: dict, insides: dict, show: str) -> dict:
    lines = [
        {"item": item, "key": _key(item), "stop": standing.get(item.key), "fault": _fault(item)}
        for item in stop.due
        if show != OPEN or item.key not in standing
    ]
    return {"clinic": stop.clinic, "name": stop.name, "lines": lines, "inside": insides.get(stop.clinic)}


def _fault(item: WorkItem) -> str:
    kind, _, ref = item.id.partition(":")
    return ref if kind == "fault" else ""


def _days(stops, today: date) -> list[tuple[date, list[str]]]:
    """The days to come with stops, each with whose they are."""
    days: dict[date, dict[str, None]] = {}
    for stop in stops:
        if stop.row.on >= today:
            days.setdefault(stop.row.on, {})[_name(stop.row.given_to)] = None
    return [(day, list(names)) for day, names in days.items()]
