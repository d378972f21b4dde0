"""Every test of the seal has a folder for keys of its own, empty at the start."""

from __future__ import annotations

import pytest

from audit.issue.seal import keys
from tests.audit.issue.seal import files


@pytest.fixture(autouse=True)
def seal_dir(settings, tmp_path):
    settings.SEAL_DIR = tmp_path / "seal"
    return settings.SEAL_DIR


@pytest.fixture
def seal(seal_dir):
    """The installation has a key."""
    return keys.make_key("First Keepers", files.AT)
