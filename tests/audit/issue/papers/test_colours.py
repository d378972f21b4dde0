"""Gradients, tilings, named inks and lists of letters: shown as filed where ISO 19005-3 allows it, else why not."""

from __future__ import annotations

import pathlib
from io import BytesIO

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, pdfa
from reportlab.pdfbase.ttfonts import TTFontFile

from audit.binder.attached import AS_FILED, PICTURE
from audit.issue.papers import colours
from audit.issue.papers.colours import is_laid_before
from audit.issue.papers.prepare import prepared
from tests import paper_files as made
from tests.audit.issue.papers.test_prepare import apart, view, with_content


def _ramp(first, last) -> Dictionary:
    return Dictionary(FunctionType=2, Domain=[0, 1], C0=first, C1=last, N=1)


def _gradient(space, first, last) -> Dictionary:
    return Dictionary(
        ShadingType=2, ColorSpace=space, Coords=[10, 0, 110, 0], Function=_ramp(first, last), Extend=[True, True]
    )


def _tile(pdf, content: bytes, paint: int = 1, **resources):
    tile = pdf.make_stream(content)
    tile.stream_dict = Dictionary(
        Type=Name.Pattern, PatternType=1, PaintType=paint, TilingType=1, BBox=[0, 0, 10, 10], XStep=10, YStep=10,
        Resources=Dictionary(**resources),
    )  # fmt: skip
    return tile


def _ink(name: str, space, first, last) -> Array:
    return Array([Name.Separation, Name(f"/{name}"), space, _ramp(first, last)])


RGB, CMYK = Name.DeviceRGB, Name.DeviceCMYK
PAINT = b"q /Pattern cs /P1 scn 10 10 100 100 re f Q"
RED, BLUE = [1, 0, 0], [0, 0, 1]
INK = b"q /C1 cs 0.8 scn 10 10 100 100 re f Q"


def _patterns(build):
    return {"Pattern": lambda pdf: Dictionary(P1=build(pdf))}


def _spaces(build):
    return {"ColorSpace": lambda pdf: Dictionary(C1=build(pdf))}


AS_IT_IS = {
    "a gradient": (
        b"q 10 10 100 100 re W n /S1 sh Q", {"Shading": lambda _: Dictionary(S1=_gradient(RGB, RED, BLUE))},
    ),
    "a pattern that is a gradient": (
        PAINT, _patterns(lambda _: Dictionary(PatternType=2, Shading=_gradient(RGB, RED, BLUE))),
    ),
    "a tiling": (PAINT, _patterns(lambda pdf: _tile(pdf, b"1 0 0 rg 0 0 5 5 re f"))),
    "a tiling painted in another colour": (
        b"q /C1 cs 0 0.5 0 /P1 scn 10 10 100 100 re f Q",
        _patterns(lambda pdf: _tile(pdf, b"0 0 5 5 re f", 2)) | _spaces(lambda _: Array([Name.Pattern, RGB])),
    ),
    "a tiling with a tiling in it": (
        PAINT,
        _patterns(
            lambda pdf: _tile(
                pdf, b"/Pattern cs /P2 scn 0 0 9 9 re f",
                Pattern=Dictionary(P2=pdf.make_indirect(_tile(pdf, b"0 0 1 rg 0 0 5 5 re f"))),
            )
        ),
    ),
    "a named ink": (INK, _spaces(lambda _: _ink("Spot", RGB, [1, 1, 1], RED))),
    "a gradient in a named ink": (
        b"q 10 10 100 100 re W n /S1 sh Q",
        {"Shading": lambda _: Dictionary(S1=_gradient(_ink("Spot", RGB, [1, 1, 1], RED), [0], [1]))},
    ),
}  # fmt: skip

AS_PICTURE = {
    "a gradient in printing colours": (
        b"q 10 10 100 100 re W n /S1 sh Q",
        {"Shading": lambda _: Dictionary(S1=_gradient(CMYK, [1, 0, 0, 0], [0, 1, 0, 0]))},
        "colours are for a printing press",
    ),
    "a tiling drawn in printing colours": (
        PAINT, _patterns(lambda pdf: _tile(pdf, b"1 0 0 0 k 0 0 5 5 re f")), "colours are for a printing press",
    ),
    "a named ink shown in printing colours": (
        INK, _spaces(lambda _: _ink("Spot", CMYK, [0, 0, 0, 0], [0, 1, 1, 0])), "colours are for a printing press",
    ),
    "every ink at once": (INK, _spaces(lambda _: _ink("All", RGB, [1, 1, 1], RED)), "every ink of a press"),
    "several inks": (
        b"q /C1 cs 0.8 0.1 scn 10 10 100 100 re f Q",
        _spaces(
            lambda pdf: Array(
                [Name.DeviceN, Array([Name.One, Name.Two]), RGB, pdf.make_stream(
                    b"{pop 0.5 0.5}", FunctionType=4, Domain=[0, 1, 0, 1], Range=[0, 1, 0, 1, 0, 1],
                )]
            )
        ),
        "several named inks",
    ),
    "a pattern that says how tones are printed": (
        PAINT,
        _patterns(
            lambda _: Dictionary(
                PatternType=2, Shading=_gradient(RGB, RED, BLUE),
                ExtGState=Dictionary(Type=Name.ExtGState, TR=Name.Identity),
            )
        ),
        "how a printing press is to draw its tones",
    ),
}  # fmt: skip


def _unlooked(sheets: bytes) -> list:
    """What a checker of archive files finds, but for that it did not look into gradients, tilings and named inks."""
    with pikepdf.open(BytesIO(sheets)) as pdf:
        pdfa.prepare(pdf, "3b")
        return [each for each in pdfa.check(pdf, "3b").findings if not is_laid_before(each)]


