"""The clinic's side of inspectors' links: made once, shown once, listed with their openings, ended with a reason."""

from __future__ import annotations

import hashlib
import re
from datetime import timedelta
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from audit.pages.links import new_token
from records import log
from records import models as m
from records.models import InspectorLink, InspectorLinkEnd
from tests import world as made
from tests.audit.pages.issued import link_to
from tests.audit.pages.tools import get, signed_in, text_of
from tests.inline import refused
from tests.records.one_of_each import binder_issued

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path


@pytest.fixture
def issue(world):
    return binder_issued(world)


def typed(**changes):
    fields = {"request_key": str(made.key()), "for_whom": "A. Inspector", "expires_on": "2026-03-30"}
    return fields | changes


def make(client, issue, **changes):
    return client.post(reverse("make-link", args=["first", issue.ref]), typed(**changes))


def shown(page) -> str:
    """The address on the page."""
    return unescape(re.search(r"<textarea[^>]*>(http[^<]+)<", page.content.decode()).group(1))


def test_tokens_are_long_and_never_the_same():
    """32 random bytes in base64url without padding are 43 characters (RFC 4648, section 5)."""
    tokens = {new_token() for _ in range(200)}
    assert len(tokens) == 200 and all(re.fullmatch(r"[A-Za-z0-9_-]{43}", t) for t in tokens)


def test_the_form_proposes_two_weeks_and_says_the_latest_day(client, world, issue):
    page = get(signed_in(client, world, "coordinator"), "make-link", "first", issue.ref)
    assert 'value="2026-03-30"' in page.content.decode(), "14 days after 16 March"
    assert "2026-06-14 at the latest" in text_of(page), "90 days after 16 March"


def test_the_address_is_shown_once_and_opens_the_binder(client, world, issue):
    page = make(signed_in(client, world, "coordinator"), issue)
    link = InspectorLink.objects.get()
    token = shown(page).rstrip("/").rsplit("/", 1)[-1]
    assert link.digest == hashlib.sha256(token.encode()).hexdigest()
    assert "no-store" in page["Cache-Control"] and page["Referrer-Policy"] == "same-origin"
    assert "shown this once" in text_of(page)
    assert Client().get(reverse("inspect-binder", args=[token])).status_code == 200
    again = get(client, "links", "first")
    assert token not in again.content.decode()


def test_the_square_holds_the_address_and_is_drawn_in_the_page(client, world, issue):
    """Drawn again here from the address on the page: the same address gives the same modules."""
    import segno

    page = make(signed_in(client, world, "coordinator"), issue)
    expected = segno.make(shown(page), error="m", micro=False).svg_inline(scale=5, light="#fff")
    (modules,) = re.findall(r'class="qrline"[^>]* d="([^"]+)"', expected)
    page = page.content.decode()
    assert re.findall(r'class="qrline"[^>]* d="([^"]+)"', page) == [modules]
    assert "<title>Square to scan" in page, "said aloud"
    assert refused(page) == [] and "data:" not in page


def test_sent_twice_it_is_one_link_whose_address_is_not_shown_again(client, world, issue):
    signed_in(client, world, "coordinator")
    key = str(made.key())
    first = make(client, issue, request_key=key)
    again = make(client, issue, request_key=key)
    assert InspectorLink.objects.count() == 1
    assert "made before" in text_of(again) and "/inspect/" not in again.content.decode()
    assert "/inspect/" in first.content.decode()
    other = make(client, issue, request_key=key, for_whom="Somebody else")
    assert other.status_code == 409


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"for_whom": ""}, "This is missing"),
        ({"expires_on": ""}, "The day is missing"),
        ({"expires_on": "soon"}, "not a day of the calendar"),
        ({"expires_on": "2026-03-15"}, "is past"),
        ({"expires_on": "2026-06-15"}, "more than 90 days ahead"),
    ],
)
def test_what_cannot_be_is_refused_with_the_way_out_and_what_was_typed(client, world, issue, changes, says):
    page = make(signed_in(client, world, "coordinator"), issue, **changes)
    assert page.status_code == 422 and says in text_of(page)
    assert InspectorLink.objects.count() == 0
    if changes.get("expires_on"):
        assert 'value="A. Inspector"' in page.content.decode()


def test_today_and_the_ninetieth_day_are_allowed(client, world, issue):
    signed_in(client, world, "coordinator")
    for day in (made.TODAY, made.TODAY + timedelta(days=90)):
        assert make(client, issue, expires_on=day.isoformat()).status_code == 200
    assert InspectorLink.objects.count() == 2


def test_the_list_tells_each_link_its_state_and_openings(client, world, issue):
    link, token = link_to(world, issue)
    Client(headers={"user-agent": "Invented browser"}).get(reverse("inspect-binder", args=[token]))
    page = text_of(get(signed_in(client, world, "viewer"), "links", "first"))
    assert "A. Inspector, Invented County" in page and "Opened 1 time," in page
    assert "the file Invented browser" in page and "End this link" not in page
    assert "Ana Coordinator" in page


def test_many_openings_are_counted_and_the_newest_told(client, world, issue, django_assert_max_num_queries):
    links = [link_to(world, issue)[0] for _ in range(3)]
    for n in range(25):
        log.log_link_opening(request_key=made.key(), link=links[0], what="binder", agent=f"browser {n}")
    signed_in(client, world, "viewer")
    with django_assert_max_num_queries(25):
        page = text_of(get(client, "links", "first"))
    assert "Opened 25 times" in page and "25 times that day" in page and page.count("Not opened yet") == 2
    assert "browser 0" in page and m.Entry.objects.filter(what__contains="inspector's link").count() == 1


def test_ending_needs_a_reason_and_closes_at_once(client, world, issue):
    link, token = link_to(world, issue)
    signed_in(client, world, "dispatcher")
    end = reverse("end-link", args=["first", link.ref])
    assert client.post(end, {"request_key": str(made.key()), "reason": ""}).status_code == 422
    assert Client().get(reverse("inspect-binder", args=[token])).status_code == 200
    assert client.post(end, {"request_key": str(made.key()), "reason": "the inspection is over"}).status_code == 302
    assert InspectorLinkEnd.objects.get().reason == "the inspection is over"
    assert Client().get(reverse("inspect-binder", args=[token])).status_code == 410
    page = text_of(get(client, "links", "first"))
    assert "ended" in page and "the inspection is over" in page and "Dan Dispatcher" in page


def test_a_link_ended_already_says_so(client, world, issue):
    link, _ = link_to(world, issue)
    log.end_inspector_link(by=world.people["coordinator"], request_key=made.key(), link=link, reason="lost")
    page = signed_in(client, world, "coordinator").post(
        reverse("end-link", args=["first", link.ref]), {"request_key": str(made.key()), "reason": "again"}
    )
    assert page.status_code == 422 and "ended already" in text_of(page)


def test_without_a_link_the_list_says_how_to_make_one(client, world):
    assert "No link was made yet" in text_of(get(signed_in(client, world, "coordinator"), "links", "first"))
    assert "coordinator or the company" in text_of(get(signed_in(client, world, "viewer"), "links", "first"))
