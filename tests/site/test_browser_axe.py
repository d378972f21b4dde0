"""Every kind of page is put before axe-core: on a phone and a desk, light and dark, as whoever sees most of it.

The rules are axe-core's own (WCAG 2.0 to 2.2, levels A and AA, and its best practices); whatever it calls serious or
critical fails. axe finds only what a program can find, so the keyboard has a story of its own beside this one.

Each page is loaded once, by the first who gets it. Another person looks at it again only where it shows an element of
a make that stood on no page before, so that nothing anybody sees stays unseen. A page made of nothing but what stood
on others before is looked at on a phone and light alone, with all rules. A run of everything takes some addresses.
"""

from __future__ import annotations

import re

import pytest

from tests.site.every_page import SENT_EMPTY, addresses, full, is_page, name_of, seen  # noqa: F401 (fixture)
from tests.site.looker import LOOKS, ONE_LOOK, Looker
from tests.site.shapes import shapes_of
from tests.site.test_browser import browser  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Operators, stores and viewers see parts of what the first three see.
ROLES = ("coordinator", "technician", "dispatcher", "", "owner")


def to_look_at(world, taken) -> list[tuple[str, str, bool]]:
    """(role, address, whether it shows what is new): each page for the first who gets it, or who sees what is new."""
    makes, found, reached = set(), [], set()
    for role in ROLES:
        for address in taken:
            answer = seen(world, role, address)
            if not is_page(answer):
                continue
            # What is refused or not there is one page each, whatever was asked for.
            page = address if answer.status_code == 200 else answer.status_code
            here = shapes_of(answer.content.decode())
            if page not in reached or here - makes:
                reached.add(page)
                found.append((role, address, bool(here - makes)))
            makes |= here
    return found


def named(address: str) -> str:
    """The address as the name of a picture."""
    return re.sub("[^a-z0-9]+", "_", re.sub("[0-9a-f-]{36}", "", address))[:60]


@pytest.fixture
def looker(browser, live_server, full):  # noqa: F811
    made = Looker(browser, live_server, full)
    yield made
    made.context.close()


def test_axe_finds_nothing_serious_on_any_page(looker, full, share):  # noqa: F811
    now, looked = None, to_look_at(full, share(addresses(full)))
    for role, address, new in looked:
        if role != now:
            looker.become(role)
            now = role
        looker.look(address, f"{role or 'anybody'}-{named(address)}", LOOKS if new else ONE_LOOK)
    assert looker.wrong == []
    assert looker.refused == []
    # That a page is refused or not there, the browser says too.
    assert [each for each in looker.complaints if "status of 40" not in each] == []
    enough = len(addresses(full)) // 8
    assert len(looked) > enough and sum(role == "coordinator" for role, *_ in looked) > enough // 2
    assert {role for role, *_ in looked} <= set(ROLES)


def test_axe_finds_nothing_serious_where_a_form_says_what_is_wrong(looker, full):  # noqa: F811
    looker.become("technician")
    forms = {name_of(address): address for address in addresses(full) if name_of(address) in SENT_EMPTY}
    for name, address in forms.items():
        looker.page.goto(looker.at + address)
        with looker.page.expect_navigation():
            # Sent as a browser sends it, past what a script would do first.
            looker.page.evaluate("document.querySelector('main form[method=post]').submit()")
        looker.look_here(f"{address}, sent empty", f"empty-{name}")
    assert looker.wrong == []
    assert set(forms) == set(SENT_EMPTY)
