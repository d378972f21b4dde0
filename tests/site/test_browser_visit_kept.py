"""What is typed or taken on a page of a visit and left at once is kept, in a real browser."""

from __future__ import annotations

import pytest

from audit.models import VisitDraft

from .offline_page import signed_in, until
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import Finger, kept_along, kettle, phone  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WAITING = "OutboxStore.all().then(all => all.map(each => Object.fromEntries(each.fields).photo_caption))"


def begun(phone, live_server, kettle) -> str:  # noqa: F811
    """A visit of the unit, begun with a signal and taken along. Returns the address under which its pages stand."""
    signed_in(phone, live_server, kettle.world.people["technician"])
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/?unit={kettle.unit.ref}")
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until(phone, "navigator.serviceWorker.controller !== null")
    phone.get_by_role("button", name="Begin", exact=True).click()
    phone.wait_for_url("**/identify/")
    kept_along(phone)
    return phone.url.removesuffix("identify/")


@pytest.fixture
def large(tmp_path):
    """A photo of about 4 MB."""
    from PIL import Image

    path = tmp_path / "large.jpg"
    Image.effect_noise((2600, 1950), 90).convert("RGB").save(path, quality=97)
    assert path.stat().st_size > 3_000_000
    return path


def test_what_is_typed_or_taken_and_left_at_once_is_kept(phone, live_server, kettle, large):  # noqa: F811
    start = begun(phone, live_server, kettle)
    _a_caption_typed_after_the_photo_was_sent_reaches_the_server(phone, large)
    phone.goto(f"{start}identify/")
    _a_photo_left_at_once_and_a_caption_typed_after_it_are_kept(phone, start, large)
    phone.goto(f"{start}identify/")
    _go_on_from_the_list_of_tasks_goes_on(phone, start)


def _a_caption_typed_after_the_photo_was_sent_reaches_the_server(phone, large) -> None:  # noqa: F811
    phone.locator("summary", has_text="Add a photo").tap()
    phone.set_input_files("[name=photo]", large)
    phone.locator("p", has_text="Photo kept").wait_for()
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    phone.locator("[name=photo_caption]").press_sequentially("Plate of the unit")
    phone.locator("[name=photo_caption]").blur()
    until(phone, "document.body.textContent.includes('kept: Plate')")
    phone.wait_for_timeout(300)
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    assert [photo["caption"] for photo in VisitDraft.objects.get().content["photos"]] == ["Plate of the unit"]
    assert phone.faults == []


def _a_photo_left_at_once_and_a_caption_typed_after_it_are_kept(phone, start: str, large) -> None:  # noqa: F811
    finger = Finger(phone)
    finger.choose("plate", "says the same").choose("positions", "are as on record")
    phone.context.set_offline(True)
    phone.locator("summary", has_text="Add a photo").tap()
    phone.set_input_files("[name=photo]", large)
    phone.get_by_role("button", name="Go on").tap()
    phone.wait_for_url("**/safe/")
    until(phone, "OutboxStore.all().then(all => all.length === 1)")
    phone.goto(f"{start}identify/")
    phone.locator("summary", has_text="Add a photo").tap()
    phone.set_input_files("[name=photo]", large)
    phone.fill("[name=photo_caption]", "The plate once more")
    phone.locator("p", has_text="Photo kept: The plate once more").wait_for()
    phone.get_by_role("button", name="Go on").tap()
    phone.wait_for_url("**/safe/")
    assert phone.evaluate(WAITING) == ["", "The plate once more"]
    phone.context.set_offline(False)
    phone.reload()
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    kept = VisitDraft.objects.get().content["photos"]
    assert "The plate once more" in {photo["caption"] for photo in kept}
    assert {photo["width"] for photo in kept} == {1600}


def _go_on_from_the_list_of_tasks_goes_on(phone, start: str) -> None:  # noqa: F811
    finger = Finger(phone)
    finger.choose("plate", "says the same").choose("positions", "are as on record").go()
    phone.goto(f"{start}tasks/")
    finger.go()
    assert "/task-" in phone.url, phone.locator("[data-kept]").inner_text()
    phone.goto(f"{start}extra-1/")
    phone.fill("[name=what]", "Straighten the shelf")
    finger.choose("action", "clean")
    phone.locator("summary", has_text="Condition and decision").tap()
    phone.fill("[name=found]", "It was bent")
    phone.get_by_role("button", name="Done as planned").tap()
    phone.wait_for_url(lambda url: "extra-1" not in url)
    phone.goto(f"{start.removesuffix('1/')}record/")
    assert "Straighten the shelf: It was bent" in phone.locator("main").inner_text()
