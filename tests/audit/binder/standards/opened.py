"""A PDF file opened for checking: its structure tree as nodes, the content of its pages, its links."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from io import BytesIO
from typing import NamedTuple

import pikepdf

from tests.audit.binder.standards.content import PageContent, page_content
from tests.audit.binder.standards.letters import Letters

Ref = tuple[int, int]  # object and generation number


class Content(NamedTuple):
    """A piece of marked content: page counted from 0 (None: no page of the file), number on it."""

    page: int | None
    number: int


class Annotated(NamedTuple):
    """An annotation that belongs to an element."""

    obj: pikepdf.Object
    page: int | None


@dataclass(eq=False, slots=True)
class Node:
    """A structure element. `role` is a standard one where the file maps its own names."""

    obj: pikepdf.Object
    role: str
    parent: Node | None
    kids: list[Node | Content | Annotated] = field(default_factory=list)

    @property
    def nodes(self) -> list[Node]:
        return [kid for kid in self.kids if isinstance(kid, Node)]

    @property
    def content(self) -> list[Content]:
        return [kid for kid in self.kids if isinstance(kid, Content)]

    @property
    def annotated(self) -> list[Annotated]:
        return [kid for kid in self.kids if isinstance(kid, Annotated)]

    def __str__(self) -> str:
        return f"{self.role} (object {self.obj.objgen[0]})"

    def attribute(self, owner: str, key: str):
        """The value of an attribute, or None. Attributes are one dictionary or several (ISO 32000-1, 14.7.5)."""
        held = self.obj.get("/A")
        for each in held if isinstance(held, pikepdf.Array) else [held]:
            if isinstance(each, pikepdf.Dictionary) and str(each.get("/O")) == owner and key in each:
                return each[key]
        return None


def listed(value) -> list:
    """The kids of an element: none, one, or an array of them."""
    if value is None:
        return []
    return list(value) if isinstance(value, pikepdf.Array) else [value]


def _takes_no_room(annotation) -> bool:
    return str(annotation.get("/Subtype")) == "/Widget" and not any(float(edge) for edge in annotation.Rect)


class Opened:
    """`broken` is what the walk through the structure tree could not follow."""

    def __init__(self, content: bytes) -> None:
        self.bytes = content
        self.pdf = pikepdf.open(BytesIO(content))
        self.broken: list[str] = []
        self.letters: dict[Ref, Letters] = {}

    def __enter__(self) -> Opened:
        return self

    def __exit__(self, *_) -> None:
        self.pdf.close()

    @cached_property
    def page_of(self) -> dict[Ref, int]:
        return {page.obj.objgen: n for n, page in enumerate(self.pdf.pages)}

    @cached_property
    def pages(self) -> list[PageContent]:
        return [page_content(page, self.letters) for page in self.pdf.pages]

    @cached_property
    def annotations(self) -> list[tuple[int, pikepdf.Object]]:
        """Page, counted from 0, and annotation; without fields that take no room, such as an invisible signature."""
        return [(n, each) for n, each in self._all_annotations() if not _takes_no_room(each)]

    @property
    def in_structure(self) -> list[tuple[int, pikepdf.Object]]:
        """The annotations, and the fields without room that say where in the structure they stand."""
        return [
            (n, each) for n, each in self._all_annotations() if not _takes_no_room(each) or "/StructParent" in each
        ]

    def _all_annotations(self) -> list[tuple[int, pikepdf.Object]]:
        return [(n, each) for n, page in enumerate(self.pdf.pages) for each in listed(page.obj.get("/Annots"))]

    @property
    def tree(self) -> pikepdf.Object:
        return self.pdf.Root.get("/StructTreeRoot", pikepdf.Dictionary())

    @cached_property
    def top(self) -> list[Node]:
        seen: set[Ref] = set()
        return [self._node(kid, None, seen) for kid in listed(self.tree.get("/K")) if self._follows(kid, seen)]

    @cached_property
    def nodes(self) -> list[Node]:
        """In the order they are read."""
        return [node for top in self.top for node in walk(top)]

    def _follows(self, kid, seen: set[Ref]) -> bool:
        if not isinstance(kid, pikepdf.Dictionary) or "/S" not in kid:
            self.broken.append("an element lists a kid that is not there")
        elif kid.objgen in seen:
            self.broken.append(f"object {kid.objgen[0]} is listed twice in the structure tree")
        else:
            return True
        return False

    def _role(self, name: str) -> str:
        mapped = self.tree.get("/RoleMap", {})
        for _ in range(9):
            if name not in mapped:
                break
            name = str(mapped[name])
        return name[1:]

    def _node(self, obj, parent: Node | None, seen: set[Ref]) -> Node:
        seen.add(obj.objgen)
        node = Node(obj, self._role(str(obj.S)), parent)
        above = parent.obj if parent else self.tree
        if obj.get("/P") is None or obj.P.objgen != above.objgen:
            self.broken.append(f"{node} does not name as its parent the element that lists it")
        own = obj.get("/Pg")
        for kid in listed(obj.get("/K")):
            if isinstance(kid, int):
                node.kids.append(Content(self._page(own), kid))
            elif isinstance(kid, pikepdf.Dictionary) and str(kid.get("/Type")) == "/MCR":
                node.kids.append(Content(self._page(kid.get("/Pg", own)), int(kid.MCID)))
            elif isinstance(kid, pikepdf.Dictionary) and str(kid.get("/Type")) == "/OBJR":
                node.kids.append(Annotated(kid.Obj, self._page(kid.get("/Pg", own))))
            elif self._follows(kid, seen):
                node.kids.append(self._node(kid, node, seen))
        return node

    def _page(self, page) -> int | None:
        return None if page is None else self.page_of.get(page.objgen)

    def text(self, node: Node) -> str:
        """What the element and those inside it say, in order."""
        said = []
        for kid in node.kids:
            if isinstance(kid, Node):
                said.append(self.text(kid))
            elif isinstance(kid, Content) and kid.page is not None and kid.number in self.pages[kid.page].marked:
                said.append(self.pages[kid.page].marked[kid.number].text)
        actual = node.obj.get("/ActualText")
        return str(actual) if actual is not None else " ".join(said)


def walk(node: Node) -> Iterator[Node]:
    yield node
    for kid in node.nodes:
        yield from walk(kid)
