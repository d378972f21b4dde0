"""What is answered when the database or the disk cannot take or give just now: 503, never a fault of the program.

Nothing is half recorded then, and the same form sent again is recorded once; the page says so, and gives back what
was typed with a button that sends it again. A device that waits (`outbox`) keeps it and sends it again by itself.
"""

from __future__ import annotations

import errno
import logging
import sys

from django.db import DatabaseError
from django.http import HttpResponse
from django.template import loader

from .request_log import request_id

LOG = logging.getLogger("audit.site.trouble")
# Words of SQLite's and PostgreSQL's own messages, by what is the matter.
_WORDS = {
    "busy": ("is locked", "deadlock detected", "could not serialize", "lock timeout", "statement timeout"),
    "full": ("disk is full", "no space left", "diskfull", "could not extend file", "quota"),
    "read-only": ("readonly database", "read-only transaction", "read-only file system", "in recovery"),
    "away": (
        "unable to open database", "disk i/o error", "connection refused", "connection failed", "server closed",
        "terminating connection", "connection is closed", "could not connect", "too many clients", "starting up",
        "shutting down", "the connection is lost", "no route to host", "connection timeout", "ssl error",
    ),
}  # fmt: skip
_ERRNO = {errno.ENOSPC: "full", errno.EDQUOT: "full", errno.EIO: "away"}
_ERRNO |= dict.fromkeys((errno.EROFS, errno.EACCES, errno.EPERM), "read-only")
AGAIN_SECONDS = {"busy": 5, "full": 60, "read-only": 60, "away": 15}
# Never given back on a page.
_SECRET = ("password", "phrase")


def kind_of(error: BaseException | None) -> str:
    """“busy”, “full”, “read-only”, “away”, or "" for what is a fault of the program."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in _ERRNO:
            return _ERRNO[error.errno]
        if isinstance(error, DatabaseError):
            said = str(error).lower()
            for kind, words in _WORDS.items():
                if any(word in said for word in words):
                    return kind
        error = error.__cause__
    return ""


class TroubleMiddleware:
    """Answers what a page raised; what is raised elsewhere comes to `fault`."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, error):
        """The page that says so, or None for what is a fault of the program."""
        kind = kind_of(error)
        return _answer(request, kind, error) if kind else None


def fault(request) -> HttpResponse:
    """The answer to whatever nobody caught: the handler of status 500."""
    error = sys.exc_info()[1]
    if kind := kind_of(error):
        return _answer(request, kind, error)
    return HttpResponse(loader.render_to_string("500.html", {"number": request_id()}), status=500)


def _answer(request, kind: str, error) -> HttpResponse:
    LOG.warning("Not answered, %s: %s", kind, str(error).strip().splitlines()[0] if str(error) else error)
    wait = AGAIN_SECONDS[kind]
    sent = request.method == "POST"
    context = {"kind": kind, "sent": sent, "wait": wait, "number": request_id(), "address": request.get_full_path()}
    context["typed"] = _typed(request) if sent else ()
    response = HttpResponse(loader.render_to_string("503.html", context), status=503)
    response["Retry-After"] = str(wait)
    response["Cache-Control"] = "no-store"
    return response


def _typed(request) -> list[tuple[str, str]]:
    """What was typed, to be sent again as it was; nothing where it holds a file or what nobody may read."""
    try:
        fields = [(name, value) for name, values in request.POST.lists() for value in values]
    except Exception:  # what cannot be read was not kept either
        return []
    # A view whose form holds secrets says so itself, for the pages of faults too.
    secret = hasattr(request, "sensitive_post_parameters")
    if request.FILES or secret or any(word in name.lower() for name, _ in fields for word in _SECRET):
        return []
    return fields
