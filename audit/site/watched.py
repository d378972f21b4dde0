"""Addresses for whoever watches the machine: /health/live, /health/ready, /metrics.

They stand before everything else, so that they answer by plain HTTP, under any host name, and while the database does
not. /health/live says nothing but that the process answers. The other two are only for who asks from an address that
`METRICS_FROM` names, without a proxy between, or brings `METRICS_TOKEN`; for all others there is no such page.
"""

from __future__ import annotations

import hmac
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpResponse, JsonResponse

# Any of these says that the address asked from is the proxy's and not the asker's.
_PASSED_ON = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Host", "X-Real-Ip", "Via")


class WatchedMiddleware:
    """Stands first of all."""

    def __init__(self, get_response):
        self.get_response = get_response
        self.pages = {"/health/ready": _ready, "/metrics": _metrics}

    def __call__(self, request):
        if request.path_info == "/health/live":
            return HttpResponse("live\n", content_type="text/plain")
        if request.path_info in self.pages and _may(request):
            response = self.pages[request.path_info]()
            response["Cache-Control"] = "no-store"
            return response
        return self.get_response(request)


def _may(request) -> bool:
    token, said = settings.METRICS_TOKEN, request.headers.get("Authorization", "")
    if token and hmac.compare_digest(said.encode(), f"Bearer {token}".encode()):
        return True
    if any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        asks = ip_address(request.META.get("REMOTE_ADDR", ""))
    except ValueError:
        return False
    return any(asks in network for network in settings.METRICS_FROM)


def _ready() -> HttpResponse:
    from audit.upkeep import health

    found = health.look()
    said = [{"check": c.name, "state": c.state, "said": c.said, "way_out": c.way_out} for c in found]
    ready = health.ready(found)
    return JsonResponse({"ready": ready, "checks": said}, status=200 if ready else 503)


def _metrics() -> HttpResponse:
    from audit.upkeep import metrics

    return HttpResponse(metrics.text(), content_type=metrics.TYPE)
