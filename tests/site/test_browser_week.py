"""The pages of a company's week by keyboard alone, and before axe-core at both widths: work, stops, the round, parts,
recalls, lists, what follows a visit.

`test_browser_axe` walks every page of the site; this file holds the week's apart, each with what stands on it when
there is something to do.
"""

from __future__ import annotations

import pytest
from django.urls import reverse

from audit.models import PlannedStop
from records import log
from tests import world as made
from tests.site.every_page import addresses, full, name_of  # noqa: F401 (fixture)
from tests.site.test_browser import browser, on_a_desk, page, sign_in  # noqa: F401 (fixtures)
from tests.site.test_browser_axe import Looker
from tests.site.test_browser_keyboard import MOST_STOPS, Keys

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WEEK = {
    "work", "stops", "stop", "round", "agree-stop", "call-off-visit", "stock", "stock-lot", "stock-move",
    "receive-parts", "part-recalls", "part-recall", "recall-told", "company-list", "clinic-list", "company-day",
}  # fmt: skip


@pytest.fixture
def week(full):  # noqa: F811
    """The furnished world with a visit that left a unit out of use, whose page offers a return."""
    job = {"unit": full.unit, "reason": "breakdown", "complaint": "it hisses", "contamination": "declared clean"}
    job["conclusion"] = {"conclusion": "not released", "reason": "part on order"}
    full.left_out = log.log_visit(
        by=full.people["technician"], request_key=made.key(), clinic=full.clinic, on=made.TODAY, jobs=[job]
    )
    return full


def of_the_week(world) -> dict[str, str]:
    """By name an address of each page of the week, and of the visit."""
    found = {name_of(address): address for address in addresses(world)}
    missing = WEEK - found.keys()
    assert not missing, f"the walk leaves out {missing}"
    visit = reverse("visit", args=[world.clinic.slug, world.left_out.origin])
    return {name: found[name] for name in sorted(WEEK)} | {"visit": visit}


def test_axe_finds_nothing_serious_on_the_pages_of_a_week(browser, live_server, week):  # noqa: F811
    looker = Looker(browser, live_server, week)
    try:
        looker.become("technician")
        looked = of_the_week(week)
        for name, address in looked.items():
            looker.look(address, f"week-{name}")
        assert looker.wrong == [] and looker.refused == []
        assert [each for each in looker.complaints if "status of 40" not in each] == []
        assert len(looked) == len(WEEK) + 1
    finally:
        looker.context.close()


@pytest.fixture
def keys(page, live_server, week):  # noqa: F811
    page.emulate_media(reduced_motion="reduce")
    sign_in(page, live_server, week.people["technician"].username)
    return Keys(page)


@on_a_desk
def test_a_return_is_planned_moved_and_called_off_without_a_pointer(keys, page, live_server, week):  # noqa: F811
    page.goto(live_server.url + reverse("visit", args=[week.clinic.slug, week.left_out.origin]))
    keys.follow("Plan it for Pat Technician")
    assert "/work/" in page.url
    stop = PlannedStop.objects.get(works__item__startswith="return:")
    assert stop.given_to == week.people["technician"]
    first = stop.agreed

    page.goto(live_server.url + reverse("stop", args=[week.company.slug, stop.pk]))
    keys.follow("Move it")
    keys.write("reason", "the part comes with it")
    keys.write("agreed_with", "Rae Reception")
    keys.follow("Record")
    stop.refresh_from_db()
    assert stop.agreed not in (None, first), page.locator("main").inner_text()

    keys.follow("Call it off")
    keys.write("reason", "a towel was in the door")
    keys.write("told_to", "Rae Reception")
    keys.follow("Record")
    assert not PlannedStop.objects.filter(pk=stop.pk).exists()

    page.goto(live_server.url + reverse("work", args=[week.company.slug]))
    keys.to(name="item")
    keys.press("Space")
    assert page.evaluate("document.activeElement.checked")
    assert keys.unseen == []


@on_a_desk
def test_no_page_of_the_week_holds_the_focus_and_each_stop_is_seen(keys, page, live_server, week):  # noqa: F811
    for name, address in of_the_week(week).items():
        page.goto(live_server.url + address)
        order = []
        for _ in range(MOST_STOPS):
            seen = keys.tab()
            if seen is None:
                break
            order.append(page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
        assert seen is None, f"{name}: the focus never left the page"
        kept = list(dict.fromkeys(order))
        assert len(kept) >= 3 and kept == sorted(kept), f"{name}: the order of the stops is not that of the page"
    assert keys.unseen == []
