"""Files to file as papers, built in code: good ones, odd ones and bad ones. All that they say is invented."""

from __future__ import annotations

import zlib
from io import BytesIO

import pikepdf
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageDraw
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

FONT = "Vera.ttf"  # comes with the drawing library
WORDS = "Invented report"


def drawn(draw=None, pages: int = 1, size=(300, 400), font: str = "PaperFont") -> bytes:
    """A PDF with a line of words on each page, its font inside; `draw` adds to each page."""
    pdfmetrics.registerFont(TTFont("PaperFont", FONT))
    out = BytesIO()
    canvas = Canvas(out, size, invariant=1, initialFontName=font)
    for number in range(1, pages + 1):
        canvas.setFont(font, 12)
        canvas.drawString(30, size[1] - 50, f"{WORDS}, page {number}")
        canvas.setFillGray(0.3)
        canvas.rect(30, 40, 60, 20, fill=1)
        if draw:
            draw(canvas)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def changed(change, content: bytes | None = None, **save) -> bytes:
    """The file with something done to it."""
    with pikepdf.open(BytesIO(content or drawn())) as pdf:
        change(pdf)
        out = BytesIO()
        pdf.save(out, deterministic_id="encryption" not in save, **save)
    return out.getvalue()


def acting(action: Dictionary) -> bytes:
    """A PDF with a link that does that."""
    return changed(
        lambda pdf: _annotate(pdf, Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=[0, 0, 9, 9], A=action))
    )


def annotated(subtype: str, **more) -> bytes:
    """A PDF with a note of that kind on its first page."""
    return changed(
        lambda pdf: _annotate(pdf, Dictionary(Type=Name.Annot, Subtype=Name(subtype), Rect=[30, 30, 90, 60], **more))
    )


def _annotate(pdf, note) -> None:
    pdf.pages[0].Annots = pdf.make_indirect(Array([pdf.make_indirect(note)]))


def on_opening(action) -> bytes:
    return changed(lambda pdf: setattr(pdf.Root, "OpenAction", action))


def with_file() -> bytes:
    def attach(pdf):
        pdf.attachments["inside.txt"] = b"a file inside"

    return changed(attach)


def with_form(xfa: bool = False) -> bytes:
    def add(pdf):
        pdf.Root.AcroForm = Dictionary(Fields=Array([]), **({"XFA": pdf.make_stream(b"<xdp/>")} if xfa else {}))

    return changed(add)


def locked(user: str) -> bytes:
    return changed(lambda pdf: None, encryption=pikepdf.Encryption(user=user, owner="owner"))


def packed(megabytes: int, begin: bytes) -> bytes:
    """The bytes and then so many of nothing, packed: a kilobyte for each megabyte."""
    packer = zlib.compressobj(9)
    nothing = b" " * (1024 * 1024)
    return packer.compress(begin) + b"".join(packer.compress(nothing) for _ in range(megabytes)) + packer.flush()


def bomb(megabytes: int) -> bytes:
    """A PDF whose catalog lies in an object stream of that size (ISO 32000-1, 7.5.7 and 7.5.8)."""
    catalog = packed(megabytes, b"1 0 <</Type/Catalog/Pages 3 0 R>>")
    objects = {
        2: b"<</Type/ObjStm/N 1/First 4/Filter/FlateDecode/Length %d>>stream\n%s\nendstream"
        % (len(catalog), catalog),
        3: b"<</Type/Pages/Count 1/Kids[4 0 R]>>",
        4: b"<</Type/Page/Parent 3 0 R/MediaBox[0 0 99 99]/Resources<<>>>>",
    }
    body, places = b"%PDF-1.7\n", {}
    for number, each in objects.items():
        places[number] = len(body)
        body += b"%d 0 obj\n%s\nendobj\n" % (number, each)
    rows = [(0, 0, 65535), (2, 2, 0), *((1, places[n], 0) for n in (2, 3, 4)), (1, len(body), 0)]
    table = b"".join(bytes([kind]) + at.to_bytes(4, "big") + more.to_bytes(2, "big") for kind, at, more in rows)
    head = b"<</Type/XRef/Size 6/W[1 4 2]/Root 1 0 R/Length %d>>stream\n%s\nendstream" % (len(table), table)
    return body + b"5 0 obj\n%s\nendobj\nstartxref\n%d\n%%%%EOF\n" % (head, len(body))


def picture(kind: str = "PNG", mode: str = "RGB", size=(240, 320), **save) -> bytes:
    """A picture with a black bar at its top and a blob of colour, so that it has an up and a down."""
    made = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(made)
    draw.rectangle((0, 0, size[0], size[1] // 8), fill="black")
    draw.ellipse((size[0] // 4, size[1] // 2, size[0] // 2, size[1] - 20), fill=(180, 60, 40))
    out = BytesIO()
    made.convert(mode).save(out, kind, **save)
    return out.getvalue()


def see_through() -> bytes:
    made = Image.new("RGBA", (60, 60), (255, 0, 0, 0))
    out = BytesIO()
    made.save(out, "PNG")
    return out.getvalue()


def huge_png() -> bytes:
    """Says in its head that it has 100,000 by 100,000 pixels."""
    content = bytearray(picture())
    head = content[12:29]
    head[4:12] = (100_000).to_bytes(4, "big") * 2
    content[12:33] = head + zlib.crc32(head).to_bytes(4, "big")
    return bytes(content)


def turned_photo() -> bytes:
    """A JPEG lying on its side that says so (EXIF orientation 6: turn a quarter clockwise)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    return picture("JPEG", exif=exif)
