"""Ways to change an open file: find an element, change its attributes, its metadata, the operators of a page."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf


def elements(pdf: Pdf, role: str = "") -> Iterator[pikepdf.Object]:
    """Structure elements in the order they are read; those of one role where one is named."""
    stack = [pdf.Root.StructTreeRoot.K[0]]
    while stack:
        element = stack.pop()
        if not role or str(element.S) == f"/{role}":
            yield element
        stack += [kid for kid in reversed(kids(element)) if isinstance(kid, Dictionary) and "/S" in kid]


def kids(element) -> list:
    held = element.get("/K")
    return [] if held is None else list(held) if isinstance(held, Array) else [held]


def first(pdf: Pdf, role: str, fits: Callable = lambda element: True) -> pikepdf.Object:
    return next(element for element in elements(pdf, role) if fits(element))


def new(pdf: Pdf, parent, role: str, **more) -> pikepdf.Object:
    """An element after the others of its parent."""
    made = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name(f"/{role}"), P=parent, **more))
    parent.K = Array([*kids(parent), made])
    return made


def parent_tree(pdf: Pdf) -> pikepdf.NumberTree:
    return pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree)


def links(pdf: Pdf) -> list[pikepdf.Object]:
    return [each for page in pdf.pages for each in page.obj.get("/Annots", [])]


def operators(pdf: Pdf, page: int, change: Callable[[bytes], bytes]) -> None:
    """Change what a page draws. Raises ValueError where the change changes nothing."""
    held = pdf.pages[page].Contents
    before = held.read_bytes()
    after = change(before)
    if after == before:
        raise ValueError("nothing was changed")
    pdf.pages[page].Contents = pdf.make_stream(after)


def metadata(pdf: Pdf, change: Callable[[str], str]) -> None:
    """Change the XMP packet. Raises ValueError where the change changes nothing."""
    stream = pdf.Root.Metadata
    before = stream.read_bytes().decode()
    after = change(before)
    if after == before:
        raise ValueError("nothing was changed")
    stream.write(after.encode())


def font(pdf: Pdf) -> pikepdf.Object:
    return next(
        each for each in pdf.objects if isinstance(each, Dictionary) and each.get("/Type") == "/Font"
    )  # fmt: skip


def attached(pdf: Pdf) -> pikepdf.Object:
    return pdf.Root.AF[0]
