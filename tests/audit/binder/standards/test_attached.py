"""A binder stays in order with papers of every kind in it, and with a signature on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from audit.binder.attached import Paper
from audit.binder.pdf import lay_out
from audit.binder.pdf.draw import draw
from audit.binder.pdf.finish import finished
from audit.binder.pdf.page import sheet
from audit.binder.sections import AttachedPage, Section
from audit.issue.papers import fill
from audit.issue.papers.prepare import prepared
from audit.issue.seal import keys
from audit.issue.seal.embed import embed, files
from audit.issue.seal.sign import sign
from tests import paper_files
from tests.audit.binder.standards import small
from tests.audit.binder.standards.checks import findings
from tests.audit.binder.standards.opened import Opened
from tests.audit.binder.standards.reading import read
from tests.fact_builders import on, row


def _without_letters(pdf) -> None:
    """Its font does not say which letters it shows."""
    del next(iter(pdf.pages[0].Resources.Font.values())).ToUnicode


def _tagged(pdf) -> None:
    """It has marked content of its own, and artifacts."""
    code = pdf.pages[0].Contents.read_bytes()
    marked = b"/P <</MCID 0>> BDC " + code + b" EMC /Artifact BMC 9 9 m 90 9 l S EMC"
    pdf.pages[0].Contents = pdf.make_stream(marked)


PAPERS = {
    "as filed": (paper_files.drawn(pages=2), "report.pdf"),
    "font not embedded": (paper_files.drawn(font="Helvetica"), "report.pdf"),
    "with a note": (paper_files.annotated("/Text", Contents="a note"), "report.pdf"),
    "letters not told": (paper_files.changed(_without_letters), "report.pdf"),
    "tagged itself": (paper_files.changed(_tagged), "report.pdf"),
    "png": (paper_files.picture(), "scan.png"),
    "see-through png": (paper_files.see_through(), "scan.png"),
    "jpeg": (paper_files.picture("JPEG"), "scan.jpg"),
    "cmyk jpeg": (paper_files.picture("JPEG", "CMYK"), "scan.jpg"),
    "turned photo": (paper_files.turned_photo(), "photo.jpg"),
}


def paper(content: bytes, name: str) -> Paper:
    of_it = prepared(content, name)
    return Paper(
        1, row("2026-01-05"), "", "A report", "other", on("2026-01-05"), None, name, "0" * 64, len(content),
        of_it.examined.media_type, content, of_it.sheets, of_it.pages, of_it.examined.pages,
    )  # fmt: skip


def with_paper(one: Paper) -> bytes:
    """The small binder with the pages of the paper in a chapter and the original attached."""
    shown = tuple(
        AttachedPage(
            one.key(page), page.number, len(one.pages), (page.width, page.height), f"Page {page.number}", "note"
        )
        for page in one.pages
    )
    binder = small.binder()
    binder = replace(binder, sections=(*binder.sections, Section("paper", "A paper", 1, shown)))
    paper_size = sheet("letter")
    drawn = draw(binder, lay_out(binder, paper_size), paper_size)
    return finished(
        drawn.content,
        lambda pdf: fill(pdf, [one], drawn.placed),
        lambda pdf: embed(pdf, files({}, b"{}", [one]), small.AS_OF),
    )


@pytest.mark.parametrize("kind", PAPERS)
def test_a_binder_with_a_paper_is_in_order(kind):
    one = paper(*PAPERS[kind])
    made = with_paper(one)
    assert findings(made) == {}
    with Opened(made) as opened:
        told = [each.text for each in read(opened) if each.role == "Figure"]
    assert told[-len(one.pages) :] == [f"Page {page.number}" for page in one.pages]


def test_a_signed_binder_is_in_order(settings, tmp_path):
    """The signature adds a field that is not seen; the allow-list says of it that it does not look into such."""
    settings.SEAL_DIR = tmp_path / "seal"
    at = datetime(2026, 6, 1, 9, tzinfo=UTC)
    seal = keys.make_key("First Keepers", at)
    found = findings(sign(small.good(), by="Ana", reason="Binder", at=at, seal=seal))
    left = [each for each in found.pop("pdfa_allow_list", []) if not each.startswith("[unsupported]")]
    assert (found, left) == ({}, [])
