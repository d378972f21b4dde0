"""Photos on paper: two in a row, small, each with its caption under it; and their pixels put into the file."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Piece, Placed, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import INK, SMALL, Sheet
from audit.binder.pdf.rows import Slot, set_lines
from audit.binder.sections import Photo, Photos

_IN_A_ROW = 2
_BETWEEN = 14.0
_TALLEST = 172.0  # three rows and their captions on a page
_CAPTION = 3.0  # between a photo and its caption
_ABOVE = 9.0
_SIDE = 640  # pixels of the longer side: about 190 an inch at this size
_UNIT = (1.0, 1.0)  # an image of a file is drawn into a square of one by one


def photo_pieces(block: Photos, sheet: Sheet) -> list[Piece]:
    """One piece a row, never divided."""
    wide = (sheet.text_width - (_IN_A_ROW - 1) * _BETWEEN) / _IN_A_ROW
    return [_row(block.photos[n : n + _IN_A_ROW], wide) for n in range(0, len(block.photos), _IN_A_ROW)]


def _row(photos: tuple[Photo, ...], wide: float) -> Piece:
    sizes = [_fitted(photo.pixels, wide) for photo in photos]
    tall = max(high for _, high in sizes)
    runs, lowest = [], tall
    for n, (photo, (across, high)) in enumerate(zip(photos, sizes, strict=True)):
        left, top = n * (wide + _BETWEEN), tall - high
        lines = wrap(photo.caption, SMALL, wide)
        caption = set_lines(lines, Slot(left, wide, "left"), tall + _CAPTION, SMALL)
        runs += [
            Run(Element("Figure", alt=photo.alt), (Placed(left, top, across, high, photo.key, _UNIT),)),
            Run(None, (Box(left, top, across, high, edge=INK),)),
            Run(Element("P"), caption),
        ]
        lowest = max(lowest, tall + _CAPTION + len(lines) * SMALL.leading)
    return Piece(lowest, tuple(runs), above=_ABOVE)


def _fitted(pixels: tuple[int, int], wide: float) -> tuple[float, float]:
    scale = min(wide / pixels[0], _TALLEST / pixels[1])
    return pixels[0] * scale, pixels[1] * scale


def for_paper(content: bytes) -> tuple[bytes, tuple[int, int]]:
    """A JPEG photo with as many pixels as small print shows, and its size across and down.

    Raises OSError when it is no JPEG that can be read.
    """
    from PIL import Image

    with Image.open(BytesIO(content), formats=["JPEG"]) as photo:
        small = photo.convert("RGB")
    small.thumbnail((_SIDE, _SIDE))
    out = BytesIO()
    small.save(out, "JPEG", quality=80)
    return out.getvalue(), small.size


def place(pdf, pictures: Mapping[str, tuple[bytes, tuple[int, int]]], keys: Mapping[int, tuple[str, ...]]) -> None:
    """Give pages of the open `pikepdf.Pdf` the photos that they draw; `keys` names them by page, counted from 0.

    `pictures` maps each key to what `for_paper` made. Raises KeyError for a key without a picture.
    """
    import pikepdf

    made: dict[str, pikepdf.Object] = {}
    for number in sorted(keys):
        for key in keys[number]:
            if key not in made:
                made[key] = _image(pdf, *pictures[key])
            pdf.pages[number].add_resource(made[key], pikepdf.Name.XObject, pikepdf.Name(f"/{key}"))


def _image(pdf, content: bytes, pixels: tuple[int, int]):
    import pikepdf

    image = pikepdf.Stream(pdf, content)
    image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    image.Width, image.Height = pixels
    image.ColorSpace, image.BitsPerComponent = pikepdf.Name.DeviceRGB, 8
    image.Filter = pikepdf.Name.DCTDecode
    return pdf.make_indirect(image)
