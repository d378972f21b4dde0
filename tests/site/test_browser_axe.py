"""Every kind of page is put before axe-core: on a phone and a desk, light and dark, as whoever sees most of it.

The rules are axe-core's own (WCAG 2.0 to 2.2, levels A and AA, and its best practices); whatever it calls serious or
critical fails. axe finds only what a program can find, so the keyboard has a story of its own beside this one.

Each page is loaded once, by the first who gets it. Another person looks at it again only where it shows an element of
a make that stood on no page before, so that nothing anybody sees stays unseen.
"""

from __future__ import annotations

import os
import re

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.conf import settings

from tests.site.every_page import SENT_EMPTY, addresses, client_of, full, is_page, name_of, seen  # noqa: F401 (fixture)
from tests.site.shapes import shapes_of
from tests.site.test_browser import browser, listen_for_refusals, sideways  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Operators, stores and viewers see parts of what the first three see.
ROLES = ("coordinator", "technician", "dispatcher", "", "owner")
# Shared out, so that two processes can walk at the same time.
WALKS = {"clinic": ROLES[:1], "company": ROLES[1:]}
PHONE, DESK = {"width": 360, "height": 800}, {"width": 1280, "height": 800}
CONTRAST = {"runOnly": ["color-contrast"]}
# Dark differs from light in nothing but colours, and those in nothing by width.
LOOKS = ((PHONE, "dark", CONTRAST), (PHONE, "light", {}), (DESK, "light", {}))
RUN = """async (options) => {
  const { violations } = await axe.run(document, options);
  return violations.filter((fault) => ["serious", "critical"].includes(fault.impact)).flatMap((fault) =>
    fault.nodes.map((node) => `${fault.id} (${fault.impact}): ${node.html.slice(0, 120)} ${node.failureSummary}`));
}"""
# What is pressed or filled in, and is less than 44 CSS pixels high.
SMALL = """() => [...document.querySelectorAll("main :is(.button, form button, select, .choice, .choices label," +
  " textarea, input:not([type=hidden], [type=checkbox], [type=radio]))")].filter((each) => {
    const box = each.getBoundingClientRect();
    return box.width > 1 && box.height < 43.5;
  }).map((each) => `${each.outerHTML.slice(0, 80)} is ${each.getBoundingClientRect().height} pixels high`)"""
SHOTS = os.environ.get("STANDING_SHOTS", "")  # a folder for pictures, to look at


def share_of(world, walk_of) -> list[tuple[str, str]]:
    """(role, address) for the roles of one share: each page for the first who gets it, or who sees something new."""
    makes, found, reached = set(), [], set()
    for role in ROLES[: ROLES.index(walk_of[-1]) + 1]:
        for address in addresses(world):
            answer = seen(world, role, address)
            if not is_page(answer):
                continue
            # What is refused or not there is one page each, whatever was asked for.
            page = address if answer.status_code == 200 else answer.status_code
            here = shapes_of(answer.content.decode())
            if page not in reached or here - makes:
                reached.add(page)
                if role in walk_of:
                    found.append((role, address))
            makes |= here
    return found


def named(address: str) -> str:
    """The address as the name of a picture."""
    return re.sub("[^a-z0-9]+", "_", re.sub("[0-9a-f-]{36}", "", address))[:60]


class Looker:
    """One browser window that looks at pages as several people."""

    def __init__(self, browser, live_server, world):  # noqa: F811
        self.at, self.world, self.wrong = live_server.url, world, []
        self.complaints: list[str] = []
        self.context = browser.new_context(viewport=PHONE, service_workers="block", reduced_motion="reduce")
        self.context.set_default_timeout(15000)
        self.page, self.refused = self.context.new_page(), listen_for_refusals(self.context)
        self.page.on("console", lambda m: self.complaints.append(m.text) if m.type == "error" else None)
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))

    def become(self, role: str) -> None:
        self.context.clear_cookies()
        if role:
            cookie = client_of(self.world, role).cookies[settings.SESSION_COOKIE_NAME].value
            self.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": self.at}])

    def look(self, address: str, name: str = "") -> None:
        self.page.goto(self.at + address)
        self.look_here(address, name)

    def look_here(self, address: str, name: str = "") -> None:
        """At the page that is open: all rules at both widths, and the colours once more when they are dark."""
        page = self.page
        # What is folded away is part of the page too.
        page.eval_on_selector_all("details", "all => all.forEach((d) => { d.open = true })")
        for size, scheme, rules in LOOKS:
            width = size["width"]
            page.set_viewport_size(size)
            page.emulate_media(color_scheme=scheme)
            self.wrong += [f"{address} at {width}, {scheme}: {fault}" for fault in self.faults(rules)]
            if sideways(page):
                self.wrong.append(f"{address} at {width}: {sideways(page)} pixels too wide")
            if SHOTS and name:
                page.screenshot(path=f"{SHOTS}/{name}-{width}-{scheme}.png", full_page=True)
        page.set_viewport_size(PHONE)
        self.wrong += [f"{address}: {small}" for small in page.evaluate(SMALL)]

    def faults(self, rules: dict) -> list[str]:
        """What is grave, in words. The script of axe is put into a page once."""
        if not self.page.evaluate("typeof axe === 'object'"):
            self.page.evaluate(AXE_SCRIPT)
        # Without the paths to elements, which are only said of what is wrong: the element itself is shown.
        quick = {"preload": False, "selectors": False, "ancestry": False, "xpath": False}
        return self.page.evaluate(RUN, {"resultTypes": ["violations"], **quick, **rules})


@pytest.fixture
def looker(browser, live_server, full):  # noqa: F811
    made = Looker(browser, live_server, full)
    yield made
    made.context.close()


@pytest.mark.parametrize("share", WALKS)
def test_axe_finds_nothing_serious_on_any_page(looker, full, share):  # noqa: F811
    now, looked = None, share_of(full, WALKS[share])
    for role, address in looked:
        if role != now:
            looker.become(role)
            now = role
        looker.look(address, f"{role or 'anybody'}-{named(address)}")
    assert looker.wrong == []
    assert looker.refused == []
    # That a page is refused or not there, the browser says too.
    assert [each for each in looker.complaints if "status of 40" not in each] == []
    assert len(looked) >= 20 and {role for role, _ in looked} <= set(WALKS[share])


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
