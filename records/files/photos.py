"""Photos made again on the server: turned upright, smaller, without what the camera wrote into them.

What comes from a phone holds the place, the time and the device, and may be more, or other, than a picture. Nothing
of it is kept but the pixels.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO

from .scans import too_many as scans_too_many

LARGEST_UPLOAD = 20 * 1024 * 1024  # bytes, before it is made again
LARGEST_KEPT = 2 * 1024 * 1024  # bytes, of what is kept; the limit of `log_photo`
LONGEST_SIDE = 1600  # pixels
MOST_PIXELS = 24_000_000  # of what comes in; a device that makes its photos smaller first sends far fewer
KINDS = ("JPEG", "PNG", "WEBP")
_QUALITIES = (85, 75, 65, 50, 35)


class NotAPhoto(ValueError):
    """What came is not kept; the text says why and the way out."""


@dataclass(frozen=True, slots=True)
class CheckedPhoto:
    """A JPEG of `LARGEST_KEPT` bytes and `LONGEST_SIDE` pixels a side at most, both inclusive."""

    content: bytes
    width: int
    height: int


def remade(content: bytes) -> CheckedPhoto:
    """The photo as it is kept. Raises NotAPhoto for what is no JPEG, PNG or WebP picture, damaged, or too large."""
    if not content:
        raise NotAPhoto("The file is empty. Take the photo again.")
    if len(content) > LARGEST_UPLOAD:
        raise NotAPhoto(f"The file has more than {LARGEST_UPLOAD // 2**20} MiB. Choose a smaller size in the camera.")
    picture = _pixels(content)
    for quality in _QUALITIES:
        out = BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True)
        if out.tell() <= LARGEST_KEPT:
            return CheckedPhoto(out.getvalue(), *picture.size)
    raise NotAPhoto("The photo stays larger than 2 MiB however it is packed. Take it again, from nearer.")


def _pixels(content: bytes):
    """Upright, in three colours, at most `LONGEST_SIDE` a side, on white where it was see-through."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            opened = Image.open(BytesIO(content), formats=KINDS)
            if opened.width * opened.height > MOST_PIXELS:
                raise NotAPhoto(
                    f"The picture has more than {MOST_PIXELS // 1_000_000} million pixels. "
                    "Choose a smaller size in the camera."
                )
            if opened.format == "JPEG" and (scans := scans_too_many(content, opened.width * opened.height)):
                raise NotAPhoto(f"{scans} Take the photo again with the camera, and send it as it is.")
            if opened.format == "JPEG":
                opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # unpacks no more than is needed
            opened.load()
            upright = ImageOps.exif_transpose(opened)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise NotAPhoto("The picture unpacks to far more than it says. Take the photo again.") from None
    except UnidentifiedImageError:
        raise NotAPhoto("That is no photo: only JPEG, PNG and WebP pictures are kept. Take it again.") from None
    except NotAPhoto:
        raise
    except Exception:  # what a damaged file makes its reader raise is no fixed list
        raise NotAPhoto("The picture is damaged and cannot be read to its end. Take the photo again.") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain = Image.new("RGB", upright.size, "white")
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        layer = upright.convert("RGBA")
        plain.paste(layer, mask=layer.getchannel("A"))
    else:
        plain.paste(upright.convert("RGB"))
    return plain
