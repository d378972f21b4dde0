"""Pages of papers on file, closures and known gaps."""

from __future__ import annotations

from functools import partial

from django.http import Http404, HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from records import forms, log
from records.files import blobs
from records.files.paper_check import media_type
from records.models import Document

from .base import at_clinic, entry_page
from .own import visible_rows
from .room import room_at


@at_clinic()
def add_document(request, ground):
    def write(**values):
        with room_at("content", ground, values["content"]):
            return log.log_document(clinic=ground.clinic, **values)

    return entry_page(request, ground, forms.DocumentForm, write, title="File a paper", context={"upload": True})


@at_clinic("own")
@require_safe
def document(request, ground, ref):
    paper = visible_rows(ground, Document.objects.filter(ref=ref)).first()
    if paper is None:
        raise Http404("no such paper here")
    try:
        content = blobs.read(ground.clinic, paper.sha256)
    except FileNotFoundError:
        raise Http404("the file is not in the store") from None
    # By the content, never by the name alone; a kind that might run something is plain bytes.
    kind = media_type(content, paper.filename)
    return HttpResponse(
        content,
        content_type=f"{kind}; charset=utf-8" if kind.startswith("text/") else kind,
        headers={
            "Content-Disposition": content_disposition_header(True, paper.filename),
            "X-Content-Type-Options": "nosniff",
        },
    )


@at_clinic("rules")
def log_closure(request, ground):
    write = partial(log.log_closure, clinic=ground.clinic)
    return entry_page(request, ground, forms.ClosureForm, write, title="Log days without patients")


@at_clinic("rules")
def log_gap(request, ground):
    write = partial(log.log_gap, clinic=ground.clinic)
    return entry_page(request, ground, forms.GapForm, write, title="Log a known gap in the evidence")
