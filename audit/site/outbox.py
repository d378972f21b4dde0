"""What a form is answered that a device kept and sends by script: one word instead of a page to be guessed at.

Such a request carries `X-Outbox` with the account that filled the form in, and `X-Written-At` with the time by the
device's clock. The answer carries `X-Outbox-Answer`: recorded, refused, conflict, over, signed-out, other-account,
form-too-old, forbidden, gone, too-large, busy, full, fault or shown. Requests without the header are left alone.
"""

from __future__ import annotations

import uuid

from django.http import JsonResponse
from django.urls import reverse

from records.log import device, submission

BY_STATUS = {403: "forbidden", 404: "gone", 409: "conflict", 410: "over", 413: "too-large", 422: "refused"}
# 503: kept on the device and sent again by itself. 507: too, from the moment that the answer names (Retry-After).
BY_STATUS |= {503: "busy", 507: "full"}


class OutboxMiddleware:
    """Stands last, so that the account is known and messages of the answer wait for the next page."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        account = request.headers.get("X-Outbox")
        if account is None or request.method != "POST":
            return self.get_response(request)
        if not request.user.is_authenticated:
            return _answer("signed-out", 401)
        if str(request.user.ref) != account:
            # Never under the name of whoever is signed in now.
            return _answer("other-account", 403)
        with device.written(device.read_moment(request.headers.get("X-Written-At", ""))):
            response = self.get_response(request)
        return _worded(request, response)


def _answer(word: str, status: int, **more) -> JsonResponse:
    response = JsonResponse({"answer": word} | more, status=status)
    response["X-Outbox-Answer"] = word
    return response


def _worded(request, response):
    """The response with its word; a redirect becomes its address, which a script may read.

    Pages lead on elsewhere for other reasons too, so one that names a request is believed only when it is on record.
    """
    if response.status_code in (301, 302, 303):
        to = response["Location"]
        if to.split("?")[0] == reverse("sign-in"):
            return _answer("signed-out", 401)
        if not _on_record(request):
            return _answer("shown", 200, to=to)
        found = _answer("recorded", 200, to=to)
        found.cookies = response.cookies
        return found
    response["X-Outbox-Answer"] = _word(request, response.status_code)
    return response


def _on_record(request) -> bool:
    """Whether the request that the form names was recorded. One that names none is a photo, kept with its draft."""
    key = request.POST.get("request_key")
    try:
        return key is None or submission.answered(request.user, uuid.UUID(key))
    except ValueError:
        return False


def _word(request, status: int) -> str:
    if status == 403 and not getattr(request, "csrf_processing_done", False):
        return "form-too-old"
    if status in BY_STATUS:
        return BY_STATUS[status]
    return "shown" if status < 400 else "fault"
