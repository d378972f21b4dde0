"""The draft of a binder out of the clinic's page."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from records import clock
from tests import world as made
from tests.audit.binder.paper import holds
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_the_binder_is_a_pdf_file_and_the_same_bytes_twice(client, world):
    made.weekly_tests(world, 2)
    signed_in(client, world, "coordinator")
    period = {"from": "2025-03-16", "to": "2026-03-16"}
    first = get(client, "binder", world.clinic.slug, **period)
    assert first["Content-Type"] == "application/pdf"
    name = "draft-not-issued-first-2025-03-16-to-2026-03-16.pdf"
    assert first["Content-Disposition"] == f'attachment; filename="{name}"'
    assert first.content.startswith(b"%PDF")
    assert get(client, "binder", world.clinic.slug, **period).content == first.content
    # Without days it is the last twelve months, which are these.
    assert get(client, "binder", world.clinic.slug).content == first.content


@pytest.mark.parametrize(
    ("period", "told"),
    [
        ({"from": "soon", "to": "2026-03-16"}, "“soon” is not a day that can be read (the first day of the binder)"),
        ({"from": "2026-03-01", "to": "2026-04-01"}, "2026-04-01 (the last day of the binder) has not come yet"),
        ({"from": "2026-03-10", "to": "2026-03-01"}, "from 2026-03-10 to 2026-03-01. Swap the two days."),
        ({"from": "0000-00-00"}, "“0000-00-00” is not a day that can be read"),
        ({"from": "2025-03-01", "page": "folio"}, "“folio” is no size of paper that is known"),
    ],
)
def test_days_no_binder_can_have_keep_what_was_typed(client, world, period, told):
    answer = get(signed_in(client, world, "coordinator"), "binder", world.clinic.slug, **period)
    assert answer.status_code == 400
    assert told in text_of(answer)
    for name, typed in ((n, t) for n, t in period.items() if n != "page"):
        assert re.search(rf'name="{name}" value="{typed}"', answer.content.decode()), name


def test_the_binder_answers_for_the_day_asked_about_or_says_why_not(client, world):
    signed_in(client, world, "coordinator")
    of_today = get(client, "binder", world.clinic.slug)
    earlier = get(client, "binder", world.clinic.slug, as_of="2026-02-02")
    assert earlier.status_code == 200 and earlier.content != of_today.content
    assert get(client, "binder", world.clinic.slug, as_of="2099-01-01").status_code == 400


def test_the_binder_holds_only_what_had_been_logged_by_a_moment(client, world):
    signed_in(client, world, "coordinator")
    first = get(client, "binder", "first", to="2026-03-16").content
    with clock.at(made.NOW + timedelta(hours=2)):
        made.spore_test(world, date(2026, 3, 10), test="growth")
        later = get(client, "binder", "first", to="2026-03-16")
        then = get(client, "binder", "first", to="2026-03-16", known_at="2026-03-16T09:30")
        unread = get(client, "binder", "first", known_at="soon")
    assert holds(later.content, "Positive spore test") and not holds(first, "Positive spore test")
    assert then.status_code == 200 and not holds(then.content, "Positive spore test")
    assert holds(then.content, "logged up to 16 Mar 2026 14:30 UTC")
    assert unread.status_code == 400 and "“soon” is not a moment" in text_of(unread)


def test_the_form_of_the_binder_carries_the_day_and_the_moment_of_the_page(client, world):
    signed_in(client, world, "coordinator")
    html = get(client, "clinic", "first", known_at="2026-03-16T08:30").content.decode()
    assert '<input type="hidden" name="as_of" value="2026-03-16">' in html
    assert '<input type="hidden" name="known_at" value="2026-03-16T08:30:00-05:00">' in html
    assert 'type="hidden" name="as_of"' not in get(client, "clinic", "first").content.decode()
