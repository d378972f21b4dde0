"""From the codes in a page's text to letters, by the ToUnicode table of the font (ISO 32000-1, 9.10.3)."""

from __future__ import annotations

import re

_HEX = rb"<\s*([0-9A-Fa-f\s]*)>"
_SPACE = re.compile(rb"begincodespacerange(.*?)endcodespacerange", re.S)
_CHARS = re.compile(rb"beginbfchar(.*?)endbfchar", re.S)
_RANGES = re.compile(rb"beginbfrange(.*?)endbfrange", re.S)
_PAIR = re.compile(_HEX + rb"\s*" + _HEX)
_TRIPLE = re.compile(_HEX + rb"\s*" + _HEX + rb"\s*(?:" + _HEX + rb"|\[(.*?)\])", re.S)
_ONE = re.compile(_HEX)

# ISO 14289-1, 7.21.7: these stand for no letter at all.
NOT_LETTERS = frozenset("\u0000\ufeff\ufffe")
PRIVATE = range(0xE000, 0xF900)  # ISO 19005-3, 6.2.11.7.3: a letter of private use says nothing by itself


def _bytes(digits: bytes) -> bytes:
    return bytes.fromhex(digits.decode("ascii"))


def _text(digits: bytes) -> str:
    return _bytes(digits).decode("utf-16-be", errors="replace")


def table(source: bytes) -> tuple[int, dict[bytes, str]]:
    """Bytes in a code, and the letters of each code."""
    wide = 1
    for part in _SPACE.findall(source):
        wide = max(len(_bytes(low)) for low, _ in _PAIR.findall(part))
    found: dict[bytes, str] = {}
    for part in _CHARS.findall(source):
        found.update({_bytes(code): _text(said) for code, said in _PAIR.findall(part)})
    for part in _RANGES.findall(source):
        for low, high, start, listed in _TRIPLE.findall(part):
            found.update(_range(_bytes(low), _bytes(high), start, listed))
    return wide, found


def _range(low: bytes, high: bytes, start: bytes, listed: bytes) -> dict[bytes, str]:
    first, last, size = int.from_bytes(low, "big"), int.from_bytes(high, "big"), len(low)
    codes = [code.to_bytes(size, "big") for code in range(first, last + 1)]
    if listed:
        return dict(zip(codes, map(_text, _ONE.findall(listed)), strict=False))
    said = _text(start)
    return {code: said[:-1] + chr(ord(said[-1]) + n) for n, code in enumerate(codes)}


class Letters:
    """The letters of one font. `unknown` gathers the codes that were shown and stand for nothing."""

    def __init__(self, font) -> None:
        self.name = str(font.get("/BaseFont", "a font without a name"))
        self.unknown: set[bytes] = set()
        stream = font.get("/ToUnicode")
        two = str(font.get("/Subtype")) == "/Type0"
        self._wide, self._table = table(stream.read_bytes()) if hasattr(stream, "read_bytes") else (1 + two, {})

    def read(self, shown: bytes) -> str:
        out = []
        for at in range(0, len(shown), self._wide):
            code = shown[at : at + self._wide]
            said = self._table.get(code, "")
            if not said or NOT_LETTERS & set(said) or any(ord(each) in PRIVATE for each in said):
                self.unknown.add(code)
                said = "\ufffd"
            out.append(said)
        return "".join(out)
