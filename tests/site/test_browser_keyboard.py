"""The whole job without a pointer: Tab, Enter, Space and the arrows, with the focus seen at every stop.

WCAG 2.2: 2.1.1 everything by keyboard, 2.1.2 no trap, 2.4.1 a way past what repeats, 2.4.7 the focus is visible,
2.4.11 it is not hidden behind something.
"""

from __future__ import annotations

import pytest

from audit.models import BinderJob
from records.models import BioTest, Entry, UserCheck
from tests import world as made
from tests.site.test_browser import (  # noqa: F401 (fixtures)
    PASSPHRASE,
    browser,
    on_a_desk,
    on_a_phone,
    page,
    sign_in,
    world,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_STOPS = 250
# What has the focus: its text or label, and whether it is drawn so that somebody sees it.
LOOK = """() => {
  const it = document.activeElement;
  if (!it || it === document.body) return null;
  const named = it.labels && it.labels.length ? it.labels[0] : it;
  const drawn = (e) => {
    const s = getComputedStyle(e);
    return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 1;
  };
  const holder = it.closest('.choice, .choices label');
  const box = it.getBoundingClientRect();
  const x = box.left + Math.min(box.width, innerWidth - Math.max(box.left, 0)) / 2;
  const y = box.top + Math.min(box.height, innerHeight - Math.max(box.top, 0)) / 2;
  const top = document.elementFromPoint(x, y);
  return {
    text: (it.getAttribute('aria-label') || named.textContent || it.value || '').replace(/\\s+/g, ' ').trim(),
    name: it.getAttribute('name') || '', tag: it.tagName, id: it.id,
    outlined: drawn(it) || (holder && drawn(holder)) || false,
    inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
    covered: !!top && top !== it && !it.contains(top) && !top.contains(it) && !(holder && holder.contains(top)),
  };
}"""


class Keys:
    """Somebody at the keyboard, who sees where the focus is and cannot see it where it is not drawn."""

    def __init__(self, page):  # noqa: F811
        self.page, self.unseen, self.stops = page, [], 0

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)

    def look(self):
        return self.page.evaluate(LOOK)

    def tab(self, back: bool = False):
        """One stop further; what has the focus then."""
        self.press("Shift+Tab" if back else "Tab")
        self.stops += 1
        seen = self.look()
        if seen and not (seen["outlined"] and seen["inside"]) or seen and seen["covered"]:
            self.unseen.append(f"{self.page.url}: {seen}")
        return seen

    def to(self, *, name: str = "", text: str = "") -> dict:
        """Tab until the field of that name, or the link or button with that text, has the focus."""
        passed = []
        for _ in range(MOST_STOPS):
            seen = self.tab()
            if seen and ((name and seen["name"] == name) or (text and seen["text"] == text)):
                return seen
            passed.append(seen and (seen["name"] or seen["text"][:30]))
        raise AssertionError(f"{name or text!r} was not reached from {self.page.url} in {MOST_STOPS} stops: {passed}")

    def enter(self) -> None:
        """Press Enter where it leads to another page."""
        with self.page.expect_navigation():
            self.press("Enter")

    def follow(self, text: str) -> None:
        self.to(text=text)
        self.enter()

    def unfold(self, heading: str) -> None:
        """Open the part of the page with that heading."""
        for _ in range(MOST_STOPS):
            seen = self.tab()
            if seen and seen["text"].startswith(heading):
                return self.press("Enter")
        raise AssertionError(f"{heading!r} was not reached from {self.page.url}")

    def choose(self, name: str, words: str) -> None:
        """Go to a list and walk down with the arrow until it says these words."""
        self.to(name=name)
        for _ in range(40):
            said = self.page.evaluate("document.activeElement.selectedOptions[0].textContent.trim()")
            if said.startswith(words):
                return
            self.press("ArrowDown")
        raise AssertionError(f"{name} never said {words!r}")

    def write(self, name: str, words: str) -> None:
        self.to(name=name)
        self.page.keyboard.type(words)


