"""Small invented papers to file, drawn by code: a PDF, a picture as of a scanner, or plain text, by the file's name.

The same words give the same bytes.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import PurePath
from textwrap import wrap

NOTE = "Everything in this paper is invented. It is part of the demo and describes no real equipment."

_A5 = (420.0, 595.0)  # points
_MARGIN = 42.0
_SCANNED = 3  # pixels of the picture for one of its letters' own


def paper(title: str, text: str, filename: str) -> bytes:
    """The bytes of the paper. A line "---" begins a page of a PDF."""
    parts = [[line.strip() for line in part.splitlines()] for part in text.strip().split("\n---\n")]
    kind = PurePath(filename).suffix.lower()
    if kind == ".pdf":
        return _pdf(title, parts)
    if kind == ".png":
        return _png(title, [line for part in parts for line in part])
    lines = [title, "=" * len(title), "", *(line for part in parts for line in part), "", NOTE, ""]
    return "\n".join(lines).encode()


def _pdf(title: str, parts: list[list[str]]) -> bytes:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    pdfmetrics.registerFont(TTFont("DemoPaper", "Vera.ttf"))
    pdfmetrics.registerFont(TTFont("DemoPaper-Bold", "VeraBd.ttf"))
    out = BytesIO()
    canvas = Canvas(out, _A5, invariant=1, pageCompression=1, initialFontName="DemoPaper", lang="en")
    canvas.setTitle(title)
    for number, lines in enumerate(parts, start=1):
        _page(canvas, title, lines, f"page {number} of {len(parts)}")
    canvas.save()
    return out.getvalue()


def _page(canvas, title: str, lines: list[str], foot: str) -> None:
    wide, high = _A5
    y = high - _MARGIN - 10
    for line in wrap(title, 40):
        canvas.setFont("DemoPaper-Bold", 13)
        canvas.drawString(_MARGIN, y, line)
        y -= 18
    canvas.setLineWidth(0.7)
    canvas.line(_MARGIN, y, wide - _MARGIN, y)
    canvas.setFont("DemoPaper", 9)
    y -= 22
    for text in lines:
        for line in wrap(text, 64):
            canvas.drawString(_MARGIN, y, line)
            y -= 14
        y -= 5
    canvas.setFont("DemoPaper", 6.5)
    canvas.drawString(_MARGIN, _MARGIN - 8, NOTE)
    canvas.drawRightString(wide - _MARGIN, _MARGIN + 4, foot)
    canvas.showPage()


def _png(title: str, lines: list[str]) -> bytes:
    """Black letters on white, as of a coarse scanner."""
    from PIL import Image, ImageDraw, ImageFont
    from PIL.PngImagePlugin import PngInfo

    font = ImageFont.load_default_imagefont()
    wrapped = [title, "-" * 60, "", *(part for line in lines for part in wrap(line, 60)), "", *wrap(NOTE, 60)]
    sheet = Image.new("L", (400, 566), 255)
    draw = ImageDraw.Draw(sheet)
    for number, line in enumerate(wrapped):
        draw.text((18, 20 + 15 * number), line, fill=20, font=font)
    out = BytesIO()
    said = PngInfo()
    said.add_text("Title", title)
    said.add_text("Comment", NOTE)
    sheet.resize((sheet.width * _SCANNED, sheet.height * _SCANNED), Image.Resampling.BICUBIC).save(
        out, "PNG", dpi=(200, 200), pnginfo=said
    )
    return out.getvalue()
