"""Scanning in a real browser: a scanner that types, the reader kept with the site, labels read back from paper.

The policy of the site holds on every page, without an exception for scripts: the reader runs in a worker.
"""

from __future__ import annotations

import base64
import io
import os
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from audit.binder.pdf.unit_labels import COLUMNS, ROWS, TALL, WIDE
from records import log
from records.models import BioTest, IndicatorLot
from records.scan.gs1 import read
from tests import programs
from tests import world as made
from tests.site import one_browser
from tests.site.test_browser import (  # noqa: F401 (fixtures)
    browser,
    on_a_desk,
    on_a_phone,
    page,
    sideways,
    sign_in,
    world,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHOTS = os.environ.get("STANDING_SHOTS", "")  # a folder for pictures, to look at
# Made by an encoder of another hand from (01)09506000134352(17)271231(10)B-200(21)S7, as GS1 DataMatrix.
DATAMATRIX = Path(__file__).parent / "scans" / "gs1-datamatrix.png"
GTIN = "09506000134352"


def keep(page, name: str) -> None:  # noqa: F811
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}-{page.viewport_size['width']}.png", full_page=True)


# How fast keys come is what the test says, however busy the machine is: so many ms between two keys.
PACE = """window.keyPace = 10;
const told = new WeakMap(), native = Object.getOwnPropertyDescriptor(Event.prototype, "timeStamp").get;
let now = 1000;
Object.defineProperty(Event.prototype, "timeStamp", { get() {
  if (this.type !== "keydown") return native.call(this);
  if (!told.has(this)) told.set(this, now += window.keyPace);
  return told.get(this);
} });"""


def begin(page, live_server, name: str, path: str) -> None:  # noqa: F811
    page.add_init_script(PACE)
    sign_in(page, live_server, name, path)


def wedge(page, text: str) -> None:  # noqa: F811
    """What a scanner that is a keyboard does: key after key, the separator as control and ], Enter at the end."""
    page.evaluate("window.keyPace = 10")
    for n, part in enumerate(text.split("\x1d")):
        if n:
            page.keyboard.press("Control+]")
        page.keyboard.type(part)
    page.keyboard.press("Enter")


def second_box(world, name: str = "Invented spore ampoule", lot: str = "B-200"):  # noqa: F811
    return log.log_indicator_lot(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, kind="biological",
        name=name, lot=lot, on=made.BEGIN, incubation_hours=24, expiry=date(2027, 12, 31),
    )  # fmt: skip


@on_a_phone
def test_a_scan_into_the_spore_test_form_chooses_the_box_and_sends_nothing(page, live_server, world):  # noqa: F811
    box = second_box(world)
    second_box(world, lot="B-700")
    second_box(world, lot="AB-7007")
    twin = second_box(world, "Invented spore strip", "B-700")
    begin(page, live_server, world.people["operator"].username, "/clinic/first/spore-tests/log/")
    address = page.url
    lot = page.locator("[name=lot]")
    lot.focus()
    wedge(page, f"]d201{GTIN}1727123110B-200\x1d21S7")
    page.get_by_text("Read: lot B-200, use by 2027-12-31").wait_for()
    assert lot.input_value() == str(box.origin)
    assert page.url == address and BioTest.objects.count() == 0, "Enter of the scanner sends no form"
    keep(page, "scan-bio")
    page.get_by_role("button", name="Take it back").click()
    assert lot.input_value() == ""
    page.locator("[name=control_lot]").focus()
    wedge(page, "b-200")
    page.get_by_text("Read: lot b-200").wait_for()
    assert page.locator("[name=control_lot]").input_value() == str(box.origin) and lot.input_value() == ""
    assert sideways(page) == 0 and page.faults == []

    # Two boxes of one lot are asked about; a lot that holds the letters of another is not that lot.
    page.reload()
    lot.focus()
    wedge(page, "b-700")
    page.get_by_text("Several in the list have this lot").wait_for()
    assert lot.input_value() == ""
    page.get_by_role("button", name="Invented spore strip, lot B-700").click()
    assert lot.input_value() == str(twin.origin)

    # A box that is not in the list leads to its entry.
    lot.focus()
    wedge(page, f"]d201{GTIN}1728013110NEW-1")
    page.get_by_role("link", name="Add it as a new box").click()
    page.wait_for_load_state()
    assert page.locator("[name=lot]").input_value() == "NEW-1"
    assert page.locator("[name=expiry]").input_value() == "2028-01-31"
    page.locator("[name=name]").fill("Invented spore ampoule")
    page.locator("[name=kind]").select_option("biological")
    page.locator("[name=incubation_hours]").fill("24")
    page.locator("main form button[type=submit]").last.click()
    page.wait_for_url("**/spore-tests/log/")
    assert IndicatorLot.objects.get(lot="NEW-1").expiry == date(2028, 1, 31)


