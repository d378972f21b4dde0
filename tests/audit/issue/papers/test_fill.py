"""Prepared pages in a binder's file: where they are named, as large as drawn, unchanged by what is around."""

from io import BytesIO

import pikepdf
import pypdfium2
import pytest
from pikepdf import Name

from audit.binder.attached import Paper
from audit.issue.papers import fill
from audit.issue.papers.prepare import prepared
from tests import paper_files as made
from tests.fact_builders import on, row


def paper(number: int, content: bytes, name: str = "a.pdf") -> Paper:
    of_it = prepared(content, name)
    return Paper(
        number, row("2026-01-05"), "", "A report", "other", on("2026-01-05"), None, name, "0" * 64, len(content),
        of_it.examined.media_type, content, of_it.sheets, of_it.pages, of_it.examined.pages,
    )  # fmt: skip


def filled(papers, keys, before: bytes = b"") -> bytes:
    """A file of pages of 600 by 800 points on which each key is drawn at (50, 100), half as large as it is."""
    with pikepdf.new() as pdf:
        for number in range(1 + max(keys)):
            page = pdf.add_blank_page(page_size=(600, 800))
            drawn = "".join(f"q 0.5 0 0 0.5 50 100 cm /{key} Do Q\n" for key in keys.get(number, ()))
            page.Contents = pikepdf.Stream(pdf, before + drawn.encode())
        fill(pdf, papers, keys)
        out = BytesIO()
        pdf.save(out, deterministic_id=True)
    return out.getvalue()


def view(content: bytes, number: int = 0):
    with pypdfium2.PdfDocument(content) as pdf:
        page = pdf[number]
        seen = page.render(scale=1).to_pil().convert("L")
        page.close()
    return seen


def inked(picture) -> tuple[int, int, int, int]:
    """Left, upper, right and lower edge of all that is not white."""
    return picture.point(lambda v: 255 if v < 250 else 0).getbbox()


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("font", ["PaperFont", "Helvetica"])
def test_a_page_lies_where_it_is_drawn(turn, font):
    """As filed and as a picture: from (50, 100) over half of its size, upright."""

    def change(pdf):
        pdf.pages[0].Rotate = turn

    one = paper(1, made.changed(change, made.drawn(font=font)))
    wide, high = (page := one.pages[0]).width, page.height
    assert (wide, high) == ((300, 400) if turn in (0, 180) else (400, 300))
    seen = inked(view(filled([one], {0: [one.key(page)]})))
    alone = inked(view(one.content))
    expected = (50 + alone[0] / 2, 700 - high / 2 + alone[1] / 2, 50 + alone[2] / 2, 700 - high / 2 + alone[3] / 2)
    assert seen == pytest.approx(expected, abs=2)


@pytest.mark.parametrize("font", ["PaperFont", "Helvetica"])
def test_what_is_drawn_around_does_not_colour_it(font):
    one = paper(1, made.drawn(font=font))
    around = b"0.9 g 0.9 G 9 w [3] 0 d 3 Tr 20 Tc "
    keys = {0: [one.key(one.pages[0])]}
    assert view(filled([one], keys, around)).tobytes() == view(filled([one], keys)).tobytes()
    assert view(filled([one], keys)).getextrema()[0] < 100


def test_each_page_gets_its_own():
    papers = [paper(1, made.drawn(pages=2)), paper(2, made.picture(), "a.png")]
    keys = {1: ["Paper1p1"], 3: ["Paper1p2", "Paper2p1"]}
    with pikepdf.open(BytesIO(filled(papers, keys))) as pdf:
        named = [sorted(page.Resources.get("/XObject", {}).keys()) for page in pdf.pages]
    assert named == [[], ["/Paper1p1"], [], ["/Paper1p2", "/Paper2p1"]]


def test_a_font_of_several_pages_is_in_the_file_once():
    one = paper(1, made.drawn(pages=3))
    content = filled([one], {n: [one.key(page)] for n, page in enumerate(one.pages)})
    with pikepdf.open(BytesIO(content)) as pdf:
        files = [each for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/FontFile2" in each]
    assert len(files) == 1


def test_the_same_papers_give_the_same_bytes():
    papers = [paper(1, made.drawn(pages=2)), paper(2, made.drawn(font="Helvetica"))]
    keys = {0: ["Paper1p1", "Paper2p1"], 1: ["Paper1p2"]}
    assert filled(papers, keys) == filled(papers, keys)


def test_a_key_of_no_paper_is_an_error():
    with pytest.raises(KeyError):
        filled([paper(1, made.drawn())], {0: ["Paper9p1"]})


def test_no_action_and_no_note_comes_with_a_page():
    content = made.acting(pikepdf.Dictionary(S=Name.URI, URI="https://example.org"))
    one = paper(1, content)
    out = filled([one], {0: ["Paper1p1"]})
    with pikepdf.open(BytesIO(out)) as pdf:
        assert not [each for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/URI" in each]
        assert len(pdf.pages) == 1 and "/Annots" not in pdf.pages[0]
