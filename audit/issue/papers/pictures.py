"""Pictures as forms: whatever cannot be placed as it was filed is drawn once, in a way that any reader can open."""

from __future__ import annotations

import zlib
from io import BytesIO

from .limits import DPI, LONGEST_PIXELS

_USUAL_DPI = 150  # of a picture that does not say
_BELIEVED_DPI = (50, 1200)


def form_of_page(pdf, page):
    """A page of a file opened with pdfium as a form of `pdf`: (form, width, height). Sizes in points."""
    wide, high = page.get_size()
    scale = min(DPI / 72, LONGEST_PIXELS / max(wide, high))
    bitmap = page.render(scale=scale, fill_color=(255, 255, 255, 255), may_draw_forms=True, rev_byteorder=True)
    return _form(pdf, _packed(bitmap.to_pil().convert("RGB")), wide, high), wide, high


def form_of_picture(pdf, content: bytes, name: str):
    """A PNG or JPEG file as a form of `pdf`: (form, width, height, why).

    `why` is "" when every pixel is placed as filed; else it says what was changed.
    """
    from PIL import Image, ImageOps

    with Image.open(BytesIO(content), formats=[name]) as filed:
        filed.load()
        upright = ImageOps.exif_transpose(filed)
        wide, high = (pixels * 72 / _dpi(filed) for pixels in upright.size)
        if name == "jpeg" and _plain_jpeg(filed):
            return _form(pdf, _as_jpeg(content, filed), wide, high), wide, high, ""
        flat, why = _flat(upright)
        if not why and _own_colours(filed):
            why = "it is in colours of its own; shown as they are stored"
    if max(flat.size) > LONGEST_PIXELS:
        flat.thumbnail((LONGEST_PIXELS, LONGEST_PIXELS))
        why = f"it has more pixels than a printed page shows; scaled to {flat.width} × {flat.height}"
    elif name == "jpeg":
        why = why or "it is turned, or stored in an unusual way"
    return _form(pdf, _packed(flat, lossless=name == "png"), wide, high), wide, high, why


def _dpi(picture) -> float:
    told = picture.info.get("dpi", (0, 0))[0]
    return float(told) if _BELIEVED_DPI[0] <= told <= _BELIEVED_DPI[1] else _USUAL_DPI


def _plain_jpeg(picture) -> bool:
    """Whether every reader decodes it to the same upright picture in grey or sRGB."""
    return (
        picture.mode in ("L", "RGB")
        and max(picture.size) <= LONGEST_PIXELS
        and picture.getexif().get(0x0112, 1) == 1  # orientation
        and not _own_colours(picture)
        and "jfif" in picture.info
    )


def _own_colours(picture) -> bool:
    profile = picture.info.get("icc_profile") or b""
    return bool(profile) and b"sRGB" not in profile


def _flat(picture):
    """In 8 bits of grey or RGB, on white; with what that changed."""
    from PIL import Image

    if picture.mode in ("1", "L"):
        return picture.convert("L"), ""
    if picture.mode.startswith("I"):
        deep = picture if picture.mode == "I;16" else picture.convert("I").convert("I;16")
        return Image.frombytes("L", deep.size, deep.tobytes()[1::2]), "it has 16 bits of grey; 8 are shown"
    if picture.has_transparency_data:
        over = picture.convert("RGBA")
        white = Image.new("RGBA", over.size, "white")
        return Image.alpha_composite(white, over).convert("RGB"), "it is see-through in places; shown on white"
    return picture.convert("RGB"), "" if picture.mode in ("RGB", "P") else "it is in colours for a printing press"


def _packed(picture, lossless: bool = False) -> dict:
    """Width, height, colours, filter and bytes: grey where it is grey, and the smaller way of packing."""
    if picture.mode == "RGB" and _is_grey(picture):
        picture = picture.convert("L")
    colours = "/DeviceGray" if picture.mode == "L" else "/DeviceRGB"
    found = {"size": picture.size, "colours": colours, "filter": "/FlateDecode"}
    exact = zlib.compress(picture.tobytes(), 9)
    if lossless:
        return found | {"data": exact}
    out = BytesIO()
    picture.save(out, "JPEG", quality=85, subsampling=0)
    smaller = out.getvalue()
    # Letters keep their edges only when packed exactly, so that may cost half as much again.
    if len(exact) <= 1.5 * len(smaller):
        return found | {"data": exact}
    return found | {"filter": "/DCTDecode", "data": smaller}


def _is_grey(picture) -> bool:
    from PIL import ImageChops

    red, green, blue = picture.split()
    return not (ImageChops.difference(red, green).getbbox() or ImageChops.difference(red, blue).getbbox())


def _as_jpeg(content: bytes, picture) -> dict:
    colours = "/DeviceGray" if picture.mode == "L" else "/DeviceRGB"
    return {"size": picture.size, "colours": colours, "filter": "/DCTDecode", "data": content}


def _form(pdf, packed: dict, wide: float, high: float):
    """A form with the corner (0, 0) and that size, filled by the picture."""
    import pikepdf

    image = pikepdf.Stream(pdf, packed["data"])
    image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    image.Width, image.Height = packed["size"]
    image.ColorSpace, image.BitsPerComponent = pikepdf.Name(packed["colours"]), 8
    image.Filter = pikepdf.Name(packed["filter"])
    form = pikepdf.Stream(pdf, f"q {wide:.4f} 0 0 {high:.4f} 0 0 cm /Picture Do Q".encode())
    form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
    form.BBox = pikepdf.Array([0, 0, round(wide, 4), round(high, 4)])
    form.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Picture=pdf.make_indirect(image)))
    return pdf.make_indirect(form)