@on_a_desk
def test_a_scan_anywhere_finds_its_field_and_the_control_follows_the_box(page, live_server, world):  # noqa: F811
    made.spore_test(world, date(2026, 3, 9))
    box = second_box(world)
    begin(page, live_server, world.people["coordinator"].username, "/clinic/first/spore-tests/log/")
    assert page.locator("[name=lot]").input_value() == str(world.lot.origin), "the last box"
    page.locator("[name=cycle_type]").focus()
    wedge(page, f"(01){GTIN}(17)271231(10)B-200")
    page.get_by_text("Read: lot B-200").wait_for()
    assert page.locator("[name=cycle_type]").input_value() == "", "a code does not stay in a field of text"
    for name in ("lot", "control_lot"):
        assert page.locator(f"[name={name}]").input_value() == str(box.origin)

    # The desk's own form takes it as well.
    page.goto(f"{live_server.url}/clinic/first/day/{world.unit.origin}/spore-test/")
    lot = page.locator("[name=lot]")
    lot.evaluate("e => { const d = e.closest('details'); if (d) d.open = true; }")
    lot.focus()
    wedge(page, f"]d201{GTIN}1727123110B-200\x1d21S7")
    page.get_by_text("Read: lot B-200").wait_for()
    assert lot.input_value() == str(box.origin) and BioTest.objects.count() == 1
    keep(page, "scan-desk")
    assert sideways(page) == 0

    # The question whether a unit may be used is sent with what was scanned.
    page.goto(f"{live_server.url}/clinic/first/may-it-be-used/")
    page.locator("[name=code]").focus()
    wedge(page, f"{live_server.url}/u/{world.units[1].origin}/")
    page.wait_for_url("**unit=**")
    assert page.locator("h1").inner_text().startswith("Unit 2")
    assert page.faults == []


@on_a_phone
def test_what_a_scan_cannot_settle_is_said_and_nothing_is_made_up(page, live_server, world):  # noqa: F811
    begin(page, live_server, world.people["operator"].username, "/clinic/first/indicator-lots/add/")
    lot, expiry = page.locator("[name=lot]"), page.locator("[name=expiry]")
    lot.focus()
    # Read two ways, it is asked about.
    wedge(page, f"]C101{GTIN}10ABC12317271231")
    choice = page.get_by_role("button", name="Yes: lot ABC123, use by 2027-12-31")
    choice.wait_for()
    assert lot.input_value() == expiry.input_value() == ""
    keep(page, "scan-asked")
    assert sideways(page) == 0
    choice.click()
    assert (lot.input_value(), expiry.input_value()) == ("ABC123", "2027-12-31")
    assert page.faults == []

    # Without a connection it is kept in sight.
    page.locator("[name=name]").fill("Typed before")
    page.route("**/scan/", lambda route: route.abort())
    lot.focus()
    wedge(page, f"]d201{GTIN}1728013110NEW-1")
    page.get_by_text("There is no connection").wait_for()
    page.get_by_text("The scan as it came").click()
    assert page.locator(".scan-said code").inner_text() == f"]d201{GTIN}1728013110NEW-1"
    assert page.locator("[name=name]").input_value() == "Typed before"
    page.unroute("**/scan/")

    # Slow typing is typing, and Enter sends the form.
    lot.fill("")
    lot.focus()
    page.evaluate("window.keyPace = 130")
    page.keyboard.type("B-30")
    page.keyboard.press("Enter")
    page.get_by_text("Nothing was recorded").wait_for()
    assert page.locator("[name=lot]").input_value() == "B-30"

    # Signed out meanwhile, the answer is a page and no fields: the script says so.
    page.context.clear_cookies(name="sessionid")
    page.locator("[name=lot]").fill("")
    page.locator("[name=lot]").focus()
    wedge(page, f"]d201{GTIN}1728013110NEW-1")
    page.get_by_text("You are signed out").wait_for()
    assert page.locator("[name=lot]").input_value() == ""