@pytest.mark.parametrize("case", AS_IT_IS)
def test_what_an_archive_file_may_hold_is_shown_as_filed(case):
    content, resources = AS_IT_IS[case]
    filed = with_content(content, **resources)
    made_of_it = prepared(filed, "a.pdf")
    (page,) = made_of_it.pages
    assert (page.way, page.why) == (AS_FILED, "")
    assert apart(view(filed), view(made_of_it.sheets)) < 1.0
    assert apart(view(filed), view(made.drawn())) > 1.0, "there is something to see"
    assert _unlooked(made_of_it.sheets) == []


@pytest.mark.parametrize("case", AS_PICTURE)
def test_what_it_may_not_hold_is_a_picture_and_says_why(case):
    content, resources, why = AS_PICTURE[case]
    made_of_it = prepared(with_content(content, **resources), "a.pdf")
    (page,) = made_of_it.pages
    assert page.way == PICTURE and why in page.why
    assert _unlooked(made_of_it.sheets) == []


def _inks(sheets: bytes) -> set[str]:
    with pikepdf.open(BytesIO(sheets)) as pdf:
        form = pdf.pages[0].Resources.XObject["/Paper"]
        return {str(space[1]) for space in form.Resources.ColorSpace.values()}


def test_inks_of_one_name_that_are_shown_apart_get_names_apart():
    """ISO 19005-3, 6.2.4.4: all of one name in a file are shown alike, and a binder holds papers of many."""
    red, again, blue = (
        _inks(prepared(with_content(INK, **_spaces(lambda _, c=c: _ink("Spot", RGB, [1, 1, 1], c))), "a.pdf").sheets)
        for c in (RED, RED, BLUE)
    )
    assert len(red) == len(blue) == 1
    assert red == again != blue
    assert all(name.startswith("/Spot-shown-") for name in red | blue)


def test_an_ink_of_endless_definition_is_a_picture(monkeypatch):
    monkeypatch.setattr(colours, "_MOST_TOLD", 3)
    (page,) = prepared(with_content(INK, **_spaces(lambda _: _ink("Spot", RGB, [1, 1, 1], RED))), "a.pdf").pages
    assert page.way == PICTURE and "nested too deep" in page.why


FACE = pathlib.Path(__file__).parents[4] / "audit/binder/pdf/fonts/DejaVuSansCondensed.ttf"


def _by_glyphs(**more) -> bytes:
    """A page with words in a font by numbers of glyphs (ISO 32000-1, 9.7.4), its dictionary changed as given."""
    face = TTFontFile(str(FACE))
    letters = {ord(letter): face.charToGlyph[ord(letter)] for letter in "Valve "}
    wide = {glyph: face.charWidths[code] for code, glyph in letters.items()}

    def change(pdf):
        table = "\n".join(f"<{glyph:04X}> <{code:04X}>" for code, glyph in letters.items())
        cmap = (
            f"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{len(letters)} beginbfchar\n{table}\nendbfchar"
        )
        descriptor = Dictionary(
            Type=Name.FontDescriptor, FontName=Name("/AAAAAA+Face"), Flags=4, FontBBox=[-1000, -500, 2000, 1500],
            ItalicAngle=0, Ascent=900, Descent=-200, CapHeight=700, StemV=80,
            FontFile2=pdf.make_stream(FACE.read_bytes()),
        )  # fmt: skip
        if more.get("cid_set"):
            descriptor.CIDSet = pdf.make_stream(b"\x80")
        inner = Dictionary(
            Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=Name("/AAAAAA+Face"), FontDescriptor=descriptor,
            CIDSystemInfo=Dictionary(Registry=b"Adobe", Ordering=b"Identity", Supplement=0),
            W=Array([each for glyph, width in sorted(wide.items()) for each in (glyph, Array([round(width, 3)]))]),
        )  # fmt: skip
        if more.get("mapped", True):
            inner.CIDToGIDMap = Name.Identity
        font = Dictionary(
            Type=Name.Font, Subtype=Name.Type0, BaseFont=Name("/AAAAAA+Face"), Encoding=Name("/Identity-H"),
            DescendantFonts=Array([pdf.make_indirect(inner)]), ToUnicode=pdf.make_stream(cmap.encode()),
        )  # fmt: skip
        page = pdf.pages[0]
        page.Resources.Font["/G1"] = pdf.make_indirect(font)
        shown = "".join(f"{letters[ord(letter)]:04X}" for letter in "Valve")
        page.contents_add(f"BT /G1 20 Tf 20 60 Td <{shown}> Tj ET".encode(), prepend=True)

    return made.changed(change)


@pytest.mark.parametrize("more", [{}, {"cid_set": True}, {"mapped": False}], ids=["whole", "partial list", "no map"])
def test_a_font_is_mended_where_nothing_is_lost(more):
    filed = _by_glyphs(**more)
    made_of_it = prepared(filed, "a.pdf")
    (page,) = made_of_it.pages
    assert (page.way, page.why) == (AS_FILED, "")
    assert apart(view(filed), view(made_of_it.sheets)) < 1.0
    assert _unlooked(made_of_it.sheets) == []
    with pikepdf.open(BytesIO(made_of_it.sheets)) as pdf:
        font = pdf.pages[0].Resources.XObject["/Paper"].Resources.Font["/G1"].DescendantFonts[0]
        assert font.CIDToGIDMap == Name.Identity and "/CIDSet" not in font.FontDescriptor
