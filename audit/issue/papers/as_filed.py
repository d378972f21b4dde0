"""A page of somebody's PDF as a form to place: its look kept, everything else left behind.

What belongs to the file and not to the look (structure, names of layers, metadata, notes, actions) is not taken over,
for the binder has its own structure. A page that cannot be taken over without breaking the binder's standards raises
Unfit, with the reason in words.
"""

from __future__ import annotations

from records.files.paper_check import visible

from .colours import UnfitColours, named_apart
from .limits import MOST_CONTENT
from .reading import Codes, UnknownLetters

# How a page begins (ISO 32000-1, table 52 and 104): a form would begin as what is drawn around it.
_AFRESH = b"0 g 0 G 1 w 0 J 0 j 10 M [] 0 d 0 Tc 0 Tw 100 Tz 0 TL 0 Tr 0 Ts\n"
_MARKS = frozenset({"BMC", "BDC", "EMC", "MP", "DP"})
_KEPT = ("/Font", "/XObject", "/ExtGState", "/ColorSpace", "/Pattern", "/Shading")
_LEFT = (
    "/StructParent", "/StructParents", "/Metadata", "/PieceInfo", "/LastModified", "/AF", "/Interpolate", "/Name",
    "/Alternates", "/ID",
)  # fmt: skip
_UNSEEN = ("/Link", "/Popup")
_HIDDEN = 2 | 32  # flags Hidden and NoView of an annotation, ISO 32000-1, table 165

LAYERS = "it has layers that can be switched off"


class Unfit(Exception):
    """Why a page cannot be placed as filed."""


def form_of(pdf, page):
    """The page as a form of the same file with its lower left corner at (0, 0): (form, width, height), in points.

    Turned and cropped as a viewer shows it. Raises Unfit, or whatever pikepdf raises of a damaged page.
    """
    import pikepdf

    _no_notes(page)
    resources = page.resources
    codes = Codes()
    content = _stripped(page.obj, resources, codes)
    _clean_scopes(page, codes)
    _prune(page, codes.named)
    if not all(_embedded(font) for font in codes.fonts):
        raise Unfit("a font that it uses is not in the file")
    _mend(codes.fonts)
    try:
        named_apart(resources)
    except UnfitColours as why:
        raise Unfit(str(why)) from None
    try:
        codes.check()
    except UnknownLetters:
        raise Unfit("some of its letters cannot be read out") from None
    form = pikepdf.Stream(pdf, _AFRESH + content)
    form.Type, form.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
    box = visible(page)
    form.BBox = pikepdf.Array([round(each, 4) for each in box])
    matrix, wide, high = _upright(box, page)
    form.Matrix = pikepdf.Array([round(each, 4) for each in matrix])
    form.Resources = pikepdf.Dictionary({key: resources[key] for key in _KEPT if key in resources})
    if "/Group" in page.obj:
        group = page.obj["/Group"]
        form.Group = pikepdf.Dictionary({key: group[key] for key in ("/S", "/CS", "/I", "/K") if key in group})
    return pdf.make_indirect(form), wide, high


def _mend(fonts) -> None:
    """Lists of what a font holds may be left out, and must be whole where they stand; a map has a value if left out.

    ISO 19005-3, 6.2.11.4.2 (CharSet, CIDSet) and 6.2.11.3.2 (CIDToGIDMap); ISO 32000-1, table 117.
    """
    import pikepdf

    for font in fonts:
        inner = font["/DescendantFonts"][0] if font.get("/Subtype") == "/Type0" else font
        descriptor = inner.get("/FontDescriptor", {})
        for key in ("/CIDSet", "/CharSet"):
            if key in descriptor:
                del descriptor[key]
        if inner.get("/Subtype") == "/CIDFontType2" and "/CIDToGIDMap" not in inner:
            inner.CIDToGIDMap = pikepdf.Name.Identity


def _embedded(font) -> bool:
    if font.get("/Subtype") == "/Type3":
        return True
    if font.get("/Subtype") == "/Type0":
        font = font["/DescendantFonts"][0]
    descriptor = font.get("/FontDescriptor", {})
    return any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))


def _no_notes(page) -> None:
    """Notes and fields are drawn by viewers, not by the page itself."""
    for each in page.obj.get("/Annots", ()):
        if each.get("/Subtype") not in _UNSEEN and not int(each.get("/F", 0)) & _HIDDEN:
            raise Unfit("it has notes, stamps or form fields on it")