@on_a_phone
def test_a_picture_of_a_code_is_read_on_the_device(page, live_server, world, tmp_path):  # noqa: F811
    """The browser of the tests has no detector of its own, so the reader kept with the site does the work."""
    import segno
    from PIL import Image

    box, asked = second_box(world), []
    square, blank = tmp_path / "square.png", tmp_path / "blank.png"
    segno.make("B-200", error="m", micro=False).save(str(square), scale=4)
    Image.new("L", (300, 300), 255).save(blank)
    page.on("request", lambda r: asked.append(r.url))
    begin(page, live_server, world.people["operator"].username, "/clinic/first/spore-tests/log/")
    page.wait_for_load_state("networkidle")
    assert any(url.endswith("scan.js") for url in asked)
    assert [url for url in asked if "vendor/" in url or "scan-camera" in url] == [], "not before the camera is opened"
    for picture in (DATAMATRIX, square):
        page.get_by_role("button", name="Scan: Lot of the test").click()
        page.locator(".scan-window [role=status]", has_text="picture").wait_for()
        keep(page, f"scan-window-{picture.stem}")
        assert sideways(page) == 0
        page.set_input_files("[name=scan-picture]", str(picture))
        page.get_by_text("Read: lot B-200").wait_for(timeout=60_000)
        assert page.locator("[name=lot]").input_value() == str(box.origin)
        page.get_by_role("button", name="Take it back").click()
        assert page.locator("[name=lot]").input_value() == ""
    assert all(url.startswith(live_server.url) for url in asked), "nothing leaves the device but to its own site"
    assert any(url.endswith("zxing_reader.wasm") for url in asked)
    assert page.locator(".scan-window").count() == 0 and page.faults == []
    page.get_by_role("button", name="Scan: Lot of the test").press("Enter")
    page.locator(".scan-window [role=status]", has_text="picture").wait_for()
    page.set_input_files("[name=scan-picture]", str(blank))
    page.get_by_text("No code was found").wait_for(timeout=60_000)
    page.keyboard.press("Escape")
    page.locator(".scan-window").wait_for(state="detached")
    assert page.evaluate("document.activeElement.name") == "lot"


def test_the_scan_page_leads_from_a_label_to_the_unit(page, live_server, world):  # noqa: F811
    begin(page, live_server, world.people["technician"].username, "/clinic/first/scan/")
    keep(page, "scan-page")
    assert page.evaluate("document.activeElement.name") == "scan"
    wedge(page, f"{live_server.url}/u/{world.unit.origin}/")
    link = page.get_by_role("link", name="Open the unit’s page")
    link.wait_for()
    keep(page, "scan-unit")
    assert sideways(page) == 0 and page.faults == []
    assert page.get_by_role("link", name="Begin a visit").is_visible()
    link.click()
    assert page.locator("h1").inner_text() == "Unit 1"


def decoded(page, picture, static: str) -> str:  # noqa: F811
    """The text of the code in a picture, by the worker and the reader kept with the site; "" when there is none."""
    drawn = io.BytesIO()
    picture.save(drawn, "PNG")
    script = """async ([text, at]) => {
        const bytes = Uint8Array.from(atob(text), (each) => each.charCodeAt(0));
        const bitmap = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
        const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d");
        context.drawImage(bitmap, 0, 0);
        const worker = new Worker(`${at}scan-worker.js`);
        const vendor = `${at}vendor/zxing-wasm/`;
        worker.postMessage({ reader: `${vendor}reader.js`, wasm: `${vendor}zxing_reader.wasm` });
        const image = context.getImageData(0, 0, bitmap.width, bitmap.height);
        return new Promise((resolve) => {
            worker.addEventListener("message", ({ data }) => resolve(data.problem || data.text));
            worker.postMessage({ id: 1, image });
        });
    }"""
    return page.evaluate(script, [base64.b64encode(drawn.getvalue()).decode(), static])


@on_a_desk
def test_labels_are_read_back_from_the_printed_sheet(page, live_server, world):  # noqa: F811
    begin(page, live_server, world.people["coordinator"].username, "/clinic/first/labels/")
    for size in ("letter", "a4"):
        _read_back(page, live_server, world, _printed(page, live_server, size))


