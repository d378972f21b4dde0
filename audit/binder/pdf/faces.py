"""The faces of the binder: one for text, and one for the letters that it lacks."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "BinderText"
BOLD = "BinderText-Bold"
_REST = {REGULAR: "BinderRest", BOLD: "BinderRest-Bold"}
_FILES = {
    REGULAR: "SourceSans3-Regular.ttf",
    BOLD: "SourceSans3-SemiBold.ttf",
    "BinderRest": "DejaVuSansCondensed.ttf",
    "BinderRest-Bold": "DejaVuSansCondensed-Bold.ttf",
}
SIGNS = "□◩■●○✓"
LACKING = "\ufffd"  # drawn for a letter that no face has, so that its absence is seen
_LONG = re.compile(r"<(\w\w)> <(\w{5,6})>")


class _Font(TTFont):
    """Letters beyond U+FFFF are written as pairs in the table from codes to letters (ISO 32000-1, 9.10.3)."""

    def addObjects(self, doc):
        state = self.state.get(doc)
        long = [n for n, subset in enumerate(state.subsets) if max(subset) > 0xFFFF] if state else []
        name = state.internalName if state else ""
        super().addObjects(doc)
        fonts = doc.idToObject["BasicFonts"].dict
        for n in long:
            table = doc.idToObject[fonts[f"{name}+{n}"].ToUnicode.name]
            table.content = _LONG.sub(_paired, table.content)


def _paired(found: re.Match) -> str:
    return f"<{found[1]}> <{chr(int(found[2], 16)).encode('utf-16-be').hex().upper()}>"


@cache
def loaded(name: str):
    """The face of that name, registered once in a process; widths are in thousandths of the size."""
    pdfmetrics.registerFont(_Font(name, str(Path(__file__).parent / "fonts" / _FILES[name])))
    return pdfmetrics.getFont(name).face


class _Widths(dict):
    """The width of each letter, by its number, in the face that draws it."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name

    def __missing__(self, code: int) -> float:
        letter = chr(code) if face_of(chr(code), self.name) else LACKING
        wide = self[code] = loaded(face_of(letter, self.name)).charWidths[ord(letter)]
        return wide


@cache
def widths(name: str) -> _Widths:
    return _Widths(name)


@cache
def face_of(letter: str, name: str) -> str:
    """The name of the face that has the letter: the one for text where it can be; "" where none has it."""
    code, faces = ord(letter), (name, _REST[name])
    # Signs are all of one face, or one would be half as large as the next.
    order = faces[::-1] if letter in SIGNS else faces
    return next((each for each in order if code in loaded(each).charToGlyph), "")


def runs(text: str, name: str) -> list[tuple[str, str]]:
    """The text cut where the face changes: (name of the face, what it draws). A mark goes with its letter."""
    found: list[tuple[str, str]] = []
    for letter in text:
        face = face_of(letter, name)
        if not face:
            letter, face = LACKING, face_of(LACKING, name)
        if found:
            last, before = found[-1]
            marks = last != face and unicodedata.combining(letter) and ord(letter) in loaded(last).charToGlyph
            if last == face or marks:
                found[-1] = (last, before + letter)
                continue
        found.append((face, letter))
    return found


@cache
def has(letter: str) -> bool:
    """Whether a face has the letter."""
    return bool(face_of(letter, REGULAR))
