"""A whole visit on a phone in a real browser: how many taps and typed characters it takes, and what is on record.

The work: a two-year maintenance of eight tasks, three parts with their lots, two readings as found and as left.
"""

from __future__ import annotations

import time
from collections import Counter
from decimal import Decimal

import pytest

from audit.models import VisitDraft
from records import clock
from records.doors import uploads
from records.models import (
    CounterReading,
    FittedPart,
    JobConclusion,
    Photo,
    Reading,
    Signature,
    Taken,
    TaskOutcome,
    VerificationTest,
    Visit,
)
from tests import visit_world
from tests import world as made

from . import one_browser
from .offline_page import until
from .test_browser import browser, sideways, sign_in  # noqa: F401 (browser is a fixture)
from .walked_device import judged_once

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Ticked, or chosen in a list where something other than its blank line is.
CHOSEN = "main input:checked, main option:checked:not([value=''])"
MOST_TAPS, MOST_TYPED = 45, 60  # ten of the taps make the unit safe


@pytest.fixture
def kettle(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(made.NOW):
        built = visit_world.make()
    clock.stand_at(made.NOW)
    with judged_once():
        yield built
    clock.stand_at(None)


def held_in_hand(browser, **more):  # noqa: F811
    """A phone's page, whose faults are listened for, until its test is over."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, **more)
    context.set_default_timeout(one_browser.PATIENCE)
    opened = context.new_page()
    opened.faults = []
    opened.on("console", lambda m: opened.faults.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda e: opened.faults.append(str(e)))
    yield opened
    context.close()


@pytest.fixture
def phone(browser):  # noqa: F811
    yield from held_in_hand(browser)


@pytest.fixture
def plain_phone(browser):  # noqa: F811
    """Without the worker of the site, for what no page out of the store of the device has to do with."""
    yield from held_in_hand(browser, service_workers="block")


class Finger:
    """One finger: every touch is a tap, every key a typed character, that to the next field too."""

    def __init__(self, page):
        self.page, self.taps, self.typed, self.small = page, 0, 0, []

    def tap(self, *, label="", button="", link="", within="main"):
        place = self.page.locator(within)
        if label:
            target = place.locator(f"label.choice:has-text('{label}') >> visible=true").first
        elif button:
            target = place.get_by_role("button", name=button)
        else:
            target = place.get_by_role("link", name=link, exact=True).first
        box = target.bounding_box()
        if box["height"] < 44 and not link:
            self.small.append((label or button, box["height"]))
        target.tap()
        self.taps += 1
        return self

    def choose(self, group: str, words: str):
        """Tap one answer of a group."""
        place = self.page.locator(f"fieldset#f-{group} label.choice").filter(has_text=words).first
        assert place.bounding_box()["height"] >= 44
        place.tap()
        self.taps += 1
        return self

    def type(self, name: str, text: str):
        self.page.locator(f"[name={name}]").tap()
        self.taps += 1
        self.page.keyboard.type(text)
        self.typed += len(text)
        return self

    def then(self, name: str, text: str):
        """Type into a field a little further on, by the key that leads there, past what is folded between."""
        keys = 0
        while keys < 3 and self.page.evaluate("document.activeElement.name") != name:
            self.page.keyboard.press("Tab")
            keys += 1
        assert self.page.evaluate("document.activeElement.name") == name
        self.page.keyboard.type(text)
        self.typed += keys + len(text)
        return self

    def go(self, button="Go on"):
        before = self.page.url
        self.tap(button=button)
        self.page.wait_for_url(lambda url: url != before)
        self.page.wait_for_load_state()
        assert sideways(self.page) == 0, self.page.url
        return self


def reading_names(page) -> list[str]:
    return [box.get_attribute("name") for box in page.locator(".visit-reading input").all()]


def test_a_two_year_maintenance_takes_few_taps_and_little_typing(plain_phone, live_server, kettle):
    phone = plain_phone
    technician, along = kettle.world.people["technician"], Counter()
    phone.on("requestfinished", lambda r: along.update([r.url] if "x-keep" in r.headers else []))
    sign_in(phone, live_server, technician.username)
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/unit/{kettle.unit.ref}/")
    finger = Finger(phone)
    finger.tap(link="Begin a visit")
    phone.wait_for_url("**/visit/?unit=*")
    finger.go("Begin")

    assert phone.locator(CHOSEN).count() == 0, "nothing is ticked beforehand"
    finger.choose("plate", "says the same").choose("positions", "are as on record").type("cycles", "5012").go()

    assert phone.locator(CHOSEN).count() == 0
    finger.choose("reason", "planned").choose("contamination", "declared clean")
    for n in range(1, 11):
        finger.tap(label=f"{n}. ")
    finger.go()

    temperature, pressure = reading_names(phone)
    finger.type(temperature, "134.4").then(pressure, "211").go()

    tasks = 0
    while "/task-" in phone.url:
        assert phone.locator(CHOSEN).count() == 0, "no result is ticked beforehand"
        if "/task-replace-" in phone.url:
            finger.choose("lot", "lot L-").choose("old_part", "scrapped").go("Done: replaced")
        else:
            finger.go("Done as planned")
        tasks += 1
    assert tasks == 8

    assert phone.locator(CHOSEN).count() == 0
    finger.type(temperature, "134.8").then(pressure, "212").choose("V1", "pass").go()

    finger.choose("conclusion", "released").tap(label="I release it")
    finger.choose("clinic", "returns it to use").type("clinic_name", "Ana Coordinator").go()
    finger.go("Record the visit")

    print(f"taps: {finger.taps}, typed characters: {finger.typed}")
    assert "/visits/" in phone.url and phone.faults == []
    assert finger.small == []
    assert (finger.taps <= MOST_TAPS, finger.typed <= MOST_TYPED) == (True, True), (finger.taps, finger.typed)
    assert along and max(along.values()) <= 2, f"who goes on at once has no page fetched again and again: {along}"
    _is_on_record(kettle)


def _is_on_record(kettle):
    """Row by row what was tapped and typed, and nothing else."""
    visit = Visit.objects.get(happened_on=made.TODAY)
    job = visit.jobs.get()
    assert (job.unit, job.reason, job.contamination, job.class_stated) == (
        kettle.unit,
        "planned",
        "declared clean",
        "A",
    )
    assert [done.split(" at ")[0] for _, done in job.make_safe] == ["done"] * 11
    outcomes = TaskOutcome.objects.filter(job=job)
    assert {(o.plan_line.code, o.outcome) for o in outcomes} == {(c, "done") for c, *_ in visit_world.PLAN}
    assert outcomes.count() == 8
    parts = FittedPart.objects.filter(job=job)
    assert {(p.position.code, p.name, p.number, p.lot, p.action, p.old_part) for p in parts} == {
        (code, name, number, f"L-{number}", "replaced on plan", "scrapped")
        for code, name, number in visit_world.PARTS
    }
    assert {p.part_lot for p in parts} == set(kettle.lots.values())
    found = {(r.quantity, r.as_found, r.as_left, r.lower, r.upper) for r in Reading.objects.filter(job=job)}
    assert found == {
        ("chamber temperature", Decimal("134.4"), Decimal("134.8"), Decimal(134), Decimal(137)),
        ("chamber pressure", Decimal(211), Decimal(212), Decimal(205), Decimal(230)),
    }
    assert {r.instrument for r in Reading.objects.filter(job=job)} == {"Logger L1"}
    tests = {(t.code, t.result) for t in VerificationTest.objects.filter(job=job)}
    assert tests == {("V1", "pass")}
    signed = {(s.meaning, str(s.signed_by)) for s in Signature.objects.filter(job=job)}
    assert signed == {("released", "Pat Technician"), ("returned to use", "Ana Coordinator")}
    assert JobConclusion.objects.get(job=job).conclusion == "released"
    assert CounterReading.objects.get(job=job).shown == Decimal(5012)
    draft = VisitDraft.objects.get()
    assert draft.visit == visit.ref and draft.recorded_at is not None


def told(page, words: str) -> None:
    """Wait until the page says so of what it keeps."""
    page.locator("[data-kept]", has_text=words).wait_for()


def begun(phone, live_server, kettle) -> str:
    sign_in(phone, live_server, kettle.world.people["technician"].username)
    phone.goto(f"{live_server.url}/clinic/{kettle.world.clinic.slug}/visit/?unit={kettle.unit.ref}")
    phone.get_by_role("button", name="Begin", exact=True).click()
    phone.wait_for_url("**/identify/")
    return phone.url.removesuffix("identify/")


def test_what_is_typed_or_taken_on_a_page_is_kept_and_no_answer_or_photo_is_lost(
    phone, browser, live_server, kettle, tmp_path, settings  # noqa: F811
):  # fmt: skip
    start = begun(phone, live_server, kettle)
    _typed_without_a_signal_it_is_there_again_and_reaches_the_server(phone, start)
    _two_devices_at_one_page_see_both_answers(phone, browser, live_server, kettle, start)
    phone.goto(f"{start}identify/")
    _a_photo_with_no_room_today_stays_on_the_phone_and_is_sent_later(phone, live_server, kettle, tmp_path, settings)
    phone.goto(f"{start}identify/")
    _a_photo_is_made_smaller_before_it_is_sent(phone, tmp_path)


def _typed_without_a_signal_it_is_there_again_and_reaches_the_server(phone, start: str) -> None:
    phone.context.set_offline(True)
    phone.locator("#f-plate label").first.tap()
    phone.fill("[name=cycles]", "5012")
    told(phone, "No signal")
    assert VisitDraft.objects.get().content["steps"] == {}
    phone.context.set_offline(False)
    phone.goto(f"{start}identify/")
    assert phone.input_value("[name=cycles]") == "5012"
    assert phone.locator("[name=plate]:checked").count() == 1
    phone.fill("[name=cycles]", "5013")
    told(phone, "on the server")
    assert VisitDraft.objects.get().content["steps"]["1/identify"]["data"] == {"plate": "same", "cycles": "5013"}
    assert phone.evaluate("Object.keys(localStorage).filter(k => k.startsWith('visit:')).length") == 0


def _two_devices_at_one_page_see_both_answers(phone, browser, live_server, kettle, start: str) -> None:  # noqa: F811
    second = browser.new_context(viewport={"width": 1280, "height": 800}, service_workers="block")
    other = second.new_page()
    sign_in(other, live_server, kettle.world.people["technician"].username)
    other.goto(f"{start}identify/")
    other.fill("[name=cycles]", "6000")
    told(other, "on the server")
    second.close()
    phone.fill("[name=cycles]", "5012")
    told(phone, "Another device")
    phone.get_by_role("button", name="Go on").tap()
    phone.wait_for_selector("h1:has-text('Two answers')")
    text = phone.locator("main").inner_text()
    assert "6000" in text and "5012" in text
    phone.get_by_role("button", name="Keep what was sent now").tap()
    phone.wait_for_selector("h2:has-text('Kept, but not complete yet')")
    assert VisitDraft.objects.get().content["steps"]["1/identify"]["data"]["cycles"] == "5012"


def _a_photo_with_no_room_today_stays_on_the_phone_and_is_sent_later(
    phone, live_server, kettle, tmp_path, settings
) -> None:  # fmt: skip
    technician = kettle.world.people["technician"]
    with uploads.counted(technician, kettle.world.clinic, settings.UPLOADS_ACCOUNT_MIB * 2**20, "UTC"):
        pass
    take_photo(phone, picture(tmp_path), "Counter")
    told(phone, "kept on this device, and sent by itself then")
    assert VisitDraft.objects.get().content["photos"] == []
    phone.goto(f"{live_server.url}/waiting/")
    item = phone.locator(".waiting-item")
    item.locator("strong", has_text="keeps no more files today").wait_for()
    assert "This file was not kept" in item.inner_text()
    Taken.objects.all().delete()  # as on the next day
    item.get_by_role("button", name="Try again").tap()
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    assert [photo["caption"] for photo in VisitDraft.objects.get().content["photos"]] == ["Counter"]


def _a_photo_is_made_smaller_before_it_is_sent(phone, tmp_path) -> None:
    from PIL import Image

    large = tmp_path / "large.png"
    Image.effect_noise((3000, 2000), 80).save(large, compress_level=1)
    sent = []
    phone.on("request", lambda r: sent.append(len(r.post_data_buffer or b"")) if "/photo/" in r.url else None)
    phone.locator("summary", has_text="Add a photo").tap()
    phone.set_input_files("[name=photo]", large)
    phone.wait_for_selector("text=Photo kept")
    told(phone, "kept on the server")  # on this device it is kept before
    before, kept = VisitDraft.objects.get().content["photos"]
    assert before["caption"] == "Counter" and (kept["width"], kept["height"]) == (1600, 1067)
    assert sent[0] < large.stat().st_size / 2
    assert Photo.objects.count() == 0, "it is recorded with the visit, not before"


def kept_along(phone) -> None:
    """Wait until the pages of the visit are on the device."""
    phone.locator("form[data-visit][data-along-kept]").wait_for(state="attached", timeout=30000)


def picture(tmp_path):
    """A small photo as a phone sends it."""
    from PIL import Image

    path = tmp_path / "photo.jpg"
    Image.effect_noise((300, 200), 80).save(path)
    return path


def take_photo(phone, path, caption: str) -> None:
    phone.locator("summary", has_text="Add a photo").tap()
    phone.fill("[name=photo_caption]", caption)
    phone.set_input_files("[name=photo]", path)
    phone.locator("p", has_text=f"Photo kept: {caption}").wait_for()


def made_safe(finger):
    finger.choose("reason", "planned").choose("contamination", "declared clean")
    for n in range(1, 11):
        finger.tap(label=f"{n}. ")
    return finger


def record_without_a_signal(finger) -> None:
    """Without the times, which come from this device’s clock: it does not stand still with the server’s here."""
    for name in ("at", "departed_at"):
        finger.page.fill(f"[name={name}]", "")
    finger.tap(button="Record the visit")
    finger.page.locator("h2", has_text="Kept on this device, not recorded yet").wait_for()


def recorded_once_online(phone, live_server) -> Visit:
    """The queue sends by itself; the visit as it was recorded."""
    phone.context.set_offline(False)
    phone.goto(f"{live_server.url}/waiting/")
    end = time.monotonic() + 20
    while not Visit.objects.filter(happened_on=made.TODAY).exists():
        if time.monotonic() > end:
            pytest.fail(phone.locator("main").inner_text())
        phone.wait_for_timeout(200)
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    return Visit.objects.get(happened_on=made.TODAY)


def test_the_network_is_cut_in_the_middle_and_all_is_recorded_once_it_is_back(phone, live_server, kettle, tmp_path):
    start = begun(phone, live_server, kettle)
    finger = Finger(phone)
    kept_along(phone)
    finger.choose("plate", "says the same").choose("positions", "are as on record").go()
    made_safe(finger).go()
    phone.context.set_offline(True)
    finger.go()  # as found: nothing measured
    done = set()
    while "/task-" in phone.url:
        assert phone.url not in done, "the pages lead on without the server too"
        if not done:
            take_photo(phone, picture(tmp_path), "Old part")
        done.add(phone.url)
        if "/task-replace-" in phone.url:
            finger.choose("lot", "lot L-").choose("old_part", "scrapped").go("Done: replaced")
        else:
            finger.go("Done as planned")
    assert len(done) == 8
    assert phone.url == f"{start}prove/"
    finger.choose("V1", "pass").go()
    assert phone.url == f"{start}end/"
    # The page was kept before anything was proven: what it cannot know is judged when it is sent.
    assert "Still missing" not in phone.locator("main").inner_text()
    finger.choose("conclusion", "released").tap(label="I release it").choose("clinic", "returns it to use")
    finger.type("clinic_name", "Ana Coordinator").go()
    assert phone.url.endswith("/record/")
    assert phone.locator("[data-visit-held] li").count() == 11, "found, eight tasks, tests and the end are told"
    record_without_a_signal(finger)
    assert not Visit.objects.filter(happened_on=made.TODAY).exists()
    assert not {"1/prove", "1/end"} & set(VisitDraft.objects.get().content["steps"]), "only the device has them"
    phone.goto(f"{start}prove/")
    finger.choose("V1", "fail")
    told(phone, "record it again to send this")
    job = recorded_once_online(phone, live_server).jobs.get()
    assert JobConclusion.objects.get(job=job).conclusion == "released"
    assert TaskOutcome.objects.filter(job=job).count() == 8 and FittedPart.objects.filter(job=job).count() == 3
    photo = Photo.objects.get()
    assert photo.caption == "Old part" and TaskOutcome.objects.filter(origin=photo.about).exists()
    phone.goto(start.rsplit("/", 3)[0] + "/")
    left = phone.locator("[data-here-only] li li")
    left.wait_for()
    assert left.all_inner_texts() == ["As left, and tests: fail"], (
        "what was changed after it was queued is not dropped"
    )


def test_a_visit_is_begun_and_ended_without_a_signal(phone, live_server, kettle, tmp_path):
    sign_in(phone, live_server, kettle.world.people["technician"].username)
    clinic = f"{live_server.url}/clinic/{kettle.world.clinic.slug}/"
    phone.goto(clinic)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until(phone, "navigator.serviceWorker.controller !== null")
    phone.locator("[data-take-along]").tap()
    phone.locator(".take-along-said", has_text="On this device").wait_for(timeout=60000)
    phone.context.set_offline(True)
    phone.goto(f"{clinic}visit/?unit={kettle.unit.ref}")
    finger = Finger(phone)
    finger.tap(label="Kettle").go("Begin")
    assert phone.url == f"{clinic}visit/of/{kettle.unit.ref}/identify/"
    finger.choose("plate", "something differs").choose("positions", "are as on record").tap(button="Go on")
    told(phone, "the register is put right first")
    assert phone.url.endswith("/identify/"), "what differs stops without a signal too"
    finger.choose("plate", "says the same").type("cycles", "5012")
    take_photo(phone, picture(tmp_path), "Counter")
    finger.go()
    phone.reload()
    phone.go_back()
    assert phone.input_value("[name=cycles]") == "5012", "it is there again"
    finger.go()
    made_safe(finger).go().go()
    phone.locator("summary", has_text="Pages of this visit").tap()
    phone.get_by_role("link", name="Conclusion and signatures").tap()
    phone.wait_for_url("**/end/")
    finger.choose("conclusion", "not worked on").type("reason", "unit in use").choose(
        "meanwhile", "yes, as before"
    ).go()
    assert phone.url.endswith("/record/")
    record_without_a_signal(finger)
    assert VisitDraft.objects.count() == 0
    job = recorded_once_online(phone, live_server).jobs.get()
    assert JobConclusion.objects.get(job=job).reason == "unit in use"
    counter = CounterReading.objects.get(job=job)
    assert (counter.shown, Photo.objects.get().about) == (Decimal(5012), counter.origin)
    phone.goto(f"{clinic}visit/?unit={kettle.unit.ref}")
    until(phone, "Object.keys(localStorage).every(key => !key.startsWith('visit:'))")
    assert [fault for fault in phone.faults if "ERR_INTERNET_DISCONNECTED" not in fault] == []
