"""File by file: which page is shown as it was filed, which as a picture and why; and that it looks the same."""

import zlib
from io import BytesIO

import pikepdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pikepdf import Array, Dictionary, Name, pdfa
from PIL import Image, ImageChops, ImageStat

from audit.binder.attached import AS_FILED, PICTURE
from audit.issue.papers import as_filed, prepare
from audit.issue.papers.limits import MOST_WORDS
from audit.issue.papers.prepare import prepared
from tests import paper_files as made
from tests.examples import examples


def with_content(page_content: bytes, **resources):
    """A PDF with that content before what is drawn anyway, and those resources beside its own."""

    def change(pdf):
        page = pdf.pages[0]
        for kind, value in resources.items():
            page.Resources[f"/{kind}"] = value(pdf) if callable(value) else value
        page.contents_add(page_content, prepend=True)

    return made.changed(change)


def _image(pdf, data: bytes, **more):
    image = pdf.make_stream(data)
    image.stream_dict = Dictionary(
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=2,
        Height=2,
        BitsPerComponent=8,
        ColorSpace=Name.DeviceRGB,
        **more,
    )
    return Dictionary(I1=image)


def _field(pdf):
    note = Dictionary(Type=Name.Annot, Subtype=Name.Square, Rect=[100, 100, 200, 200], C=[1, 0, 0], F=4)
    box = pdf.make_stream(b"1 0 0 rg 0 0 100 100 re f")
    box.stream_dict = Dictionary(Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 100, 100])
    note.AP = Dictionary(N=box)
    pdf.pages[0].Annots = pdf.make_indirect(Array([pdf.make_indirect(note)]))


def _without_letters(pdf):
    for font in pdf.pages[0].Resources.Font.values():
        if "/ToUnicode" in font:
            del font["/ToUnicode"]


def _half_letters(pdf):
    for font in pdf.pages[0].Resources.Font.values():
        if "/ToUnicode" in font:
            lines = font.ToUnicode.read_bytes().split(b"\n")
            font.ToUnicode.write(b"\n".join(line for line in lines if not line.startswith(b"<49>")))


def _incomplete_font(pdf):
    for font in pdf.pages[0].Resources.Font.values():
        if "/ToUnicode" in font:
            font.Widths = Array([1] * len(font.Widths))


def _turn(degrees):
    return lambda: made.changed(lambda pdf: setattr(pdf.pages[0], "Rotate", degrees))


AS_IT_IS = {
    "words and lines": (made.drawn, (300, 400)),
    "turned by 90": (_turn(90), (400, 300)),
    "turned by 180": (_turn(180), (300, 400)),
    "turned by 270": (_turn(270), (400, 300)),
    "turned back by 90": (_turn(-90), (400, 300)),
    "cropped": (lambda: made.changed(lambda pdf: setattr(pdf.pages[0], "CropBox", [20, 200, 220, 390])), (200, 190)),
    "cropped and turned": (
        lambda: made.changed(
            lambda pdf: pdf.pages[0].obj.update({"/CropBox": Array([20, 200, 220, 390]), "/Rotate": 90})
        ),
        (190, 200),
    ),
    "away from the corner": (
        lambda: made.changed(lambda pdf: setattr(pdf.pages[0], "MediaBox", [-10, -20, 310, 420])), (320, 440),
    ),
    "corners the other way round": (
        lambda: made.changed(lambda pdf: setattr(pdf.pages[0], "MediaBox", [300, 400, 0, 0])), (300, 400),
    ),
    "its own structure": (
        lambda: with_content(b"/Artifact BMC EMC /P <</MCID 0>> BDC 0.5 g 10 10 9 9 re f EMC /Here MP"), (300, 400),
    ),
    "saved states that do not balance": (lambda: with_content(b"Q q q 0.5 g 10 10 9 9 re f"), (300, 400)),
    "a link and a pop-up": (
        lambda: made.acting(Dictionary(S=Name.URI, URI="https://example.org")), (300, 400),
    ),
    "a hidden note": (lambda: made.annotated("/Text", F=2), (300, 400)),
    "a font chosen and not used": (
        lambda: with_content(
            b"BT /Other 12 Tf ET",
            Font=lambda pdf: Dictionary(
                {**pdf.pages[0].Resources.Font, "/Other": Dictionary(
                    Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica
                )}
            ),
        ),
        (300, 400),
    ),
    "a picture packed by LZW": (
        # 2 by 2 pixels of RGB, all black: clear, twelve zeros one by one, end (ISO 32000-1, 7.4.4.2)
        lambda: with_content(
            b"q 50 0 0 50 200 50 cm /I1 Do Q",
            XObject=lambda pdf: _image(pdf, _lzw(bytes(12)), Filter=Name.LZWDecode, Interpolate=True),
        ),
        (300, 400),
    ),
}  # fmt: skip


