"""Every test of a page stands at the same moment, in the small invented world."""

from __future__ import annotations

import pytest

from records import clock
from tests import world as made


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def world():
    return made.make()
