"""Photos as they are kept: smaller, upright, with nothing of what the camera wrote; what is no photo is refused.

Orientation 6 (turn by 90 degrees) and the GPS tags: Exif 2.32 (CIPA DC-008-2019), 4.6.4 A and 4.6.6.
"""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from records.files import photos


def packed(picture, kind="JPEG", **more) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def test_a_photo_is_turned_upright_made_smaller_and_stripped():
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "Invented Phone"
    exif.get_ifd(0x8825)[1] = "N"
    sent = packed(Image.new("RGB", (3200, 2400), "red"), exif=exif)
    assert b"Invented Phone" in sent
    kept = photos.remade(sent)
    made = Image.open(BytesIO(kept.content))
    assert (kept.width, kept.height) == made.size == (1200, 1600)
    assert made.format == "JPEG" and not made.getexif() and b"Invented Phone" not in kept.content


def test_noise_stays_below_the_largest_size():
    kept = photos.remade(packed(Image.effect_noise((4000, 3000), 100).convert("RGB"), quality=95))
    assert len(kept.content) <= photos.LARGEST_KEPT and max(kept.width, kept.height) == photos.LONGEST_SIDE


def test_what_is_see_through_is_put_on_white():
    kept = photos.remade(packed(Image.new("RGBA", (10, 10), (0, 0, 0, 0)), "PNG"))
    assert Image.open(BytesIO(kept.content)).getpixel((5, 5)) == (255, 255, 255)


def test_a_small_photo_is_not_made_larger():
    kept = photos.remade(packed(Image.new("RGB", (40, 30), "blue")))
    assert (kept.width, kept.height) == (40, 30)


@pytest.mark.parametrize(
    "content, words",
    [
        (b"", "empty"),
        (b"%PDF-1.7 not a picture", "no photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no photo"),
        (b"GIF89a" + b"\0" * 40, "no photo"),
        (packed(Image.effect_noise((300, 300), 50))[:2000], "damaged"),
        (b"\xff\xd8\xff" + b"\0" * 500, "damaged|no photo"),
    ],
)
def test_what_is_no_photo_is_refused_with_the_way_out(content, words):
    with pytest.raises(photos.NotAPhoto, match=words):
        photos.remade(content)


def test_a_bomb_is_refused_before_it_unpacks():
    """A file of a few kilobytes that says it is 400 million pixels."""
    bomb = packed(Image.new("1", (20000, 20000)), "PNG")
    assert len(bomb) < 100_000
    with pytest.raises(photos.NotAPhoto, match="pixels|unpacks"):
        photos.remade(bomb)


def test_more_bytes_than_allowed_are_refused_unread(monkeypatch):
    monkeypatch.setattr(photos, "LARGEST_UPLOAD", 10)
    with pytest.raises(photos.NotAPhoto, match="MiB"):
        photos.remade(b"x" * 11)
