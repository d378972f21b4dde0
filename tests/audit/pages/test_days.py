"""Which day a page answers for, and what a day gets that cannot be shown."""

from __future__ import annotations

from datetime import date

import pytest

from tests import world as made
from tests.audit.pages.tools import get, pages_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("yesterday", "“yesterday” is not a day that can be read"),
        ("2026-02-30", "“2026-02-30” is not a day that can be read"),
        ("2026-W11-1", "“2026-W11-1” is not a day that can be read"),
        ("2026-03-17", "2026-03-17 (the day asked about) has not come yet; today is 2026-03-16"),
        ("0001-01-01", "lies before any record"),
    ],
)
@pytest.mark.parametrize("name", ["clinic", "unit"])
def test_a_day_that_cannot_be_shown_gets_a_message_and_today(client, world, name, typed, told):
    args = dict(pages_of(world))[name]
    answer = get(signed_in(client, world, "coordinator"), name, *args, as_of=typed)
    assert answer.status_code == 400
    assert told in text_of(answer)
    assert answer.context["as_of"] == made.TODAY


def test_a_past_day_is_judged_from_what_had_happened_by_then(client, world):
    made.spore_test(world, date(2026, 3, 10), test="growth")
    signed_in(client, world, "coordinator")
    for name, args in pages_of(world)[:2]:
        # Known at the clinic on the eleventh, so on the tenth the unit was not yet out of service.
        assert "Out of service" not in text_of(get(client, name, *args, as_of="2026-03-10")), name
        then = text_of(get(client, name, *args, as_of="2026-03-11"))
        assert "Out of service" in then and "The answers of 11 Mar 2026" in then, name


def test_a_day_before_the_clinic_opened_is_shown_and_not_a_fault(client, world):
    signed_in(client, world, "coordinator")
    for name, args in pages_of(world)[:2]:
        answer = get(client, name, *args, as_of="2001-01-01")
        assert answer.status_code == 200, name
        assert "Not in use" in text_of(answer), name
