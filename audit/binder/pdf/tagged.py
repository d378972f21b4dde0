"""The structure tree of a tagged file (ISO 32000-1, 14.7 and 14.8): grown while pages are drawn, written at the end.

Knows nothing of binders. The drawing asks for the number of each piece of marked content and for the key of each
link; `Structure.objects` then gives the objects of the tree, to be added to the file under consecutive numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from audit.binder.pdf.elements import Element

_PAGE = 1 << 20  # content is kept as page * _PAGE + number on the page
FIRST_LINK_KEY = 1 << 24  # keys of the parent tree: pages from 1, links from here


class Link(NamedTuple):
    """A link annotation: its key in the parent tree, and the object number of it and of its page once known."""

    element: Element
    annotation: str
    page: int


class Numbers(NamedTuple):
    """Object numbers: of each page (from 1), of annotations by name, of the structure root, and the next one free."""

    pages: list[int]
    annotations: dict[str, int]
    root: int
    next: int


class Structure:
    def __init__(self) -> None:
        # None is the document. Kids are elements, content (an integer) or links.
        self._kids: dict[Element | None, list[Element | int | Link]] = {None: []}
        self._content: list[list[Element]] = []  # by page, then by number on the page
        self._links: list[Link] = []
        self._boxes: dict[Element, tuple[float, float, float, float]] = {}

    def page(self) -> None:
        """A page begins."""
        self._content.append([])

    def place(self, element: Element) -> list:
        """Give an element, and those around it, their places in the tree if they have none; its list of kids."""
        kids = self._kids
        found = kids.get(element)
        if found is not None:
            return found
        own: list = []
        kids[element] = own
        self.place(element.parent).append(element)
        return own

    def content(self, element: Element) -> int:
        """The number on this page for a piece of content of that element."""
        page = self._content[-1]
        number = len(page)
        page.append(element)
        kids = self._kids.get(element)
        if kids is None:
            kids = self.place(element)
        kids.append(len(self._content) * _PAGE + number)
        return number

    def box(self, element: Element, box: tuple[float, float, float, float]) -> None:
        """Where a figure stands on its page: left, lower, right, upper edge in points."""
        self._boxes[element] = box

    def link(self, element: Element, annotation: str) -> None:
        """An annotation, by its name in the file, belongs to a Link element."""
        link = Link(element, annotation, len(self._content))
        self._links.append(link)
        self.place(element).append(link)

    def next_link_key(self) -> int:
        return FIRST_LINK_KEY + len(self._links)

    def objects(self, numbers: Numbers) -> Iterator[tuple[int, bytes]]:
        """Object numbers with what they hold: the root, the document, its elements and the parent tree."""
        order = self._in_order()
        document, tree, leaf = numbers.next, numbers.next + 1, numbers.next + 2
        number: dict[Element | None, int] = {None: document}
        for count, element in enumerate(order, start=numbers.next + 3):
            number[element] = count
        yield numbers.root, _root(document, tree, FIRST_LINK_KEY + len(self._links))
        kids = " ".join(f"{number[kid]} 0 R" for kid in self._kids[None])
        yield document, f"<</Type/StructElem/S/Document/P {numbers.root} 0 R/K[{kids}]>>".encode()
        # In a leaf, so that a signature adds its field without writing the rest again.
        yield tree, b"<</Kids[%d 0 R]>>" % leaf
        yield leaf, self._parent_tree(number, len(numbers.pages))
        for element in order:
            yield number[element], self._element(element, number, numbers)

    def _in_order(self) -> list[Element]:
        """Every element in the order it is read."""
        order: list[Element] = []
        stack = [kid for kid in reversed(self._kids[None])]
        while stack:
            element = stack.pop()
            order.append(element)
            stack.extend(kid for kid in reversed(self._kids[element]) if kid.__class__ is Element)
        return order

    def _element(self, element: Element, number: dict, numbers: Numbers) -> bytes:
        kids = self._kids[element]
        if len(kids) == 1 and kids[0].__class__ is int and not _has_attributes(element):
            # Most elements are cells like this.
            on, count = divmod(kids[0], _PAGE)
            above = number[element.parent]
            return b"<</S/%b/P %d 0 R/Pg %d 0 R/K %d>>" % (element.role.encode(), above, numbers.pages[on - 1], count)
        page = next((kid // _PAGE for kid in kids if kid.__class__ is int), 0)
        texts = []
        for kid in kids:
            if kid.__class__ is int:
                on, count = divmod(kid, _PAGE)
                texts.append(
                    str(count) if on == page else f"<</Type/MCR/Pg {numbers.pages[on - 1]} 0 R/MCID {count}>>"
                )
            elif kid.__class__ is Link:
                shown = numbers.pages[kid.page - 1]
                texts.append(f"<</Type/OBJR/Obj {numbers.annotations[kid.annotation]} 0 R/Pg {shown} 0 R>>")
            else:
                texts.append(f"{number[kid]} 0 R")
        said = f"/K {texts[0]}" if len(texts) == 1 else f"/K[{' '.join(texts)}]" if texts else ""
        on = f"/Pg {numbers.pages[page - 1]} 0 R" if page else ""
        more = self._attributes(element) if _has_attributes(element) else ""
        return f"<</S/{element.role}/P {number[element.parent]} 0 R{on}{said}{more}>>".encode("latin-1")

    def _attributes(self, element: Element) -> str:
        parts = []
        if element.alt:
            parts.append(f"/Alt{text_string(element.alt)}")
        if element.scope or element.spans > 1:
            scope = f"/Scope/{element.scope}" if element.scope else ""
            spans = f"/ColSpan {element.spans}" if element.spans > 1 else ""
            parts.append(f"/A<</O/Table{scope}{spans}>>")
        elif element.summary:
            parts.append(f"/A<</O/Table/Summary{text_string(element.summary)}>>")
        elif element in self._boxes:
            box = " ".join(f"{edge:.2f}" for edge in self._boxes[element])
            parts.append(f"/A<</O/Layout/Placement/Block/BBox[{box}]>>")
        return "".join(parts)

    def _parent_tree(self, number: dict, pages: int) -> bytes:
        """From content back to elements: an array a page, then one element a link."""
        parts = []
        for page, elements in enumerate(self._content[:pages], start=1):
            parts.append(f"{page}[{' '.join(f'{number[element]} 0 R' for element in elements)}]")
        for key, link in enumerate(self._links, start=FIRST_LINK_KEY):
            parts.append(f"{key} {number[link.element]} 0 R")
        last = FIRST_LINK_KEY + len(self._links) - 1 if self._links else pages
        return f"<</Limits[1 {last}]/Nums[{' '.join(parts)}]>>".encode()


def _has_attributes(element: Element) -> bool:
    return bool(element.alt or element.scope or element.summary or element.spans > 1)


def _root(document: int, tree: int, next_key: int) -> bytes:
    return f"<</Type/StructTreeRoot/K[{document} 0 R]/ParentTree {tree} 0 R/ParentTreeNextKey {next_key}>>".encode()


def text_string(text: str) -> str:
    """A text as a PDF string: UTF-16 in hexadecimal, which any text goes into without escapes."""
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"
