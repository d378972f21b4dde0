"""A company issues the binders of all its clinics in one go, and sees how far they are."""

from __future__ import annotations

import uuid
from dataclasses import replace

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Max, Min, Q
from django.http import Http404
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from audit.binder.sections import INSPECTOR
from audit.issue.jobs import queue, workers
from audit.models import BinderJob
from records import access, clock
from records.doors import often
from records.log import may_be_logged
from records.models.binders import PAGE_SIZES
from records.views.base import company_or_404

from .binders import REFRESH_SECONDS, BinderAsked, nobody_works
from .company import zones_of
from .days import DayProblem, year_before

BATCHES_SHOWN = 25
State = BinderJob.State


@often.at_most(20, "binders of all clinics")
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def company_binders(request, slug: str):
    """The form for all clinics, and the batches asked for before."""
    company = company_or_404(request.user, slug)
    allowed = access.may_log_for(request.user, company)
    if request.method == "POST" and not allowed:
        raise PermissionDenied("Your role in this company may look, but not issue binders.")
    clinics = list(access.clinics_of_company(company))
    zones = zones_of(clinics)
    days = [clock.today(zones.get(clinic.pk, "UTC")) for clinic in clinics]
    today = min(days, default=clock.today())
    asked, problem = (
        BinderAsked(
            year_before(today).isoformat(), today.isoformat(), "", "", "letter", INSPECTOR, str(uuid.uuid4())
        ),
        "",
    )
    if request.method == "POST":
        asked = BinderAsked.of(request.POST)
        try:
            return _ask_all(request.user, company, list(zip(clinics, days, strict=True)), asked, today)
        except DayProblem as refused:
            problem = str(refused)
    context = {"company": company, "clinics": clinics, "asked": asked, "problem": problem, "sizes": PAGE_SIZES}
    context |= {"may_issue": allowed, "batches": _batches(company), "zone": may_be_logged.zone_of(company)}
    return render(request, "audit/company_binders.html", context, status=422 if problem else 200)


def _ask_all(account, company, clinics, asked: BinderAsked, today):
    """One job a clinic, each as of its own today. Raises DayProblem."""
    if not clinics:
        raise DayProblem("This company serves no clinic today, so there is no binder to make.")
    wish = asked.wish(today, "UTC")
    wishes = [(clinic, wish if asked.as_of else replace(wish, as_of=day)) for clinic, day in clinics]
    batch = queue.ask_all(wishes, account, asked.key or uuid.uuid4(), company=company)
    oldest = _oldest_open(BinderJob.objects.filter(batch=batch).order_by("pk"))
    if oldest is not None:
        workers.call_for(oldest)
    return redirect("company-batch", slug=company.slug, batch=batch)


def _oldest_open(jobs) -> BinderJob | None:
    """The first that is not over: when that one stands still, all do."""
    return next((job for job in jobs if not job.is_over), None)


def _batches(company) -> list[dict]:
    """Newest first, each with its counts; one query."""
    jobs = BinderJob.objects.filter(company=company, batch__isnull=False)
    counted = jobs.values("batch", "from_on", "to_on").annotate(
        asked_at=Min("asked_at"), newest=Max("pk"), number=Count("pk"),
        done=Count("pk", filter=Q(state=State.DONE)), failed=Count("pk", filter=Q(state=State.FAILED)),
    )  # fmt: skip
    return list(counted.order_by("-newest")[:BATCHES_SHOWN])


@login_required
@require_safe
def company_batch(request, slug: str, batch):
    """How far each binder of a batch is."""
    company = company_or_404(request.user, slug)
    queue.give_up_hopeless()
    jobs = BinderJob.objects.filter(company=company, batch=batch).select_related("clinic")
    lines = list(jobs.order_by("clinic__name"))
    if not lines:
        raise Http404("no such batch here")
    oldest = _oldest_open(sorted(lines, key=lambda job: job.pk))
    if oldest is not None:
        workers.call_for(oldest)
    over = [job for job in lines if job.is_over]
    still = request.GET.get("still") == "1"
    current = set(access.clinics_of_company(company).values_list("pk", flat=True))
    context = {
        "company": company,
        "zone": may_be_logged.zone_of(company),
        "lines": [{"job": job, "open": job.clinic_id in current} for job in lines],
        "first": lines[0],
        "over": len(over),
        "failed": sum(job.state == State.FAILED for job in lines),
        "still": still,
        "refresh": REFRESH_SECONDS if not still and len(over) < len(lines) else 0,
        "nobody": oldest is not None and nobody_works(oldest),
    }
    return render(request, "audit/company_batch.html", context)
