"""The job sheets of a whole day as one PDF file: each stop in its order, with address and telephone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.blank_forms import Forms, NoUnit, paper_forms
from audit.binder.pdf.blank_forms import render_several
from audit.binder.pdf.page import SIZES
from audit.gather.kept_facts import kept_of
from audit.issue.blank_forms import AHEAD
from audit.judge.evaluate import evaluate
from audit.models import PlannedStop
from audit.regimes import all_regimes
from records import access, clock
from records.log import may_be_logged
from records.views.base import company_or_404

from .days import DayProblem, read_day, today_of
from .getting_in import getting_in_of
from .planned import StopShown, people_of, stops_of
from .round_read import read_works

MOST = 20  # clinics in one file; a day has fewer


@login_required
@require_safe
def stops_sheets(request, slug: str):
    """The sheets of `?on=`, of `?person=` or everybody, on `?page=` (letter, a4): units with work, by stop."""
    company = company_or_404(request.user, slug)
    size = request.GET.get("page", "letter")
    try:
        latest = clock.today(may_be_logged.zone_of(company)) + timedelta(days=AHEAD)
        day = read_day(request.GET.get("on", ""), "the day of the stops", latest=latest)
        if size not in SIZES:
            raise DayProblem(f"Paper is one of {', '.join(sorted(SIZES))}. Choose one of them.")
        forms = _forms(company, day, _person(request, company))
    except (DayProblem, NoUnit) as problem:
        context = {"company": company, "problem": problem, "query": ""}
        return render(request, "audit/round_refused.html", context, status=400)
    body, _ = render_several(forms, day, page_size=size)
    return HttpResponse(
        body,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="job-sheets-{day.isoformat()}.pdf"',
            "Cache-Control": "private, no-store",
        },
    )


def _person(request, company):
    asked = request.GET.get("person", "")
    return next((each for each in people_of(company) if str(each.ref) == asked), None)


def _forms(company, day, person) -> list[Forms]:
    clinics = access.clinics_of_company(company)
    there = set(PlannedStop.objects.filter(company=company, on=day).values_list("clinic_id", flat=True))
    visited = [clinic for clinic in clinics if clinic.pk in there][:MOST]
    stops = stops_of(company, read_works(visited).works, on=day, clinics=visited)
    mine = [stop for stop in stops if stop.items and (person is None or stop.row.given_to_id == person.pk)]
    if not mine:
        raise NoUnit("Nothing that is owed stands on a stop of that day. Give work to somebody for it first.")
    known, insides = kept_of(visited), getting_in_of(visited)
    return [_of_stop(stop, known[stop.row.clinic_id], insides[stop.row.clinic.slug].lines, day) for stop in mine]


def _of_stop(stop: StopShown, facts, inside, day) -> Forms:
    judgement = evaluate(facts, min(day, today_of(facts)))
    regime = all_regimes()[judgement.regime].on(judgement.as_of)
    forms = paper_forms(facts, judgement, regime, "visit", on=day, getting_in=inside)
    wanted = {f"visit-{item.unit}" for item in stop.items}
    return replace(forms, forms=tuple(form for form in forms.forms if form.id in wanted))
