"""Everything of a clinic as one file: asked for by who manages, written in the background, handed out for a while."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.http import FileResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from audit.issue.jobs import workers
from audit.issue.whole import jobs
from audit.issue.whole.brought import origin_of
from audit.models import RecordOut
from records import clock
from records.doors import often
from records.views.base import at_clinic

SHOWN = 20
REFRESH_SECONDS = 2
PATIENCE_SECONDS = 20
State = RecordOut.State


@often.at_most(10, "files with everything")
@at_clinic("manage")
@require_http_methods(["GET", "HEAD", "POST"])
def everything(request, ground):
    """Ask for the file; who took it out before, and where the record itself came from."""
    if request.method == "POST":
        job = jobs.ask(ground.clinic, request.user, _key(request))
        workers.call_for_record(job)
        return redirect("everything-job", slug=ground.clinic.slug, ref=job.ref)
    asked = RecordOut.objects.filter(clinic=ground.clinic).select_related("asked_by").order_by("-pk")[:SHOWN]
    context = {
        "clinic": ground.clinic,
        "zone": ground.zone,
        "key": uuid.uuid4(),
        "hours": settings.DRAFT_HOURS,
        "asked": [(job, jobs.is_gone(job)) for job in asked],
        "origin": origin_of(ground.clinic),
    }
    return render(request, "audit/everything.html", context)


def _key(request) -> uuid.UUID:
    """The key of the form, so that the same form sent twice is one job; of another clinic's form a new one."""
    try:
        return uuid.uuid5(request.user.ref, f"everything {uuid.UUID(request.POST.get('request_key', ''))}")
    except ValueError:
        return uuid.uuid4()


@at_clinic("manage")
@require_safe
def everything_job(request, ground, ref):
    """How far the file is; while it is being written the page asks again by itself, unless `?still=1`."""
    job = get_object_or_404(RecordOut.objects.select_related("asked_by"), clinic=ground.clinic, ref=ref)
    jobs.give_up_hopeless()
    workers.call_for_record(job)
    job.refresh_from_db()
    still = request.GET.get("still") == "1"
    waited = (clock.now() - job.asked_at).total_seconds() > PATIENCE_SECONDS
    context = {
        "clinic": ground.clinic,
        "zone": ground.zone,
        "job": job,
        "gone": jobs.is_gone(job),
        "kept_until": job.ended_at + jobs.kept_for() if job.ended_at else None,
        "still": still,
        "refresh": REFRESH_SECONDS if not still and not job.is_over else 0,
        "nobody": not job.is_over and waited and jobs.waits(job),
        "key": uuid.uuid4(),
    }
    return render(request, "audit/everything_job.html", context)


@at_clinic("manage")
@require_safe
def everything_file(request, ground, ref):
    """The file, piece by piece; how far it is where there is none, or none any more."""
    job = get_object_or_404(RecordOut, clinic=ground.clinic, ref=ref)
    if job.state != State.DONE or jobs.is_gone(job):
        return redirect("everything-job", slug=ground.clinic.slug, ref=job.ref)
    name = f"everything-{ground.clinic.slug}-{job.asked_at:%Y-%m-%d}-entry-{job.made['entries']}.zip"
    answer = FileResponse(jobs.path_of(job).open("rb"), content_type="application/zip")
    answer["Content-Disposition"] = content_disposition_header(True, name)
    answer["Cache-Control"] = "private, no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
