"""How long the pages of the demo are, on a phone and on a desk, before anything is unfolded, and where they begin.

Screens of 740 pixels at 360 wide and of 900 at 1280 wide, as they are read standing. The limits are those of the
design of the pages; what forbids use, and what is asked first, is seen without scrolling far.
"""

from __future__ import annotations

import sqlite3

import pytest
from django.db import connection

from audit.management.commands.demo import STORY
from records import clock, demo
from records.models import FailureCase, Placement
from tests.demo_run import first_run
from tests.site.test_browser import browser, on_a_desk, page, sideways, sign_in  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 900}
CLINIC, COMPANY = "/clinic/wobblestone/", "/company/thimblewick/"
# Screens before anything is unfolded: at most so many on a phone and on a desk, whatever the page. An inspector's
# questions are a list of their own length, and a unit that waits for proof says what forbids its use.
MOST = (4, 2)
MORE = {"answers": (6, 2), "Unit 4": (4.2, 2)}
# (page, who looks, the first thing that is asked for, its place on a phone)
PAGES = [
    ("clinic", "mei", ".item", 740),
    ("Unit 3", "mei", ".answer", 400),
    ("Unit 1", "mei", ".answer", 400),
    ("Unit 4", "mei", ".answer", 400),
    ("today", "mei", ".quick", 400),
    ("answers", "mei", "#missing", 740),
    ("step by step", "mei", ".answer", 400),
    ("for the wall", "mei", ".desk-wall-what", 740),
    ("spore test", "mei", "select[name=unit]", 400),
    ("load", "mei", "select[name=unit]", 400),
    ("rules on file", "mei", ".chapter", 740),
    ("base rules", "mei", ".chapter", 900),
    ("company", "ines", ".table--answers tbody tr", 740),
    ("round", "ines", ".round-job", 740),
    ("work", "ines", ".round-stop", 740),
    ("parts", "ines", "#settle", 740),
]


@pytest.fixture
def at_the_demo(live_server, settings, tmp_path_factory):
    """The database of the run's demo, at its day."""
    folder, _ = first_run(tmp_path_factory)
    settings.BLOBS_DIR = folder / "blobs"
    connection.ensure_connection()
    kept = sqlite3.connect(folder / "standing.sqlite3")
    kept.backup(connection.connection)
    kept.close()
    clock.stand_at(demo.read_story(STORY).now)
    yield live_server
    clock.stand_at(None)


def address_of(name: str) -> str:
    fixed = {"clinic": CLINIC, "today": f"{CLINIC}day/", "answers": f"{CLINIC}answers/", "company": COMPANY}
    fixed |= {"spore test": f"{CLINIC}spore-tests/log/", "load": f"{CLINIC}loads/log/", "parts": f"{COMPANY}parts/"}
    fixed |= {"round": f"{COMPANY}round/", "work": f"{COMPANY}work/"}
    fixed |= {"rules on file": "/rules/", "base rules": "/rules/base/"}
    if name in ("step by step", "for the wall"):
        return f"{CLINIC}response/{_open_case()}/" + ("wall/" if name == "for the wall" else "")
    return fixed.get(name) or f"{CLINIC}unit/{_unit(name)}/"


def _open_case():
    """The failure that is not resolved: the newest."""
    return FailureCase.objects.in_force().filter(clinic__slug="wobblestone").latest("id").origin


def _unit(label: str):
    here = Placement.objects.in_force().filter(clinic__slug="wobblestone", unit__label=label)
    return here.latest("id").unit.origin


@on_a_desk
def test_no_page_is_longer_than_it_may_be_and_none_is_wider_than_its_window(page, at_the_demo):  # noqa: F811
    wrong, who = [], None
    for name, reader, first, begins in PAGES:
        if reader != who:
            sign_in(page, at_the_demo, reader)
            who = reader
        page.goto(at_the_demo.url + address_of(name))
        for size, most in zip((PHONE, DESK), MORE.get(name, MOST), strict=True):
            page.set_viewport_size(size)
            screens = page.evaluate("document.documentElement.scrollHeight") / size["height"]
            place = page.locator(first).first.bounding_box()["y"]
            print(f"{name}, {size['width']} wide: {screens:.1f} screens of at most {most}; {first} at {place:.0f}")
            if screens > most or (size is PHONE and place > begins) or sideways(page):
                wrong.append((name, size["width"], round(screens, 2), round(place), sideways(page)))
    assert wrong == []


@on_a_desk
def test_what_forbids_use_stands_first_and_is_never_folded(page, at_the_demo):  # noqa: F811
    sign_in(page, at_the_demo, "mei")
    page.goto(at_the_demo.url + CLINIC)
    words = page.locator(".item .word").all_inner_texts()
    assert words == ["Out of service", "Waiting for proof", "In service", "In service"]
    sign_in(page, at_the_demo, "ines")
    page.goto(at_the_demo.url + COMPANY)
    assert page.locator(".table--answers .word").first.inner_text() == "Out of service"
    sign_in(page, at_the_demo, "mei")
    page.goto(at_the_demo.url + address_of("Unit 4"))
    forbids = page.locator("section[aria-labelledby=forbids]")
    assert forbids.is_visible() and forbids.locator("xpath=ancestor::details").count() == 0
