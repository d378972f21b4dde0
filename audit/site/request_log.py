"""One number for each request, in every line of the log that it causes, on its answer and on the page of a fault.

The log names a page by the name of its address, never the address itself: some are secrets.
"""

from __future__ import annotations

import json
import logging
import re
import time
import uuid
from contextvars import ContextVar
from datetime import UTC, datetime

from audit.site.logs import without_secrets

LOG = logging.getLogger("audit.site.requests")
HEADER = "X-Request-ID"
_GIVEN = re.compile(r"[A-Za-z0-9_-]{8,64}")
_number: ContextVar[str] = ContextVar("request_id", default="")


def request_id() -> str:
    """The number of the request that is being answered; "" outside of one."""
    return _number.get()


class RequestLogMiddleware:
    """Takes the number that a proxy gave, where it is one, else makes one."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        given = request.headers.get(HEADER, "")
        before = _number.set(given if _GIVEN.fullmatch(given) else uuid.uuid4().hex)
        started = time.monotonic()
        try:
            response = self.get_response(request)
            response[HEADER] = request_id()
            self._count(request, response, time.monotonic() - started)
            return response
        finally:
            _number.reset(before)

    def _count(self, request, response, seconds: float) -> None:
        from audit.upkeep import metrics

        match = getattr(request, "resolver_match", None)
        page = (match.view_name if match else "") or "none"
        metrics.answered(page, request.method or "", response.status_code, seconds)
        LOG.info("%s %s %s in %.0f ms", request.method, page, response.status_code, seconds * 1000)


class JsonLine(logging.Formatter):
    """A line of the log as one JSON object: time, level, logger, message; request and fault where there are any.

    As in every log, without what opens a door (`audit.site.logs`).
    """

    def format(self, record: logging.LogRecord) -> str:
        """One line, whatever the message holds."""
        said = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
        }
        if number := request_id():
            said["request"] = number
        if record.exc_info:
            said["fault"] = self.formatException(record.exc_info)
        return without_secrets(json.dumps(said, ensure_ascii=False, default=str))
