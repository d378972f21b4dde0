"""The browser of a process of tests: opened by the first test that drives pages, kept for those that follow it.

Each test opens a context of its own in it, which shares nothing with another one. `tests/conftest.py` closes it
before a test that drives no page: while it is open, its event loop stands in the way of whoever needs one.
"""

from __future__ import annotations

import os

from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.urls import get_resolver

from tests import programs

ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PATIENCE = 30_000  # milliseconds for which a page is waited for: no test fails because the machine is busy
_held: list = []
_plainly = StaticFilesHandler.serve


def _kept_by_the_browser(self, request):
    """A style or script, which no page asks for again: so says the server that people start, and not Django's own."""
    answer = _plainly(self, request)
    answer.headers["Cache-Control"] = "max-age=3600"
    return answer


def opened():
    """The browser. Skips the test where there is no Chromium, or fails it where the check script wants it."""
    if not _held:
        chromium = programs.browser()
        from playwright.sync_api import sync_playwright

        # All that answers pages is loaded now, not while the first page is waited for: that takes seconds.
        assert get_resolver().url_patterns
        # The browser's own event loop makes Django refuse the database in this thread, where nothing is concurrent.
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
        playwright = sync_playwright().start()
        StaticFilesHandler.serve = _kept_by_the_browser
        _held[:] = [playwright, playwright.chromium.launch(executable_path=chromium, args=ARGS)]
    return _held[1]


def closed() -> None:
    """Close it, where it is open."""
    if _held:
        playwright, browser = _held
        _held.clear()
        browser.close()
        playwright.stop()
        StaticFilesHandler.serve = _plainly
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
