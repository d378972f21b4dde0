"""What every test shares: emptying the database after a test that commits needs the triggers out of the way."""

from __future__ import annotations

from contextlib import ExitStack

import pytest
from django.db import connections
from django.test import TransactionTestCase

from records import triggers

_plain_teardown = TransactionTestCase._fixture_teardown


def _teardown_without_triggers(self):
    with ExitStack() as lifted:
        for alias in self._databases_names(include_mirrors=False):
            lifted.enter_context(triggers.lifted(connections[alias]))
        _plain_teardown(self)


TransactionTestCase._fixture_teardown = _teardown_without_triggers


@pytest.fixture(autouse=True)
def no_key_but_its_own(tmp_path, settings):
    """A test signs with a key that it made itself, never with the one of whoever runs the tests."""
    settings.SEAL_DIR = tmp_path / "seal"