def _lzw(content: bytes) -> bytes:
    """Packed as plainly as the format allows: codes of nine bits, a clear table, the bytes, the end."""
    bits = "".join(f"{code:09b}" for code in (256, *content, 257))
    return int(bits.ljust(-(-len(bits) // 8) * 8, "0"), 2).to_bytes(-(-len(bits) // 8), "big")


def view(content: bytes, number: int = 0) -> Image.Image:
    with pypdfium2.PdfDocument(content) as pdf:
        pdf.init_forms()
        page = pdf[number]
        view = page.render(scale=1.5, may_draw_forms=True).to_pil().convert("RGB")
        page.close()
    return view


def apart(one: Image.Image, other: Image.Image) -> float:
    """How far two pictures differ, from 0 not at all to 255."""
    assert abs(one.width - other.width) <= 1 and abs(one.height - other.height) <= 1
    return max(ImageStat.Stat(ImageChops.difference(one, other.resize(one.size))).mean)


@pytest.mark.parametrize("case", AS_IT_IS)
def test_a_page_shown_as_filed_looks_as_it_did(case):
    build, size = AS_IT_IS[case]
    content = build()
    made_of_it = prepared(content, "a.pdf")
    (page,) = made_of_it.pages
    assert (page.way, page.why, (page.width, page.height)) == (AS_FILED, "", size)
    assert "Invented" in page.text or case in ("cropped", "cropped and turned")
    seen = view(content)
    assert ImageStat.Stat(seen).extrema[0][0] < 128  # there is something to see
    assert apart(seen, view(made_of_it.sheets)) < 1.0


@pytest.mark.parametrize("case", AS_IT_IS)
def test_a_page_shown_as_filed_passes_as_an_archive_file(case):
    assert archive_findings(prepared(AS_IT_IS[case][0](), "a.pdf").sheets) == []


def archive_findings(sheets: bytes) -> list:
    with pikepdf.open(BytesIO(sheets)) as pdf:
        pdfa.prepare(pdf, "3b")
        return pdfa.check(pdf, "3b").findings


def test_nothing_of_its_structure_is_taken_over():
    """ISO 14289-1, 7.1: what is drawn inside a figure must not be marked as an artifact, and the other way round."""
    sheets = prepared(AS_IT_IS["its own structure"][0](), "a.pdf").sheets
    with pikepdf.open(BytesIO(sheets)) as pdf:
        form = pdf.pages[0].Resources.XObject[prepare.NAME]
        operators = {str(each.operator) for each in pikepdf.parse_content_stream(form)}
    assert "re" in operators and not operators & {"BMC", "BDC", "EMC", "MP", "DP"}


AS_PICTURE = {
    "a font that is not in the file": (lambda: made.drawn(font="Helvetica"), "a font that it uses is not in"),
    "letters without meaning": (lambda: made.changed(_without_letters), "some of its letters cannot be read out"),
    "one letter without meaning": (lambda: made.changed(_half_letters), "some of its letters cannot be read out"),
    "widths that are wrong": (lambda: made.changed(_incomplete_font), "one of its fonts is incomplete"),
    "printing colours": (lambda: with_content(b"1 0 0 0 k 10 10 50 50 re f"), "colours are for a printing press"),
    "layers": (
        lambda: with_content(
            b"/OC /L1 BDC 10 10 50 50 re f EMC",
            Properties=lambda pdf: Dictionary(L1=pdf.make_indirect(Dictionary(Type=Name.OCG, Name="a layer"))),
        ),
        "layers that can be switched off",
    ),
    "a stamp": (lambda: made.changed(_field), "notes, stamps or form fields"),
    "JPEG 2000": (
        lambda: with_content(
            b"q 50 0 0 50 200 50 cm /I1 Do Q",
            XObject=lambda pdf: _image(pdf, _jpeg2000(), Filter=Name.JPXDecode),
        ),
        "JPEG 2000, which not every reader opens",
    ),
    "postscript": (
        lambda: with_content(
            b"/I1 Do",
            XObject=lambda pdf: Dictionary(I1=pdf.make_stream(b"showpage", Type=Name.XObject, Subtype=Name.PS)),
        ),
        "archive file (PDF/A)",
    ),
}  # fmt: skip


def _jpeg2000() -> bytes:
    out = BytesIO()
    Image.new("RGB", (2, 2), "blue").save(out, "JPEG2000")
    return out.getvalue()


@pytest.mark.parametrize("case", AS_PICTURE)
def test_a_page_that_would_break_the_standards_is_a_picture(case):
    build, why = AS_PICTURE[case]
    content = build()
    made_of_it = prepared(content, "a.pdf")
    (page,) = made_of_it.pages
    assert page.way == PICTURE and why in page.why and page.why
    assert (page.width, page.height) == (300, 400)
    assert apart(view(content), view(made_of_it.sheets)) < 3.0
    assert archive_findings(made_of_it.sheets) == []


def test_one_bad_page_leaves_the_others_as_they_are():
    def change(pdf):
        pdf.pages[1].contents_add(b"1 0 0 0 k 10 10 50 50 re f", prepend=True)

    pages = prepared(made.changed(change, made.drawn(pages=3)), "a.pdf").pages
    assert [page.way for page in pages] == [AS_FILED, PICTURE, AS_FILED]
    assert ["page 1" in pages[0].text, "page 2" in pages[1].text, "page 3" in pages[2].text] == [True] * 3


def test_no_more_pages_than_asked_for():
    made_of_it = prepared(made.drawn(pages=5), "a.pdf", most=3)
    assert [page.number for page in made_of_it.pages] == [1, 2, 3]
    assert made_of_it.examined.pages == 5 and made_of_it.unshown == ""
    assert prepared(made.drawn(), "a.pdf", most=0).pages == ()


def test_no_more_bytes_than_fit(monkeypatch):
    monkeypatch.setattr(prepare, "SHEETS_BYTES", 8_000)
    made_of_it = prepared(made.drawn(pages=3, font="Helvetica"), "a.pdf")
    assert len(made_of_it.pages) < 3 and "too large" in made_of_it.unshown


def test_a_page_of_far_too_many_strokes_is_a_picture(monkeypatch):
    monkeypatch.setattr(as_filed, "MOST_CONTENT", 20)
    (page,) = prepared(made.drawn(), "a.pdf").pages
    assert page.way == PICTURE and "far more strokes" in page.why


def test_words_are_cut_at_a_word():
    def write(canvas):
        for line in range(22):
            canvas.drawString(10, 330 - 14 * line, f"line {line} of a sterilizer sterilizer")

    (page,) = prepared(made.drawn(write), "a.pdf").pages
    assert MOST_WORDS - 20 < len(page.text) <= MOST_WORDS + 2 and page.text.endswith(("sterilizer …", "of …"))


def test_the_same_file_gives_the_same_bytes():
    for content, name in (
        (made.drawn(pages=2), "a.pdf"),
        (made.drawn(font="Helvetica"), "b.pdf"),
        (made.picture(), "c.png"),
    ):
        assert prepared(content, name) == prepared(content, name)


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (made.drawn()[:200], "a.pdf", "damaged"),
        (made.locked("secret"), "a.pdf", "password"),
        (made.with_file(), "a.pdf", "files inside it"),
        (made.huge_png(), "a.png", "too large"),
    ],
)
def test_a_bad_file_has_a_fault_and_no_pages(content, name, words):
    made_of_it = prepared(content, name)
    assert words in made_of_it.examined.fault and made_of_it.pages == () and made_of_it.sheets == b""


def test_a_packed_bomb_on_a_page_is_no_harm():
    def change(pdf):
        pdf.pages[0].Contents = pikepdf.Stream(pdf, zlib.compress(b" "))
        pdf.pages[0].Contents.write(made.packed(260, b"0 g 10 10 50 50 re f "), filter=Name.FlateDecode)

    made_of_it = prepared(made.changed(change), "a.pdf")
    assert all(page.way == PICTURE for page in made_of_it.pages)
    assert made_of_it.pages or made_of_it.examined.fault


SEEDS = (
    made.drawn(pages=2),
    AS_IT_IS["its own structure"][0](),
    AS_PICTURE["a stamp"][0](),
    AS_PICTURE["layers"][0](),
    made.picture(),
    made.picture("JPEG"),
)


@settings(max_examples=examples(60), deadline=None)
@given(
    st.sampled_from(SEEDS), st.integers(0, 10**6), st.lists(st.tuples(st.integers(0, 10**6), st.binary(max_size=6)))
)
def test_no_bytes_ever_raise(content, end, changes):
    mutated = bytearray(content[: end % (2 * len(content))])
    for at, piece in changes:
        place = at % (len(mutated) + 1)
        mutated[place : place + len(piece)] = piece
    made_of_it = prepared(bytes(mutated), "a.pdf")
    assert bool(made_of_it.pages) != bool(made_of_it.examined.fault)
    if made_of_it.pages:
        with pikepdf.open(BytesIO(made_of_it.sheets)) as pdf:
            assert len(pdf.pages) == len(made_of_it.pages)
