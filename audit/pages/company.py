"""The company's page: every unit at every clinic it serves, out of the stored standings."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.db.models import Count
from django.shortcuts import render
from django.views.decorators.http import require_safe
from django_tables2 import RequestConfig

from audit.facts.dates import ONE_DAY
from audit.gather.standings import RANKS, standings_for
from audit.judge.judgement import NextStep
from audit.judge.next_step import named
from audit.models import Standing
from audit.pages import table_files
from audit.pages.filters import StandingFilter
from audit.pages.tables import StandingTable
from records import access, clock
from records.models import ClinicTerms
from records.views.base import company_or_404

PER_PAGE = 50
MANY = 10  # units of one answer that ask the same thing: more of them are told by their number
ONE_BY_ONE = 6  # units a page where the causes stand above them


@login_required
@require_safe
def company_page(request, slug: str):
    """Filters and sorting stand in the address, so that a view can be kept or passed on."""
    company = company_or_404(request.user, slug)
    clinics = list(access.clinics_of_company(company).annotate(unkept=access.nobody_s()))
    rows, today = current_standings(clinics)
    chosen = StandingFilter(request.GET, queryset=rows, clinics=clinics, today=today)
    table = StandingTable(chosen.qs, today=today, company=company.name)
    found = list(rows.values_list("clinic_id", "word"))
    filtered = any(request.GET.get(name) for name in chosen.filters)
    causes = _causes(rows, company.name) if len(found) > 2 * MANY and not filtered else []
    per_page = ONE_BY_ONE if causes else PER_PAGE
    RequestConfig(request, paginate={"per_page": per_page, "silent": True}).configure(table)
    counts, judged = Counter(word for _, word in found), {clinic_id for clinic_id, _ in found}
    context = {
        "company": company,
        "manages": company.managed,
        "unkept": [c for c in clinics if c.unkept] if company.managed else [],
        "clinics": clinics,
        "table": table,
        "filter": chosen,
        "counts": [(w.value, counts[w.value]) for w in RANKS if counts[w.value]],
        "total": counts.total(),
        "query": _without(request, "word", "page"),
        "carried": _without(request, "page"),
        "files": table_files.KINDS,
        "without": [c for c in clinics if c.pk not in judged],
        "filtered": filtered,
        "causes": causes,
        "today": today,
    }
    return render(request, "audit/company.html", context)


def current_standings(clinics):
    """Stored standings right for each clinic's own today, as one queryset, and the latest of those days."""
    by_day: dict[date, list] = defaultdict(list)
    zones = zones_of(clinics)
    for clinic in clinics:
        by_day[clock.today(zones.get(clinic.pk, "UTC"))].append(clinic)
    rows = Standing.objects.none()
    for day, several in by_day.items():
        found = standings_for(several, day)
        rows = rows | found
    return rows, max(by_day, default=clock.today())


def _causes(rows, company: str) -> list[dict]:
    """What more than a few units of one answer ask, with how many they are: what weighs most first."""
    grouped = rows.order_by().values("rank", "word", "next_who", "next_what").annotate(many=Count("pk"))
    found = grouped.filter(many__gt=MANY).exclude(next_what="").order_by("rank", "-many", "next_what")
    return [
        each
        | {"step": NextStep(named(each["next_who"], company), each["next_what"])}
        | {"query": urlencode({"word": each["word"], "asks": each["next_what"]})}
        for each in found
    ]


def zones_of(clinics) -> dict[int, str]:
    """The time zone of each clinic by its newest terms in force there; one query."""
    terms = ClinicTerms.objects.in_force().filter(clinic__in=clinics, effective_on__lte=clock.today() + ONE_DAY)
    found = terms.order_by("effective_on", "id").values_list("clinic_id", "time_zone", "effective_on")
    return {clinic: zone for clinic, zone, day in found if day <= clock.today(zone)}


def _without(request, *names: str) -> str:
    """The query of the address without some of its parts."""
    kept = request.GET.copy()
    for name in names:
        kept.pop(name, None)
    return kept.urlencode()