def _printed(page, live_server, size: str):  # noqa: F811
    """A picture of the sheet with the two labels on its last two places."""
    import pypdfium2

    page.goto(f"{live_server.url}/clinic/first/labels/")
    keep(page, "labels")
    assert sideways(page) == 0 and page.faults == []
    page.fill("[name=skip]", "18")
    page.select_option("[name=page]", size)
    with page.expect_download() as coming:
        page.get_by_role("button", name="Print the labels").click()
    pdf = pypdfium2.PdfDocument(coming.value.path().read_bytes())
    assert len(pdf) == 1, "two labels on the last two places"
    drawn = pdf[0].render(scale=150 / 72).to_pil()
    if SHOTS:
        drawn.save(f"{SHOTS}/labels-{size}.png")
    return drawn


def _read_back(page, live_server, world, drawn) -> None:  # noqa: F811
    page.goto(f"{live_server.url}/clinic/first/scan/")
    static = f"{live_server.url}/static/audit/"
    # The last two places, each a quarter of the sheet wide; the block of them stands in the middle.
    wide, tall, scale = drawn.width, drawn.height, 150 / 72
    left, foot = (wide - COLUMNS * WIDE * scale) / 2, (tall + ROWS * TALL * scale) / 2
    for n, unit in zip((2, 3), world.units, strict=True):
        box = (left + n * WIDE * scale, foot - TALL * scale, left + (n + 1) * WIDE * scale, foot)
        text = decoded(page, drawn.crop([round(each) for each in box]), static)
        assert text == f"]Q1{live_server.url}/u/{unit.origin}/"
        assert read(text, made.TODAY).unit == str(unit.origin)
    page.goto(text.removeprefix("]Q1"))
    assert page.locator("h1").inner_text() == "Unit 2"


@on_a_phone
def test_a_part_in_a_visit_is_filled_row_by_row(page, live_server, world):  # noqa: F811
    technician = world.people["technician"].username
    begin(page, live_server, technician, f"/clinic/first/visits/log/?units={world.unit.origin}")
    parts = page.locator("[data-rows$=parts]")
    parts.evaluate("e => { e.closest('details').open = true; }")
    for _ in range(2):
        parts.locator("button[name=more]").click()
    last = parts.locator("[data-row]").last
    last.locator("[name$='-lot']").focus()
    wedge(page, f"]d201{GTIN}1728010110S-77")
    page.get_by_text("Read: lot S-77").wait_for()
    filled = {name: last.locator(f"[name$='-{name}']").input_value() for name in ("lot", "number", "expiry")}
    assert filled == {"lot": "S-77", "number": GTIN, "expiry": "2028-01-01"}
    first = parts.locator("[data-row]").first
    assert first.locator("[name$='-lot']").input_value() == "", "only the row that was scanned into"
    assert sideways(page) == 0 and page.faults == []


def film(path: Path, text: str) -> None:
    """What a camera would see, as an uncompressed film (YUV4MPEG2, 4:2:0): a code on grey, two frames."""
    import segno
    from PIL import Image

    code = io.BytesIO()
    segno.make(text, error="m", micro=False).save(code, kind="png", scale=7)
    frame = Image.new("L", (640, 480), 200)
    frame.paste(Image.open(code).convert("L"), (120, 90))
    colour = bytes([128]) * (320 * 240 * 2)
    path.write_bytes(b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420\n" + (b"FRAME\n" + frame.tobytes() + colour) * 2)


def test_the_camera_reads_a_code_that_it_sees(browser, live_server, world, tmp_path):  # noqa: F811
    """A browser of its own, whose camera shows a film; the fixture comes first to say where Chromium is missing."""
    film(tmp_path / "film.y4m", "B-200")
    camera = [
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={tmp_path / 'film.y4m'}",
    ]
    box = second_box(world)
    launched = browser.browser_type.launch(
        executable_path=programs.wanted("chromium"), args=[*one_browser.ARGS, *camera]
    )
    with closing(launched):
        context = launched.new_context(
            viewport={"width": 360, "height": 800}, permissions=["camera"], service_workers="block"
        )
        seen = context.new_page()
        sign_in(seen, live_server, world.people["operator"].username, "/clinic/first/spore-tests/log/")
        seen.get_by_role("button", name="Scan: Lot of the test").click()
        seen.get_by_text("Read: lot B-200").wait_for(timeout=60_000)
        assert seen.locator("[name=lot]").input_value() == str(box.origin)
        assert seen.locator("video").count() == 0, "the camera is let go"
