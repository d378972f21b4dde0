"""Whether the text of a page can be read aloud and searched: every code it shows stands for known letters.

PDF/A level A (ISO 19005-3, 6.2.11.7) and PDF/UA-1 (ISO 14289-1, 7.21.7) ask for that of every font. Judged on the
safe side: what is not surely readable is not.
"""

from __future__ import annotations

import re

SHOWING = frozenset({"Tj", "TJ", "'", '"'})
_TWO_BYTES = ("/Identity-H", "/Identity-V")
_LATIN = ("/WinAnsiEncoding", "/MacRomanEncoding")
_SECTION = re.compile(rb"begin(bfchar|bfrange)(.*?)end\1", re.DOTALL)
_CHAR = re.compile(rb"<([0-9A-Fa-f\s]*)>\s*<([0-9A-Fa-f\s]*)>")
_RANGE = re.compile(rb"<([0-9A-Fa-f\s]*)>\s*<([0-9A-Fa-f\s]*)>\s*(<[0-9A-Fa-f\s]*>|\[.*?\])", re.DOTALL)
_WIDEST_RANGE = 65536


class UnknownLetters(Exception):
    """Some text does not say which letters it stands for."""


class Codes:
    """The codes shown in each font, collected from content streams."""

    def __init__(self) -> None:
        self.shown: dict[object, tuple[object, set[int]]] = {}  # font and its codes, by what tells fonts apart
        self.named: set[str] = set()  # of fonts, pictures, colours and so on

    @property
    def fonts(self) -> list:
        return [font for font, _ in self.shown.values()]

    def _of(self, font) -> set[int]:
        key = font.objgen if font.is_indirect else font.unparse()
        return self.shown.setdefault(key, (font, set()))[1]

    def read(self, instructions, resources) -> set[str]:
        """One content stream; returns the names of the fonts it writes in.

        Raises Unreadable when it shows text in a font that it does not choose itself.
        """
        fonts = {} if resources is None else resources.get("/Font", {})
        name, font, stack, writing = "", None, [], set()
        for each in instructions:
            op, operands = str(each.operator), each.operands
            if op == "q":
                stack.append((name, font))
            elif op == "Q" and stack:
                name, font = stack.pop()
            elif op == "Tf":
                name, font = str(operands[0]), fonts.get(operands[0])
            elif op == "gs":
                font = _of_state(resources, operands[0], font)
            elif op in SHOWING:
                if font is None:
                    raise UnknownLetters
                writing.add(name)
                self._of(font).update(_codes(font, operands[-1]))
        return writing

    def name(self, instructions) -> None:
        """Note every name that the content uses."""
        import pikepdf

        for each in instructions:
            self.named.update(str(name) for name in each.operands if isinstance(name, pikepdf.Name))

    def check(self) -> None:
        """Raises Unreadable unless every code shown is known."""
        for font, codes in self.shown.values():
            if not codes <= _known(font):
                raise UnknownLetters


def _of_state(resources, name, font):
    state = resources.get("/ExtGState", {}).get(name)
    return state["/Font"][0] if state is not None and "/Font" in state else font


def _codes(font, shown):
    import pikepdf

    texts = (
        [each for each in shown if isinstance(each, pikepdf.String)] if isinstance(shown, pikepdf.Array) else [shown]
    )
    for text in texts:
        content = bytes(text)
        if font.get("/Subtype") == "/Type0":
            yield from (int.from_bytes(content[n : n + 2], "big") for n in range(0, len(content), 2))
        else:
            yield from content


def _known(font) -> set[int]:
    kind = font.get("/Subtype")
    if kind == "/Type0" and font.get("/Encoding") not in _TWO_BYTES:
        raise UnknownLetters  # codes of other lengths: not surely read right here
    if "/ToUnicode" in font:
        return _mapped(font["/ToUnicode"].read_bytes())
    encoding = font.get("/Encoding")
    if kind in ("/TrueType", "/Type1") and encoding in _LATIN:
        return set(range(32, 256))
    raise UnknownLetters


def _mapped(cmap: bytes) -> set[int]:
    """The codes that a ToUnicode map gives letters to."""
    known: set[int] = set()
    for kind, body in _SECTION.findall(cmap):
        if kind == b"bfchar":
            known.update(_number(code) for code, text in _CHAR.findall(body) if _means(_digits(text)))
            continue
        for first, last, target in _RANGE.findall(body):
            known.update(_range(_number(first), _number(last), target))
    return known


def _range(first: int, last: int, target: bytes):
    if last - first > _WIDEST_RANGE:
        raise UnknownLetters
    if target.startswith(b"["):
        texts = re.findall(rb"<([0-9A-Fa-f\s]*)>", target)
        yield from (first + n for n, text in enumerate(texts[: last - first + 1]) if _means(_digits(text)))
        return
    start = _digits(target.strip(b"<>"))
    for code in range(first, last + 1):
        if start and _means(f"{int(start, 16) + code - first:0{len(start)}x}"):
            yield code


def _digits(text: bytes) -> str:
    return "".join(text.decode("ascii").split())


def _number(code: bytes) -> int:
    return int(_digits(code) or "0", 16)


def _means(digits: str) -> bool:
    """Whether UTF-16 digits are letters that mean the same to everybody."""
    if not digits or len(digits) % 4:
        return False
    text = bytes.fromhex(digits).decode("utf-16-be", errors="replace")
    return bool(text) and not any(each in "\0\ufeff\ufffe\ufffd" or _private(ord(each)) for each in text)


def _private(point: int) -> bool:
    return 0xE000 <= point <= 0xF8FF or point >= 0xF0000
