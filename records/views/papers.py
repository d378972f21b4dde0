"""Pages of papers on file, closures and known gaps."""

from __future__ import annotations

from functools import partial
from pathlib import PurePath

from django.http import Http404, HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from records import blobs, forms, log
from records.models import Document

from .base import at_clinic, entry_page
from .own import visible_rows

# Only what a browser shows or saves without running anything in it; all else is plain bytes.
CONTENT_TYPES = {
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".txt": "text/plain; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
}


@at_clinic()
def add_document(request, ground):
    write = partial(log.log_document, clinic=ground.clinic)
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
    kind = CONTENT_TYPES.get(PurePath(paper.filename).suffix.lower(), "application/octet-stream")
    return HttpResponse(
        content,
        content_type=kind,
        headers={
            "Content-Disposition": content_disposition_header(True, paper.filename),
            "X-Content-Type-Options": "nosniff",
        },
    )


@at_clinic("manage")
def log_closure(request, ground):
    write = partial(log.log_closure, clinic=ground.clinic)
    return entry_page(request, ground, forms.ClosureForm, write, title="Log days without patients")


@at_clinic("manage")
def log_gap(request, ground):
    write = partial(log.log_gap, clinic=ground.clinic)
    return entry_page(request, ground, forms.GapForm, write, title="Log a known gap in the evidence")
