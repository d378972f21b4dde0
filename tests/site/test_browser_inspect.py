"""An inspector with a telephone in hand, and the clinic handing out a link, at a phone's and a desk's width."""

from __future__ import annotations

import os

import pytest

from records import clock
from records.models import InspectorLinkOpening
from tests import world as made
from tests.audit.pages.issued import issue_of, link_to
from tests.kept import kept
from tests.site.test_browser import browser, page, sideways, sign_in, sign_out  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHOTS = os.environ.get("STANDING_SHOTS", "")  # a folder for pictures, to look at


@kept(folder="BLOBS_DIR")
def issued_world():
    """Two units, six weeks of spore tests, and a binder that was issued."""
    # So that no entry has the clinic judged again at once: nobody looks yet.
    with clock.at(made.NOW):
        world = made.make(units=2)
        made.weekly_tests(world, 6)
        return world, issue_of(world)


@pytest.fixture
def both(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path / "blobs"
    found = issued_world()
    clock.stand_at(made.NOW)
    yield found
    clock.stand_at(None)


@pytest.fixture
def world(both):
    return both[0]


@pytest.fixture
def issued(both):
    return both[1]


def keep(page, name: str) -> None:  # noqa: F811
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}-{page.viewport_size['width']}.png", full_page=True)


def test_an_inspector_opens_the_link_reads_an_answer_and_takes_the_file(page, live_server, world, issued):  # noqa: F811
    link, token = link_to(world, issued)
    answer = page.goto(f"{live_server.url}/inspect/{token}/")
    assert answer.status == 200
    keep(page, "inspect")
    assert sideways(page) == 0 and page.faults == []
    first = page.locator("details", has_text="Evidence and source").first
    assert not first.locator("dl").is_visible()
    first.locator("summary").press("Enter")
    assert first.locator("dl").is_visible(), "evidence opens by keyboard"
    for each in page.locator("details").all():
        each.evaluate("d => { d.open = true }")
    assert sideways(page) == 0, "with everything open"
    with page.expect_download() as coming:
        page.get_by_role("link", name="Download the binder").press("Enter")
    assert coming.value.path().read_bytes().startswith(b"%PDF")
    assert list(InspectorLinkOpening.objects.order_by("id").values_list("what", flat=True)) == ["answers", "binder"]


def test_the_headings_and_targets_are_those_of_a_page_for_everyone(page, live_server, world, issued):  # noqa: F811
    """One first heading, no level left out (WCAG 2.2, 1.3.1), and links to press that are 24 pixels high (2.5.8)."""
    _, token = link_to(world, issued)
    page.goto(f"{live_server.url}/inspect/{token}/")
    levels = page.eval_on_selector_all("h1, h2, h3, h4", "all => all.map(h => Number(h.tagName[1]))")
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in zip(levels, levels[1:], strict=False))
    heights = page.eval_on_selector_all("summary, .button", "all => all.map(e => e.getBoundingClientRect().height)")
    assert heights and min(heights) >= 24


def test_an_address_that_opens_nothing_fits_the_telephone(page, live_server):  # noqa: F811
    answer = page.goto(f"{live_server.url}/inspect/{'x' * 43}/")
    assert answer.status == 404
    keep(page, "inspect-closed")
    assert sideways(page) == 0


def test_a_coordinator_makes_a_link_shows_it_and_ends_it(page, live_server, world, issued):  # noqa: F811
    sign_in(page, live_server, world.people["coordinator"].username, f"/clinic/{world.clinic.slug}/binders/")
    page.get_by_role("link", name="Make a link for an inspector").first.click()
    page.fill("[name=for_whom]", "A. Inspector, Invented County")
    keep(page, "make-link")
    assert sideways(page) == 0
    page.get_by_role("button", name="Make the link").press("Enter")
    page.wait_for_load_state()
    keep(page, "link-made")
    assert sideways(page) == 0 and page.faults == []
    box = page.locator("svg.segno").bounding_box()
    assert box["width"] >= 180 and box["width"] == pytest.approx(box["height"], abs=1)
    address = page.locator("#address").input_value()
    sign_out(page)
    page.wait_for_url("**/sign-in/")  # not refused for a page that says nothing of where it came from
    page.goto(address)
    assert page.locator("h1").inner_text() == world.clinic.name
    sign_in(page, live_server, world.people["coordinator"].username, f"/clinic/{world.clinic.slug}/links/")
    keep(page, "links")
    assert sideways(page) == 0 and "Opened 1 time" in page.locator("main").inner_text()
    page.get_by_role("link", name="End this link").click()
    page.fill("[name=reason]", "the inspection is over")
    page.get_by_role("button", name="Record").press("Enter")
    page.wait_for_url(f"{live_server.url}/clinic/{world.clinic.slug}/links/")
    assert page.goto(address).status == 410


def test_sheets_are_chosen_and_come_as_a_file(page, live_server, world):  # noqa: F811
    sign_in(page, live_server, world.people["operator"].username, f"/clinic/{world.clinic.slug}/sheets/")
    keep(page, "sheets")
    assert sideways(page) == 0 and page.faults == []
    with page.expect_download() as coming:
        page.get_by_role("button", name="Print the week sheet").press("Enter")
    assert coming.value.suggested_filename == "week-sheets-first-2026-03-16.pdf"
    assert coming.value.path().read_bytes().startswith(b"%PDF")
