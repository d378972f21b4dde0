"""Pictures on file: which are placed as they were filed, what is changed of the others, and which way is up."""

from io import BytesIO

import pikepdf
import pytest
from PIL import Image

from audit.binder.attached import AS_FILED, PICTURE
from audit.issue.papers import prepare
from audit.issue.papers.prepare import prepared
from tests import paper_files as made

from .test_prepare import archive_findings, view

PICTURES = {
    "PNG": (lambda: made.picture(dpi=(72, 72)), "a.png", (240, 320), AS_FILED, ""),
    "PNG that does not say its size": (made.picture, "a.png", (115.2, 153.6), AS_FILED, ""),
    "PNG in grey": (lambda: made.picture(mode="L", dpi=(72, 72)), "a.png", (240, 320), AS_FILED, ""),
    "PNG in black and white": (lambda: made.picture(mode="1", dpi=(72, 72)), "a.png", (240, 320), AS_FILED, ""),
    "PNG with a palette": (lambda: made.picture(mode="P", dpi=(72, 72)), "a.png", (240, 320), AS_FILED, ""),
    "PNG with 16 bits": (lambda: made.picture(mode="I;16", dpi=(72, 72)), "a.png", (240, 320), PICTURE, "16 bits"),
    "PNG that is see-through": (made.see_through, "a.png", (28.8, 28.8), PICTURE, "shown on white"),
    "PNG that is large": (
        lambda: made.picture(size=(3000, 4000), dpi=(300, 300)), "a.png", (720, 960), PICTURE, "1950 × 2600",
    ),
    "PNG in colours of its own": (
        lambda: made.picture(dpi=(72, 72), icc_profile=b"invented"), "a.png", (240, 320), PICTURE,
        "colours of its own",
    ),
    "JPEG in colours of its own": (
        lambda: made.picture("JPEG", dpi=(72, 72), icc_profile=b"invented"), "a.jpg", (240, 320), PICTURE,
        "colours of its own",
    ),
    "JPEG": (lambda: made.picture("JPEG", dpi=(72, 72)), "a.jpg", (240, 320), AS_FILED, ""),
    "JPEG in grey": (lambda: made.picture("JPEG", "L", dpi=(72, 72)), "a.jpg", (240, 320), AS_FILED, ""),
    "JPEG for a printing press": (
        lambda: made.picture("JPEG", "CMYK", dpi=(72, 72)), "a.jpg", (240, 320), PICTURE, "printing press",
    ),
    "JPEG on its side": (made.turned_photo, "a.jpg", (320, 240), PICTURE, "it is turned"),
}  # fmt: skip


@pytest.mark.parametrize("case", PICTURES)
def test_pictures(case):
    build, name, size, way, why = PICTURES[case]
    made_of_it = prepared(build(), name)
    (page,) = made_of_it.pages
    assert (pytest.approx((page.width, page.height), abs=0.1), page.way) == (size, way)
    assert why in page.why
    assert archive_findings(made_of_it.sheets) == []


def test_a_jpeg_is_placed_byte_for_byte():
    content = made.picture("JPEG")
    with pikepdf.open(BytesIO(prepared(content, "a.jpg").sheets)) as pdf:
        form = pdf.pages[0].Resources.XObject[prepare.NAME]
        assert form.Resources.XObject.Picture.read_raw_bytes() == content


def test_a_png_keeps_every_pixel():
    content = made.picture()
    with pikepdf.open(BytesIO(prepared(content, "a.png").sheets)) as pdf:
        packed = pdf.pages[0].Resources.XObject[prepare.NAME].Resources.XObject.Picture.read_bytes()
    with Image.open(BytesIO(content)) as filed:
        assert packed == filed.tobytes()


def test_a_photo_on_its_side_is_shown_upright():
    """The black bar at the top of the stored picture is at the right after a quarter turn clockwise."""
    seen = view(prepared(made.turned_photo(), "a.jpg").sheets).convert("L")
    wide, high = seen.size
    assert seen.getpixel((wide - 4, high // 2)) < 60 < 200 < seen.getpixel((4, 4))


def test_what_is_see_through_is_white_and_not_red():
    seen = view(prepared(made.see_through(), "a.png").sheets)
    assert seen.getpixel((seen.width // 2, seen.height // 2)) == (255, 255, 255)
