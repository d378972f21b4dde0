"""Reading a binder back: the text of its pages, with white space evened out."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO

from pypdf import PdfReader


def reader(content: bytes) -> PdfReader:
    return PdfReader(BytesIO(content))


def spaced(text: str) -> str:
    """With plain spaces for no-break ones: which words stand together has tests of its own."""
    return text.replace("\u00a0", " ")


def even(text: str) -> str:
    return " ".join(text.split())


@lru_cache(maxsize=8)
def extracted(content: bytes) -> tuple[str, ...]:
    """The text of each page as it comes: read once of the same file, as to read it takes longer than to make it."""
    return tuple(page.extract_text() for page in reader(content).pages)


def texts(content: bytes) -> list[str]:
    """The text of each page, every run of white space as one blank."""
    return [even(text) for text in extracted(content)]


def own_lines(page) -> list[str]:
    """The lines of a page between its running head and its foot; the cover has no head."""
    lines = [even(line) for line in page.extract_text().splitlines()]
    foot = next(n for n, line in enumerate(lines) if "outrank this record." in line)
    return lines[0 if page.page_number == 0 else 1 : foot]


def squeezed(content: bytes) -> str:
    """All text without any white space, so that a wrapped sentence is found wherever it was broken."""
    return "".join("".join(text.split()) for text in extracted(content))


def holds(content: bytes, text: str) -> bool:
    return "".join(text.split()) in squeezed(content)