def _upright(box, page):
    """The matrix that turns what is visible upright, its corner to (0, 0); and the size it then has."""
    left, low, right, high = box
    unit = float(page.obj.get("/UserUnit", 1))
    turn = int(page.rotation) % 360
    matrix = {
        0: (1, 0, 0, 1, -left, -low),
        90: (0, -1, 1, 0, -low, right),
        180: (-1, 0, 0, -1, right, high),
        270: (0, 1, -1, 0, high, -left),
    }.get(turn)
    if matrix is None:
        raise Unfit("it is turned by an odd angle")
    wide, tall = (right - left) * unit, (high - low) * unit
    if turn in (90, 270):
        wide, tall = tall, wide
    return tuple(each * unit for each in matrix), wide, tall


def _stripped(stream, resources, codes: Codes) -> bytes:
    """The content without its marks of structure and layers; its text is noted in `codes`."""
    import pikepdf

    if _length(stream) > MOST_CONTENT:
        raise Unfit("it is drawn in far more strokes than a page of print")
    instructions = pikepdf.parse_content_stream(stream)
    kept = []
    for each in instructions:
        operator = str(each.operator)
        if operator in ("BDC", "DP") and each.operands and each.operands[0] == "/OC":
            raise Unfit(LAYERS)
        if operator not in _MARKS:
            kept.append(each)
    try:
        writing = codes.read(kept, resources)
    except UnknownLetters:
        raise Unfit("some of its letters cannot be read out") from None
    # A font that is chosen and never written in would have to be whole all the same.
    kept = [e for e in kept if str(e.operator) != "Tf" or str(e.operands[0]) in writing]
    codes.name(kept)
    return pikepdf.unparse_content_stream(_balanced(kept))


def _length(stream) -> int:
    """Bytes of content: of a page the streams that it names, else of the stream itself."""
    import pikepdf

    contents = stream if isinstance(stream, pikepdf.Stream) else stream.get("/Contents", ())
    return sum(len(each.read_bytes()) for each in (contents if isinstance(contents, pikepdf.Array) else [contents]))


def _balanced(instructions: list) -> list:
    """Every state of drawing that is saved is restored, and no other: a form must not reach into what follows."""
    import pikepdf

    kept, depth = [], 0
    for each in instructions:
        operator = str(each.operator)
        if operator == "Q" and not depth:
            continue
        depth += (operator == "q") - (operator == "Q")
        kept.append(each)
    restore = pikepdf.ContentStreamInstruction([], pikepdf.Operator("Q"))
    return [*kept, *[restore] * depth]


def _clean_scopes(page, codes: Codes) -> None:
    """Everything drawn inside the page: forms, patterns, letters that are drawings, masks; and its pictures."""
    for scope in page.content_scopes():
        _clean_pictures(scope.resources)
        if scope.kind in ("page", "appearance"):
            continue
        _leave(scope.content)
        scope.content.write(_stripped(scope.content, scope.resources, codes))
        if scope.kind != "glyph" and "/Resources" in scope.content and "/Properties" in scope.content["/Resources"]:
            del scope.content["/Resources"]["/Properties"]


def _leave(stream) -> None:
    if "/OC" in stream:
        raise Unfit(LAYERS)
    for key in _LEFT:
        if key in stream:
            del stream[key]


def _clean_pictures(resources) -> None:
    if resources is None:
        return
    for each in resources.get("/XObject", {}).values():
        if each.get("/Subtype") != "/Image":
            continue
        for stream in (each, each.get("/SMask"), each.get("/Mask")):
            if stream is None or not hasattr(stream, "read_raw_bytes"):
                continue
            _leave(stream)
            _repack(stream)


def _prune(page, named: set[str]) -> None:
    """Leave out what no content names: a font that is only listed would have to be whole all the same."""
    for resources in (page.resources, *(scope.resources for scope in page.content_scopes())):
        for kind in _KEPT:
            listed = {} if resources is None else resources.get(kind, {})
            for name in list(listed.keys()):
                if name not in named and not name.startswith("/Default"):
                    del listed[name]
            if resources is not None and kind in resources and not len(listed):
                del resources[kind]


def _repack(stream) -> None:
    """LZW is not allowed in an archive file, and JPEG 2000 only in some of its forms."""
    import pikepdf

    filters = stream.get("/Filter", ())
    filters = list(filters) if isinstance(filters, pikepdf.Array) else [filters]
    if "/JPXDecode" in filters:
        raise Unfit("a picture on it is packed as JPEG 2000, which not every reader opens")
    if "/LZWDecode" in filters:
        stream.write(stream.read_bytes())
