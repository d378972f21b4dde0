"""What every answer tells the browser it may do: nothing that these pages do not need.

One small middleware of our own, because it must also cover static files, say which devices may be used, and give one
script, the worker that reads codes from camera pictures, its own policy: compiling WebAssembly is allowed there and
on no page. A worker fetched by address follows the policy of its own answer (Content Security Policy Level 3, W3C
Working Draft, section 4.2.3, "run CSP initialization for a global object").
"""

from __future__ import annotations

import re

from django.conf import settings

POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self'",
    "connect-src": "'self'",
    "form-action": "'self'",
    "manifest-src": "'self'",
    "worker-src": "'self'",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
}
READER = POLICY | {"script-src": "'self' 'wasm-unsafe-eval'"}
# With or without the digest that the name gets in production.
READERS = re.compile(r"^audit/scan-worker(\.[0-9a-f]{12})?\.js$")
DEVICES = "camera=(self), microphone=(), geolocation=(), payment=(), usb=(), serial=(), bluetooth=(), midi=()"


def written(policy: dict[str, str]) -> str:
    """The policy as the header has it."""
    return "; ".join(f"{name} {sources}" for name, sources in policy.items())


class HeadersMiddleware:
    """Stands first, so that no answer leaves without them. A view may state a stricter policy of its own."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", written(_policy_of(request.path)))
        response.headers.setdefault("Permissions-Policy", DEVICES)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response


def _policy_of(path: str) -> dict[str, str]:
    static = "/" + settings.STATIC_URL.lstrip("/")
    is_reader = path.startswith(static) and READERS.match(path.removeprefix(static))
    return READER if is_reader else POLICY
