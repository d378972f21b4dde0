"""What a file is, by its content, and why it cannot be kept as a paper: nothing here knows the database.

A paper is looked at by inspectors years later, on machines of their own. So what cannot be opened, what hides its
content behind a password and what does something by itself is refused when it is filed, with the way out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from io import BytesIO
from pathlib import PurePath

from .scans import too_many as scans_too_many

PDF, PNG, JPEG, PLAIN = "application/pdf", "image/png", "image/jpeg", "application/octet-stream"
TEXT = {".txt": "text/plain", ".csv": "text/csv"}
SHOWN = (PDF, PNG, JPEG)  # what can be shown page by page

LIMIT_MIB = 20
LIMIT_BYTES = LIMIT_MIB * 1024 * 1024
MOST_PAGES = 200
# A little over A0 (841 by 1189 mm, ISO 216), either way up.
LONGEST_SIDE = 3400  # points
MOST_PIXELS = 50_000_000
MOST_OBJECTS = 300_000
DEEPEST = 60  # containers inside each other
UNPACKED = 256 * 1024 * 1024  # bytes of one packed stream

LIMITS = (
    f"{LIMIT_MIB} MiB at most; a PDF of {MOST_PAGES} pages, none larger than A0; a picture of "
    f"{MOST_PIXELS // 1_000_000} million pixels. PDF, PNG and JPEG are shown in the binder; a text or CSV file is "
    "only attached to it; other kinds stay in the store. A PDF with a password, scripts or files inside is refused. "
    "No patient data."
)

PRINT_ANEW = "Print it to a new PDF and file that."
RESCAN = "Scan or photograph it again."
REPRINT = "Open it in a viewer you trust, print it to a new PDF and file that."
TAKE_ANEW = {PDF: PRINT_ANEW, PNG: RESCAN, JPEG: RESCAN}  # what helps where a file of a kind cannot be opened
_BY_SUFFIX = {".pdf": PDF, ".png": PNG, ".jpg": JPEG, ".jpeg": JPEG}
_NAMES = {PDF: "PDF", PNG: "PNG picture", JPEG: "JPEG picture"}

# Action types of ISO 32000-1, 12.6.4, that run something, leave the file or play something.
_ACTIONS = {
    "/JavaScript": "JavaScript",
    "/Launch": "a command that starts a program",
    "/SubmitForm": "a form that sends what is typed to somewhere else",
    "/ImportData": "a form that reads other files",
    "/GoToR": "a jump into another file",
    "/GoToE": "a jump into a file inside it",
    "/Rendition": "sound or film",
    "/Movie": "sound or film",
    "/Sound": "sound or film",
    "/RichMediaExecute": "rich media",
    "/GoTo3DView": "a 3D model",
}
_ANNOTATIONS = {
    "/FileAttachment": "files inside it",
    "/RichMedia": "rich media",
    "/Movie": "sound or film",
    "/Sound": "sound or film",
    "/Screen": "sound or film",
    "/3D": "a 3D model",
}
_LINKS = ("http:", "https:", "mailto:", "tel:")
_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:")  # RFC 3986, 3.1


@dataclass(frozen=True, slots=True)
class Examined:
    """`fault` says what is wrong and `way_out` what helps, both "" when nothing is; `active` says that opening the
    file may do something. `pages` is 0 where there are none to count.
    """

    media_type: str
    pages: int = 0
    fault: str = ""
    way_out: str = ""
    active: bool = False

    @property
    def message(self) -> str:
        return f"{self.fault} {self.way_out}".strip()


def media_type(content: bytes, filename: str) -> str:
    """By the first bytes; text and CSV by their name, when they read as UTF-8."""
    if b"%PDF-" in content[:1024]:
        return PDF
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if content.startswith(b"\xff\xd8\xff"):
        return JPEG
    named = TEXT.get(_suffix(filename), PLAIN)
    return named if named == PLAIN or _is_text(content) else PLAIN


def _suffix(filename: str) -> str:
    return PurePath(filename).suffix.lower()


def _is_text(content: bytes) -> bool:
    try:
        return "\0" not in content.decode()
    except UnicodeDecodeError:
        return False


def examine(content: bytes, filename: str) -> Examined:
    """What the file is and what is wrong with it. Never raises, whatever the bytes are."""
    kind = media_type(content, filename)
    said = _BY_SUFFIX.get(_suffix(filename), kind)
    if kind == PLAIN and said != kind:
        return Examined(
            kind,
            fault=f"By its name this is a {_NAMES[said]}, but its content is not.",
            way_out="It may be damaged: fetch or scan it again.",
        )
    if kind == PDF:
        return _pdf(content)
    if kind in (PNG, JPEG):
        return _picture(content, kind)
    return Examined(kind)


# ------------------------------------------------------------------------------------------------------- pictures


def _picture(content: bytes, kind: str) -> Examined:
    from PIL import Image

    name = _NAMES[kind]
    try:
        with Image.open(BytesIO(content), formats=[kind.split("/")[1]]) as picture:
            wide, high = picture.size
            scans = scans_too_many(content, wide * high) if kind == JPEG else ""
            if wide * high <= MOST_PIXELS and not scans:
                picture.load()
    except Exception:  # whatever a decoder makes of foreign bytes
        return Examined(kind, fault=f"This {name} is damaged or far too large to open.", way_out=RESCAN)
    if scans and wide * high <= MOST_PIXELS:
        return Examined(kind, fault=scans, way_out=RESCAN)
    if wide * high > MOST_PIXELS:
        fault = f"This {name} has {wide} × {high} pixels; {MOST_PIXELS // 1_000_000} million are the most."
        return Examined(kind, fault=fault, way_out="Scan it at a lower resolution.")
    return Examined(kind, pages=1)


# ------------------------------------------------------------------------------------------------------------ PDF


def open_pdf(content: bytes):
    """The file, opened with limits against packed bombs. Raises whatever pikepdf raises."""
    import pikepdf

    pikepdf.settings.set_qpdf_limits(flate_max_memory=UNPACKED, parser_max_nesting=200)
    return pikepdf.open(BytesIO(content), suppress_warnings=True)


def _pdf(content: bytes) -> Examined:
    import pikepdf

    try:
        with pikepdf.explicit_conversion(), open_pdf(content) as pdf:
            return _opened(pdf)
    except pikepdf.PasswordError:
        fault = "This PDF can be opened with a password only, so an inspector could not read it."
        return Examined(PDF, fault=fault, way_out=f"Remove the password, or: {_lower(REPRINT)}")
    except Exception:  # whatever a reader makes of foreign bytes
        return Examined(
            PDF,
            fault="This PDF is damaged: it cannot be opened.",
            way_out=f"Fetch it again, or: if a viewer still opens it, {_lower(PRINT_ANEW)}",
        )


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _opened(pdf) -> Examined:
    pages = len(pdf.pages)
    if pdf.is_encrypted:
        return Examined(PDF, pages, "This PDF is protected by encryption.", REPRINT)
    if not pages:
        return Examined(PDF, 0, "This PDF has no page.", "Choose another file.")
    if pages > MOST_PAGES:
        fault = f"This PDF has {pages} pages; {MOST_PAGES} are the most."
        return Examined(PDF, pages, fault, "File the pages that matter, or file it in parts.")
    active = does(pdf)
    if active:
        listed = ", ".join(active)
        return Examined(PDF, pages, f"This PDF does more than show pages; it holds {listed}.", REPRINT, active=True)
    for number, page in enumerate(pdf.pages, start=1):
        wide, high = size_of(page)
        if not (0 < wide <= LONGEST_SIDE and 0 < high <= LONGEST_SIDE):
            fault = f"Page {number} of this PDF is {wide / 72:.0f} × {high / 72:.0f} inches; A0 is the largest."
            return Examined(PDF, pages, fault, "Print it to a smaller sheet as a new PDF and file that.")
    return Examined(PDF, pages)


def size_of(page) -> tuple[float, float]:
    """Width and height in points of what a viewer shows of a page, before it is turned."""
    unit = float(page.obj.get("/UserUnit", 1))
    left, low, right, high = visible(page)
    return (right - left) * unit, (high - low) * unit


def visible(page) -> tuple[float, float, float, float]:
    """The crop box inside the media box: left, lower, right, upper edge."""
    media, crop = _corners(page.mediabox), _corners(page.cropbox)
    both = (max(media[0], crop[0]), max(media[1], crop[1]), min(media[2], crop[2]), min(media[3], crop[3]))
    return both if both[2] > both[0] and both[3] > both[1] else media


def _corners(box) -> tuple[float, float, float, float]:
    x1, y1, x2, y2 = (float(each) for each in box)
    return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def does(pdf) -> list[str]:
    """What a PDF does or holds besides its pages, in words, sorted; empty for a file that only shows pages.

    Every object of the file is looked at, whether or not a page leads to it. Raises ValueError for a file with more
    objects, or objects deeper in each other, than any paper has.
    """
    found: set[str] = set()
    if "/OpenAction" in pdf.Root and not _is_jump(pdf.Root.OpenAction):
        found |= set(_action(pdf.Root.OpenAction)) or {"an action on opening"}
    if len(pdf.objects) > MOST_OBJECTS:
        raise ValueError("too many objects")
    for each in pdf.objects:
        _look(each, found, 0)
    return sorted(found)


def _is_jump(action) -> bool:
    """A place in the file, or an action that only goes to one."""
    import pikepdf

    return not isinstance(action, pikepdf.Dictionary) or action.get("/S") == pikepdf.Name.GoTo


def _action(value) -> list[str]:
    """What the action type of a dictionary means, if it is one of the bad ones."""
    import pikepdf

    if not isinstance(value, pikepdf.Dictionary | pikepdf.Stream):
        return []
    kind = value.get("/S")
    if kind == pikepdf.Name.URI:
        return [] if _harmless(value.get("/URI")) else ["a link to something other than a web or mail address"]
    return [_ACTIONS[str(kind)]] if isinstance(kind, pikepdf.Name) and str(kind) in _ACTIONS else []


def _harmless(target) -> bool:
    import pikepdf

    if not isinstance(target, pikepdf.String):
        return target is None
    address = bytes(target).decode("latin-1").strip().lower()
    return not _SCHEME.match(address) or address.startswith(_LINKS)


def _look(value, found: set[str], depth: int) -> None:
    """Into one object and what lies directly in it; what it only points to is an object of its own."""
    import pikepdf

    if depth > DEEPEST:
        raise ValueError("objects too deep in each other")
    if isinstance(value, pikepdf.Array):
        for each in value:
            _into(each, found, depth)
    elif isinstance(value, pikepdf.Dictionary | pikepdf.Stream):
        found |= _said_by(value)
        for key in value.keys():
            _into(value.get(key), found, depth)


def _into(value, found: set[str], depth: int) -> None:
    if value is not None and not value.is_indirect:  # null is None
        _look(value, found, depth + 1)


def _said_by(value) -> set[str]:
    import pikepdf

    found = set(_action(value))
    if "/JS" in value:
        found.add("JavaScript")
    if "/XFA" in value:
        found.add("an XFA form")
    if "/EF" in value or "/EmbeddedFiles" in value or value.get("/Type") == pikepdf.Name.EmbeddedFile:
        found.add("files inside it")
    if "/RichMediaContent" in value:
        found.add("rich media")
    kind = value.get("/Subtype")
    if "/Rect" in value and isinstance(kind, pikepdf.Name) and str(kind) in _ANNOTATIONS:
        found.add(_ANNOTATIONS[str(kind)])
    return found
