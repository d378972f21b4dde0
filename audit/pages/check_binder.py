"""Check a binder: anyone drops a file and is told whether it is ours and unaltered. No file is kept."""

from __future__ import annotations

import threading

from django.http import HttpRequest
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from audit.issue.seal.keys import NoKey, own_certificate
from audit.issue.seal.verify import LARGEST, NOT_OURS, UNALTERED, check, of
from records.access import companies_of, rights
from records.doors import often
from records.models import Account, Clinic, Organisation

LARGEST_MB = LARGEST // 1024 // 1024
FORM_BYTES = 64 * 1024  # what a form adds to its file
DRAINED = 4 * LARGEST
AT_ONCE = 2
_turns = threading.BoundedSemaphore(AT_ONCE)
WAIT_SECONDS = 10

TOO_LARGE = f"The file has more than {LARGEST_MB} MB and was not read. Binders are smaller: choose the file again."
NO_FILE = "No file was chosen. Choose the PDF file to check."
EMPTY = "The file is empty. Choose it again as it was handed out."
NO_CERTIFICATES = (
    "This installation cannot read its own certificates just now, so nothing can be said of any file. "
    "Tell whoever runs it, and try again later."
)
BUSY = "Other files are being checked just now. Wait a minute, then send yours again."


# A check changes nothing and tells a foreign page nothing, so it needs no token; and the test of a token would take
# in the whole upload before its size is known.
@often.at_most(60, "checks of binders")
@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def check_page(request: HttpRequest):
    """The form, and after a POST of `file` what is to be said of it. No log-in is needed."""
    if request.method != "POST":
        return _page(request, 200)
    if _announced(request) > LARGEST + FORM_BYTES:
        _drain(request)
        return _page(request, 413, problem=TOO_LARGE)
    file = request.FILES.get("file")
    if file is None:
        return _page(request, 400, problem=NO_FILE)
    if file.size > LARGEST:
        return _page(request, 413, problem=TOO_LARGE)
    if not file.size:
        return _page(request, 400, problem=EMPTY)
    if not _turns.acquire(timeout=WAIT_SECONDS):
        return _page(request, 503, problem=BUSY)
    try:
        verdict = check(file.read(), sees=lambda organisation: _sees(request.user, organisation))
    except NoKey:
        return _page(request, 503, problem=NO_CERTIFICATES)
    finally:
        _turns.release()
    return _page(request, 200, verdict=verdict, name=file.name)


def _announced(request: HttpRequest) -> int:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


def _drain(request: HttpRequest) -> None:
    """Read and forget, within reason: a browser shows the answer only when it could send all it had."""
    left = min(_announced(request), DRAINED)
    while left > 0:
        chunk = request.read(min(left, 256 * 1024))
        if not chunk:
            return
        left -= len(chunk)


def _sees(account: Account, organisation: Organisation) -> bool:
    """Whether more may be said of an organisation than the file says itself."""
    clinic = Clinic.objects.filter(pk=organisation.pk).first()
    if clinic is not None:
        return rights(account, clinic) is not None
    return companies_of(account).filter(pk=organisation.pk).exists()


def _page(request: HttpRequest, status: int, **context):
    verdict = context.get("verdict")
    shown = {
        "largest": LARGEST_MB,
        "seal": _own(),
        "good": verdict is not None and verdict.word == UNALTERED,
        "foreign": verdict is not None and verdict.word == NOT_OURS,
    }
    return render(request, "audit/check.html", shown | context, status=status)


def _own():
    """The certificate this installation signs with now, which anyone may know; None when there is none."""
    try:
        return of(own_certificate())
    except NoKey:
        return None
