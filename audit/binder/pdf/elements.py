"""The structure that a file read aloud follows: elements as values, without any drawing.

Roles are the standard structure types of ISO 32000-1, 14.8.4: H1 to H3, P, Table, TR, TH, TD, Caption, L, LI, Lbl,
LBody, Figure, TOC, TOCI, Reference, Link.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(eq=False, slots=True)
class Element:
    """One node of the structure tree, known by identity: pieces on several pages may share one.

    `parent` None is the document. Its place among its parent's children is where it is first drawn; one that is never
    drawn is not in the file. `alt` says in words what a Figure shows or where a Link leads whose own text is a bare
    number. `scope` is Column or Row, of a TH; `spans` counts the columns that a TH or TD takes; `summary` says what a
    Table without caption holds.
    """

    role: str
    parent: Element | None = None
    alt: str = ""
    scope: str = ""
    spans: int = 1
    summary: str = ""


def inside(parent: Element | None, *roles: str) -> Element:
    """A chain of new elements, each inside the one before; the innermost."""
    for role in roles:
        parent = Element(role, parent)
    return parent
