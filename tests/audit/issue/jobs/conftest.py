"""Every test of a job stands at the same moment, in the small invented world, with folders of its own."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.issue.jobs import queue
from records import clock
from tests import world as made


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    """Nothing is written outside the test's folder, and no page starts a process unless a test asks for it."""
    settings.BLOBS_DIR, settings.SEAL_DIR = tmp_path / "blobs", tmp_path / "seal"
    settings.DATA_DIR, settings.BINDER_WORKER = tmp_path, "none"
    return tmp_path


@pytest.fixture
def world():
    return made.make()


@pytest.fixture
def wish():
    return queue.Wish(made.TODAY - timedelta(days=90), made.TODAY, made.TODAY)
