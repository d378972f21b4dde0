"""The day of a service company in a real browser: its dispatcher, who is invited, and its stores."""

from __future__ import annotations

from datetime import date

import pytest
from pypdf import PdfReader

from records import clock, log
from records.models import Membership, PartLot, PlanLine
from tests import world as made
from tests.site import one_browser
from tests.site.test_browser import PASSPHRASE, browser, listen_for_refusals, page, sideways, sign_in  # noqa: F401
from tests.site.test_browser import world as two_units  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHRASE = "marmalade window bicycle"


@pytest.fixture
def world(two_units):  # noqa: F811
    """Unit 1 has a seal that is overdue and a filter due three weeks from now; its seal is known by number."""
    with clock.at(made.NOW):
        made.seal_replaced(two_units, date(2025, 2, 3))
        for code, months in (("replace-seal", 12), ("replace-air-filter", 15)):
            line = PlanLine.objects.filter(unit=two_units.unit, code=code).last()
            log.log_plan_line(
                by=two_units.people["coordinator"], request_key=made.key(), clinic=two_units.clinic,
                unit=two_units.unit,
                effective_on=made.TODAY, position=line.position, code=code, title=line.title, action="replace",
                months=months, source="Invented manual",
            )  # fmt: skip
        log.log_part(
            by=two_units.people["stores"], request_key=made.key(), owner=two_units.company, name="Cassette seal",
            number="INV-77", component="seal",
        )  # fmt: skip
    clock.stand_at(made.NOW)
    return two_units


def tap(sheet, role: str, name: str) -> None:
    """Press what is called so, and be on the page it leads to, which fits the window."""
    with sheet.expect_navigation():
        sheet.get_by_role(role, name=name).first.click()
    assert sideways(sheet) == 0, f"after {name}: wider than the window"


@pytest.fixture
def other_device(browser, page):  # noqa: F811
    """Makes somebody else's, as wide as the first one; what its pages refuse is a fault."""
    contexts, refused = [], []

    def make():
        contexts.append(browser.new_context(viewport=page.viewport_size, service_workers="block"))
        contexts[-1].set_default_timeout(one_browser.PATIENCE)
        refused.append(listen_for_refusals(contexts[-1]))
        return contexts[-1].new_page()

    yield make
    for context in contexts:
        context.close()
    assert not any(refused)


def pulls_forward(sheet) -> None:
    work = sheet.locator(".round-job").first
    assert "Overdue" in work.inner_text() and "Can be done on the same stop" in work.inner_text()
    sheet.locator("summary", has_text="Narrow the round").click()
    sheet.select_option("[name=early]", "0")
    tap(sheet, "button", "Show this")
    assert "early=0" in sheet.url and "Can be done on the same stop" not in sheet.locator("main").inner_text()
    assert sheet.locator(".round-week h2").all_inner_texts()[1].startswith("Week of 6 Apr 2026")
    sheet.go_back()
    assert sheet.locator(".round-week").count() == 1


def prints_job_sheets(sheet) -> str:
    sheet.locator(".round-stop summary").first.click()
    with sheet.expect_download() as file:
        sheet.get_by_role("button", name="Print the job sheets").first.click()
    return "".join(leaf.extract_text() for leaf in PdfReader(file.value.path()).pages)


def invites(sheet, name: str) -> str:
    tap(sheet, "link", "Keepers")
    tap(sheet, "link", "People and agreements")
    tap(sheet, "link", "Invite somebody")
    sheet.get_by_label("Name of the person").fill(name)
    sheet.get_by_label("Role").select_option("technician")
    tap(sheet, "button", "Make the link")
    return sheet.locator("#address").input_value()


def accepts(sheet, address: str) -> None:
    sheet.goto(address)
    assert sideways(sheet) == 0
    sheet.get_by_label("Log-in name").fill("nell")
    for label in ("Pass phrase", "Pass phrase once more"):
        sheet.get_by_label(label, exact=True).fill(PHRASE)
    tap(sheet, "button", "Make the log-in and join")
    assert "You belong to Keepers now, as technician" in sheet.locator("main").inner_text()


def test_a_round_is_planned_printed_shared_and_packed(page, live_server, world, other_device):  # noqa: F811
    sign_in(page, live_server, "dispatcher")
    tap(page, "link", "The round")
    pulls_forward(page)
    words = prints_job_sheets(page)
    assert "Unit 1" in words and "Replace cassette seal" in words and "Unit 2" not in words
    tap(page, "link", "List of these parts for printing")
    assert "INV-77" in page.locator(".round-parts tbody tr").first.inner_text()
    address = invites(page, "Nell New")

    nell = other_device()
    accepts(nell, address)
    assert Membership.objects.get(person__account__username="nell").role == "technician"
    tap(nell, "link", "The round")
    tap(nell, "link", "Begin the visit with Unit 1 at First Clinic")
    assert nell.get_by_label("Unit 1").is_checked() and not nell.get_by_label("Unit 2").is_checked()
    assert page.goto(address).status == 404  # taken once
    page.faults.clear()  # the browser tells of that page as of a fault

    stores = other_device()
    sign_in(stores, live_server, "stores")
    tap(stores, "link", "The round")
    assert stores.get_by_role("link", name="Begin the visit").count() == 0
    tap(stores, "link", "List of these parts for printing")
    assert "no usable lot on record" in stores.locator(".round-parts tbody tr").first.inner_text()
    tap(stores, "link", "Enter a receipt of parts")
    stores.get_by_label("Part", exact=True).select_option(label="Cassette seal INV-77")
    stores.get_by_label("Own receipt number").fill("R-9")
    stores.fill("[name=lot]", "S-31")
    stores.get_by_role("button", name="Record").last.click()
    stores.locator("h1", has_text="Parts to bring").wait_for()
    assert "lot S-31, receipt R-9" in stores.locator(".round-parts tbody tr").first.inner_text()
    assert PartLot.objects.get().owner_id == world.company.pk
    assert page.faults == []
