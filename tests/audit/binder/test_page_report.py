"""How the pages are: nothing too small, too pale, too empty or alone. The counts are printed at the end of a run."""

from __future__ import annotations

import subprocess
from io import BytesIO

import pikepdf
import pytest
from PIL import Image

from audit.binder.pdf import lay_out, render
from audit.binder.pdf.marks import Text
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import CELL, LEFT, TOP, Sheet, sheet
from tests import programs
from tests.audit.binder.conftest import PAGES
from tests.audit.binder.report_pages import clinics, report
from tests.audit.binder.shapes import every_shape

LEAST_SIZE = 7.5
LEAST_CONTRAST = 4.5  # WCAG 2.1, 1.4.3, for text of this size
DPI = 150


@pytest.mark.parametrize("name", ["sample", "full", "empty"])
@pytest.mark.parametrize("size", ["letter", "a4"])
def test_pages_are_full_and_letters_large_enough(name, size, record_property):
    found = report(clinics()[name], size)
    record_property(PAGES, f"{name}, {size}: {found}")
    assert found.least >= LEAST_SIZE
    assert found.lonely == ()
    assert len(found.thin) <= found.pages / 10
    assert found.blank < (0.8 if name == "empty" else 0.5)


def test_every_shape_is_in_black_and_white():
    """From the operators: no grey is set anywhere, so that a printer has nothing to break into dots."""
    with pikepdf.open(BytesIO(render(every_shape()))) as pdf:
        for page in pdf.pages:
            for each in pikepdf.parse_content_stream(page):
                if str(each.operator) in ("g", "G"):
                    assert float(each.operands[0]) in (0, 1)
                assert str(each.operator) not in ("rg", "RG", "k", "K", "sc", "scn")


def test_every_text_stands_out_from_its_ground(tmp_path):
    """On the page as a printer without colours sees it."""
    program, binder, paper = programs.wanted("poppler-utils", "pdftoppm"), every_shape(), sheet("letter")
    (tmp_path / "a.pdf").write_bytes(render(binder))
    subprocess.run([program, "-r", str(DPI), "-gray", "-png", "a.pdf", "p"], cwd=tmp_path, check=True, timeout=120)
    looked, pictures = 0, sorted(tmp_path.glob("p*.png"))
    for page, picture in zip(lay_out(binder, paper), pictures, strict=True):
        with Image.open(picture) as seen:
            for y, piece in page.placed:
                for mark in (m for run in piece.runs for m in run.marks if isinstance(m, Text) and m.text.strip()):
                    looked += 1
                    assert contrast(seen, mark, TOP + y, paper) >= LEAST_CONTRAST, mark.text
    assert looked > 300


def contrast(seen: Image.Image, mark: Text, top: float, paper: Sheet) -> float:
    """Between the darkest and the lightest that stands where the text is (WCAG 2.1, relative luminance)."""
    scale = DPI / 72
    x, foot = LEFT + mark.x, top + mark.y
    box = (x, foot - 0.7 * mark.style.size, x + width(mark.text, mark.style), foot + 0.1 * mark.style.size)
    low, high = seen.crop(tuple(round(edge * scale) for edge in box)).convert("L").getextrema()
    light, dark = _luminance(high), _luminance(low)
    return (light + 0.05) / (dark + 0.05)


def _luminance(level: int) -> float:
    share = level / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def test_pale_text_would_be_noticed():
    seen = Image.new("L", (1275, 1650), 255)
    seen.paste(150, (0, 0, 400, 400))
    paper = sheet("letter")
    assert contrast(seen, Text(60, 60, "m" * 40, CELL), 100, paper) < LEAST_CONTRAST


def test_no_size_is_set_under_the_smallest():
    with pikepdf.open(BytesIO(render(every_shape()))) as pdf:
        sizes = {
            float(each.operands[1])
            for page in pdf.pages
            for each in pikepdf.parse_content_stream(page)
            if str(each.operator) == "Tf"
        }
    assert min(sizes - {0}) >= LEAST_SIZE, sorted(sizes)
