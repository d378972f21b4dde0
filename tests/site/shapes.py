"""Of what make the elements of a page are: their tags, classes and roles, without words and addresses.

Two pages of the same make differ in nothing that a rule about markup, size or colour could find.
"""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
TOLD = ("class", "role", "type", "scope", "lang", "tabindex", "hidden")


def shapes_of(html: str) -> set[tuple[str, ...]]:
    """Each element as (its parent's make, its own make, whether it holds words)."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.shapes


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.shapes: set[tuple[str, ...]] = set()
        self.open: list[tuple[str, str]] = []

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        make = " ".join([tag, *(f"{name}={said[name]}" for name in TOLD if name in said)])
        make += "".join(f" {name}" for name in sorted(said) if name.startswith("aria-"))
        self.shapes.add((self.open[-1][1] if self.open else "", make))
        if tag not in VOID:
            self.open.append((tag, make))

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        while self.open and any(each == tag for each, _ in self.open):
            if self.open.pop()[0] == tag:
                return

    def handle_data(self, data):
        if data.strip() and self.open:
            self.shapes.add((self.open[-1][1], "words"))
