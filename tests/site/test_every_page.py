"""The list of pages that are looked at by machine is whole: every address is on it, or says why it is no page."""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from tests.records.test_url_walk import named_addresses
from tests.site.every_page import NO_PAGE, addresses, client_of, full, is_page, name_of, seen  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db
WHO = ("coordinator", "dispatcher", "technician", "owner", "")


def test_every_address_is_walked_or_says_why_it_is_no_page(full):  # noqa: F811
    walked = {name_of(address) for address in addresses(full)} - {""}
    assert walked | set(NO_PAGE) == named_addresses()
    assert not walked & set(NO_PAGE)


def test_every_walked_address_gives_a_page_to_somebody(full):  # noqa: F811
    nothing_there = ("/no/such/page/", *_closed(full))

    def shown(address):
        return any(a.status_code == 200 and is_page(a) for a in (seen(full, role, address) for role in WHO))

    assert [address for address in addresses(full) if address not in nothing_there and not shown(address)] == []


def _closed(world) -> tuple[str, str]:
    """Addresses at which there is nothing for anybody here: what they answer is a page too."""
    return reverse("inspect", args=["x" * 43]), reverse("clinic", args=[world.other_clinic.slug])


def _kind(answer) -> str:
    if answer.status_code >= 400:
        return "takes a form" if answer.status_code == 405 else "not there"
    if answer.status_code == 302:
        return "leads on"
    return "a page" if is_page(answer) else "a file, a picture or data"


def test_what_is_said_to_be_no_page_is_none(full):  # noqa: F811
    clients = [client_of(full, role) for role in WHO[:3]]
    wrong = []
    for name, (why, args) in NO_PAGE.items():
        asks = {"round-sheets": f"?clinic={full.clinic.slug}", "stops-sheets": f"?on={full.more.stop.on}"}
        query = asks.get(name, f"?unit={full.unit.ref}")
        answers = [client.get(reverse(name, args=args(full)) + query) for client in clients]
        found = {_kind(answer) for answer in answers}
        expected = next((k for k in ("takes a form", "leads on") if why.startswith(k)), "a file, a picture or data")
        if "a page" in found or expected not in found:
            wrong.append((name, why, found))
    assert wrong == []


# A code that only this program and its rules know; with its words behind it ("V2 air leakage …") it is none.
CODES = re.compile(
    r"\bR(?:1[01]|[1-9])\b(?!: [a-z])|\bV(?:1[0-9]|[1-9])\b(?! [a-z])|\bin grace\b|\bentry \d+ of another\b"
)


def test_no_page_shows_a_code_without_words(full):  # noqa: F811
    pages = {(role, a): seen(full, role, a) for role in WHO for a in addresses(full)}
    shown = {place: words_of(answer.content.decode()) for place, answer in pages.items() if is_page(answer)}
    assert len(shown) > 100 and any("V2 " in words for words in shown.values()), "codes with their words are there"
    found = {(role, a, code) for (role, a), words in shown.items() for code in CODES.findall(words)}
    assert found == set()


def words_of(page: str) -> str:
    """What is read of a page: its text without scripts, and names that are only spoken."""
    text = re.sub(r"<(script|style)\b.*?</\1>|<!--.*?-->", " ", page, flags=re.S)
    spoken = " ".join(re.findall(r'\b(?:aria-label|placeholder|title|alt)="([^"]*)"', text))
    return " ".join(html.unescape(f"{re.sub(r'<[^>]+>', ' ', text)} {spoken}").split())
