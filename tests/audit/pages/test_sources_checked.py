"""The day on which a source was checked stands on a page once, and only where it could be known on the day asked."""

from __future__ import annotations

import re

import pytest

from tests import world as made
from tests.audit.pages import filled
from tests.audit.pages.tools import get, pages_of, signed_in, text_of

pytestmark = pytest.mark.django_db
CHECKED = "Invented rule 4; checked 1 Feb 2026"  # as `filled` has it


@pytest.fixture
def shown(world, monkeypatch):
    made.weekly_tests(world, 3)
    filled.fill(monkeypatch)
    return world


@pytest.mark.parametrize(("name", "there"), [("answers", 1), ("unit", 1)])
def test_it_stands_once_and_from_its_day_on(client, shown, name, there):
    args = next(a for n, a in pages_of(shown) if n == name)
    signed_in(client, shown, "coordinator")
    said = [
        text_of(get(client, name, *args, **q)).count("; checked 1 Feb 2026") for q in ({}, {"as_of": "2026-02-01"})
    ]
    assert said == [there, there]
    before = text_of(get(client, name, *args, as_of="2026-01-31"))
    assert "checked 1 Feb 2026" not in before and "Invented rule 4" in before


@pytest.mark.parametrize("name", ["clinic", "unit", "answers"])
def test_no_page_names_a_day_after_the_one_asked_about(client, world, name):
    """The rules on file were checked after the day of this clinic."""
    made.weekly_tests(world, 3)
    args = next(a for n, a in pages_of(world) if n == name)
    seen = text_of(get(signed_in(client, world, "coordinator"), name, *args))
    assert "Where they stand" in seen and not re.findall(r"; checked \d", seen)
