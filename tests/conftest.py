"""What every test shares: emptying the database after a test that commits needs the triggers out of the way.

And the deep run of all laws: its profile, and the mark `laws` on every test that Hypothesis drives.
"""

from __future__ import annotations

import threading
import time
from contextlib import ExitStack

import pytest
from django.db import connections
from django.db.backends.signals import connection_created
from django.test import TransactionTestCase
from hypothesis import is_hypothesis_test

from records.ledger import triggers
from tests import examples

examples.register()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """First of all, as what is not marked by then is left out by `-m laws`."""
    for item in items:
        if is_hypothesis_test(getattr(item, "obj", None)):
            item.add_marker("laws")


@connection_created.connect
def _does_not_wait_for_the_disk(connection, **_):
    """What a test writes need not outlive the machine, and waiting for the disk takes long."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous = OFF")


_plain_teardown = TransactionTestCase._fixture_teardown


def _answering() -> list[str]:
    """The threads in which a live server answers: a page, or what a page or its worker asked for by script."""
    return [each.name for each in threading.enumerate() if "process_request_thread" in each.name]


def _until_quiet(seconds: float) -> list[str]:
    """Wait until no page is being answered. A page that is still made while tables are emptied finds half of them."""
    end = time.monotonic() + seconds
    while (left := _answering()) and time.monotonic() < end:
        time.sleep(0.01)
    return left


def _teardown_without_triggers(self):
    left = _until_quiet(20)
    with ExitStack() as lifted:
        for alias in self._databases_names(include_mirrors=False):
            lifted.enter_context(triggers.lifted(connections[alias]))
        _plain_teardown(self)
    assert not left, (
        f"The test ended while a browser was still connected to the live server ({left}): close its pages."
    )


TransactionTestCase._fixture_teardown = _teardown_without_triggers


@pytest.fixture(autouse=True)
def no_key_but_its_own(tmp_path, settings):
    """A test signs with a key that it made itself, never with the one of whoever runs the tests."""
    settings.SEAL_DIR = tmp_path / "seal"