@pytest.fixture
def keys(page, live_server, world, settings):  # noqa: F811
    settings.BINDER_WORKER = "none"
    page.emulate_media(reduced_motion="reduce")  # a page that glides is looked at where it arrives
    return Keys(page)


def recorded(page) -> str:  # noqa: F811
    return page.locator("main").inner_text()


@on_a_desk
def test_from_signing_in_to_a_user_check_a_spore_test_and_a_binder_without_a_pointer(
    keys, page, live_server, world  # noqa: F811
):  # fmt: skip
    page.goto(live_server.url + "/")
    keys.write("username", world.people["coordinator"].username)
    keys.write("password", PASSPHRASE)
    keys.enter()
    # The first stop leads past what repeats on every page.
    assert keys.tab()["text"] == "Skip to the record"
    keys.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    assert keys.tab() and page.evaluate("document.querySelector('main').contains(document.activeElement)")

    keys.unfold("Log, look up, print, set up")
    keys.follow("All entries")
    keys.unfold("Enter a check, a credential")
    keys.follow("Log a user check")
    keys.choose("unit", "Unit 1")
    keys.choose("kind", "water")
    keys.choose("result", "pass")
    keys.follow("Record")
    assert UserCheck.objects.get().result == "pass", recorded(page)

    keys.follow(world.clinic.name)
    keys.follow("Start a spore test")
    keys.choose("unit", "Unit 2")
    keys.choose("lot", "Invented spore ampoule")
    keys.choose("control_lot", "Invented spore ampoule")
    keys.write("cycle_type", "wrapped")
    keys.choose("mechanical", "pass")
    keys.choose("chemical", "pass")
    keys.follow("Record")
    assert BioTest.objects.get().unit.label == "Unit 2", recorded(page)

    if page.locator("h1").inner_text() != world.clinic.name:
        keys.follow(world.clinic.name)
    keys.unfold("The binder")
    keys.follow("Make the binder")
    assert BinderJob.objects.get().clinic_id == world.clinic.pk, recorded(page)
    assert keys.unseen == []


@on_a_desk
def test_no_page_holds_the_focus_and_the_way_back_is_the_way_there(keys, page, live_server, world):  # noqa: F811
    sign_in(page, live_server, world.people["coordinator"].username)
    start = f"{live_server.url}/clinic/{world.clinic.slug}/"
    for where in ("", f"unit/{world.unit.ref}/", "spore-tests/log/", "entries/", "visits/log/", "day/"):
        page.goto(start + where)
        there = []
        for _ in range(MOST_STOPS):
            seen = keys.tab()
            if seen is None:
                break
            there.append(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
        assert seen is None, f"{where}: the focus never left the page"
        # A date holds several stops of its own.
        order = list(dict.fromkeys(there))
        assert len(order) >= 3 and order == sorted(order), f"{where}: the order of the stops is not that of the page"
        back = []
        for _ in range(len(there) + 5):
            if keys.tab(back=True) is None:
                break
            back.append(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
        assert list(dict.fromkeys(back)) == order[::-1], where
    assert keys.unseen == []


@on_a_phone
def test_space_ticks_and_enter_refuses_without_losing_what_was_typed(keys, page, live_server, world):  # noqa: F811
    before = Entry.objects.count()
    sign_in(page, live_server, world.people["coordinator"].username, f"/clinic/{world.clinic.slug}/spore-tests/log/")
    keys.write("cycle_type", "wrapped 134")
    keys.to(name="implant")
    keys.press("Space")
    assert page.locator("[name=implant]").is_checked()
    keys.follow("Record")
    assert "Nothing was recorded" in recorded(page) and Entry.objects.count() == before
    assert page.locator("[name=cycle_type]").input_value() == "wrapped 134"
    assert page.locator("[name=implant]").is_checked()
    problem = page.locator(".problems a").first
    assert problem.is_visible()
    keys.to(text=problem.inner_text().strip())
    keys.press("Enter")
    assert page.evaluate("document.activeElement.closest('form') !== null"), "the problem leads to its field"
    assert made.TODAY.isoformat() in page.locator("[name=on]").input_value()
