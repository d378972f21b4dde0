"""Issuing a binder: asked for on a form, made in the background, followed on a page, kept in a list, handed out.

A draft goes the same way, for whoever may look, and is kept for a while only.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import date

from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from audit.binder.sections import EXTENTS, INSPECTOR
from audit.issue.jobs import drafts, queue, workers
from audit.models import BinderJob
from records import clock
from records.doors import often
from records.files import blobs
from records.models import BinderIssue
from records.models.binders import PAGE_SIZES
from records.views.base import at_clinic
from records.views.own import visible_rows

from .days import DayProblem, read_day, read_moment, year_before

PER_PAGE = 25
REFRESH_SECONDS = 2
# How long a job may wait before the page says that nobody works on it.
PATIENCE_SECONDS = 20
FAILED_SHOWN = DRAFTS_SHOWN = 5


@dataclass(frozen=True, slots=True)
class BinderAsked:
    """What was typed, as it was typed."""

    from_on: str
    to_on: str
    as_of: str
    known_at: str
    page: str
    extent: str
    key: str

    @classmethod
    def of(cls, values) -> BinderAsked:
        names = ("from", "to", "as_of", "known_at", "page", "extent", "request_key")
        return cls(*(values.get(name, "").strip() for name in names))

    @classmethod
    def start(cls, today: date, values) -> BinderAsked:
        """What a form starts with: the last twelve months, but for what the address says."""
        said = cls.of(values)
        to_on = said.to_on or said.as_of or today.isoformat()
        try:
            year = year_before(read_day(to_on, "the last day of the binder")).isoformat()
        except DayProblem:
            year = year_before(today).isoformat()
        return replace(
            said,
            from_on=said.from_on or year,
            to_on=to_on,
            page=said.page or "letter",
            extent=said.extent or INSPECTOR,
            key=str(uuid.uuid4()),
        )

    def wish(self, today: date, zone: str) -> queue.Wish:
        """Raises DayProblem."""
        from_on, to_on = read_period(self.from_on, self.to_on, today)
        as_of = read_day(self.as_of, "the day asked about", latest=today) if self.as_of else today
        known = read_moment(self.known_at, "the moment of what was known", zone) if self.known_at else None
        return queue.Wish(from_on, to_on, as_of, known, read_size(self.page), read_extent(self.extent))


def read_period(from_text: str, to_text: str, today: date) -> tuple[date, date]:
    """The first and the last day, both inclusive; the last one has come. Raises DayProblem."""
    for text, what in ((from_text, "first"), (to_text, "last")):
        if not text:
            raise DayProblem(f"The {what} day of the binder is missing. Write it as year-month-day: {today}.")
    to_on = read_day(to_text, "the last day of the binder", latest=today)
    from_on = read_day(from_text, "the first day of the binder")
    if from_on > to_on:
        raise DayProblem(f"The binder would end before it starts: from {from_on} to {to_on}. Swap the two days.")
    return from_on, to_on


def read_size(text: str) -> str:
    """The size of paper, letter when none was chosen. Raises DayProblem."""
    if text and text not in PAGE_SIZES:
        raise DayProblem(f"“{text}” is no size of paper that is known. Choose one of: {', '.join(PAGE_SIZES)}.")
    return text or "letter"


def read_extent(text: str) -> str:
    """How much is printed, what an inspector reads when nothing was chosen. Raises DayProblem."""
    if text and text not in EXTENTS:
        raise DayProblem(f"“{text}” is no extent of a binder. Choose one of: {', '.join(EXTENTS)}.")
    return text or INSPECTOR


@often.at_most(30, "binders")
@at_clinic("log")
@require_http_methods(["GET", "HEAD", "POST"])
def make_binder(request, ground):
    """Ask for a binder; then its progress is shown."""
    return _asking(request, ground, draft=False)


@often.at_most(30, "drafts of binders")
@at_clinic("look")
@require_http_methods(["GET", "HEAD", "POST"])
def make_draft(request, ground):
    """Ask for a draft, which is neither signed nor entered as issued; then its progress is shown.

    The form starts with the days, the moment and the size of paper that the address names.
    """
    return _asking(request, ground, draft=True)


def _asking(request, ground, *, draft: bool):
    today = clock.today(ground.zone)
    asked, problem = BinderAsked.start(today, request.GET), ""
    if request.method == "POST":
        asked = BinderAsked.of(request.POST)
        try:
            wish = asked.wish(today, ground.zone)
        except DayProblem as refused:
            problem = str(refused)
        else:
            job = queue.ask(ground.clinic, request.user, wish, asked.key or uuid.uuid4(), draft=draft)
            workers.call_for(job)
            return redirect("binder-job", slug=ground.clinic.slug, ref=job.ref)
    context = {"clinic": ground.clinic, "asked": asked, "problem": problem, "sizes": PAGE_SIZES, "draft": draft}
    context["hours"] = settings.DRAFT_HOURS
    return render(request, "audit/make_binder.html", context, status=422 if problem else 200)


@at_clinic("look")
@require_safe
def binder_job(request, ground, ref):
    """How far a binder is; while it is being made the page asks again by itself, unless `?still=1`."""
    job = get_object_or_404(
        BinderJob.objects.select_related("asked_by"), clinic=ground.clinic, asked_by__isnull=False, ref=ref
    )
    queue.give_up_hopeless()
    workers.call_for(job)
    job.refresh_from_db()
    still = request.GET.get("still") == "1"
    context = {
        "clinic": ground.clinic,
        "zone": ground.zone,
        "job": job,
        "before": _before(job),
        "issue": BinderIssue.objects.filter(ref=job.issue_ref).first() if job.issue_ref else None,
        "still": still,
        "refresh": REFRESH_SECONDS if not still and not job.is_over else 0,
        "nobody": nobody_works(job),
        "may_ask": job.draft or ground.rights.may_log,
        "kept_until": job.ended_at + drafts.kept_for() if job.draft and job.is_over else None,
        "gone": job.draft and drafts.is_over(job),
        "key": uuid.uuid4(),
    }
    return render(request, "audit/binder_job.html", context)


def _before(job: BinderJob) -> int:
    """How many wait before it."""
    waits = BinderJob.State.WAITING
    return BinderJob.objects.filter(state=waits, pk__lt=job.pk).count() if job.state == waits else 0


def nobody_works(job: BinderJob) -> bool:
    """Whether nobody has come for it by now: no worker is run here, or the one that a page started did not start."""
    long_ago = (clock.now() - job.asked_at).total_seconds() > PATIENCE_SECONDS
    never_taken = settings.BINDER_WORKER != "page" or job.state == queue.State.WAITING
    return long_ago and never_taken and queue.waits_for_a_worker(job)


@at_clinic("look")
@require_safe
def binders(request, ground):
    """The binders that were issued, newest first, and those being made."""
    issued = BinderIssue.objects.filter(clinic=ground.clinic).order_by("-pk")
    issued = issued.select_related("issued_by", "entry__logged_for")
    jobs = BinderJob.objects.filter(clinic=ground.clinic, asked_by__isnull=False).order_by("-pk")
    ready = jobs.filter(draft=True, state=queue.State.DONE, ended_at__gt=clock.now() - drafts.kept_for())
    context = {
        "clinic": ground.clinic,
        "zone": ground.zone,
        "may_issue": ground.rights.may_log,
        "may_manage": ground.rights.may_manage,
        "page": Paginator(issued, PER_PAGE).get_page(request.GET.get("page")),
        "making": list(jobs.filter(state__in=(queue.State.WAITING, queue.State.RUNNING))),
        "failed": list(jobs.filter(state=queue.State.FAILED)[:FAILED_SHOWN]),
        "drafts": list(ready[:DRAFTS_SHOWN]),
    }
    return render(request, "audit/binders.html", context)


@at_clinic("look")
@require_safe
def draft_file(request, ground, ref):
    """The file of a draft; how far it is while it is not made; once it is gone, a page that makes it again (410)."""
    job = get_object_or_404(BinderJob, clinic=ground.clinic, draft=True, ref=ref)
    if job.state != queue.State.DONE:
        return redirect("binder-job", slug=ground.clinic.slug, ref=job.ref)
    try:
        content = drafts.read(job)
    except drafts.DraftGone as gone:
        context = {"clinic": ground.clinic, "job": job, "why": str(gone), "may_ask": True, "key": uuid.uuid4()}
        return render(request, "audit/draft_gone.html", context, status=410)
    name = f"draft-not-issued-{ground.clinic.slug}-{job.from_on.isoformat()}-to-{job.to_on.isoformat()}.pdf"
    return _pdf(content, name)


@at_clinic("own")
@require_safe
def issued_binder(request, ground, ref):
    """The signed file as it was kept, never one made again."""
    issue = visible_rows(ground, BinderIssue.objects.filter(ref=ref)).select_related("clinic").first()
    if issue is None:
        raise Http404("no such binder here")
    return file_of(request, issue)


def file_of(request, issue: BinderIssue) -> HttpResponse:
    """The kept file of an issue to hand out, or a page that says why it cannot be (410)."""
    try:
        content = blobs.read(issue.clinic, issue.file_sha256)
    except (OSError, ValueError) as fault:
        lost = isinstance(fault, OSError)
        return render(request, "audit/binder_lost.html", {"issue": issue, "lost": lost}, status=410)
    return _pdf(content, issue.filename)


def _pdf(content: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": content_disposition_header(True, name),
            "Cache-Control": "private, no-store",
            "X-Content-Type-Options": "nosniff",
        },
    )
