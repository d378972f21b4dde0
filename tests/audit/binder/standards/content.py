"""What a page shows, piece by piece of marked content (ISO 32000-1, 14.6): text, and whether anything is painted."""

from __future__ import annotations

from dataclasses import dataclass, field

import pikepdf

from tests.audit.binder.standards.letters import Letters

_PAINTS = frozenset("f F f* B B* b b* S s sh EI".split()) | {"INLINE IMAGE"}
_DEEPEST = 8  # forms inside forms


@dataclass(slots=True)
class Shown:
    """One piece of marked content: what it says, and whether it paints anything but text."""

    tag: str
    text: str = ""
    painted: bool = False


@dataclass(slots=True)
class PageContent:
    """`marked` by the number of the marked content; `aside` are artifacts; `faults` is what is not in order."""

    marked: dict[int, Shown] = field(default_factory=dict)
    aside: list[Shown] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)  # painted under no mark at all
    faults: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Mark:
    tag: str
    shown: Shown | None  # where the content goes; None is what surrounds the mark
    artifact: bool
    said: str | None  # the text that stands in place of what is drawn
    in_text: bool


class _Walker:
    def __init__(self, letters: dict[tuple[int, int], Letters]) -> None:
        self.page = PageContent()
        self.letters = letters
        self.marks: list[_Mark] = []
        self.font: Letters | None = None
        self.in_text = False
        self.depth = 0

    def walk(self, stream, resources) -> None:
        for instruction in pikepdf.parse_content_stream(stream):
            operator = str(instruction.operator)
            handler = _HANDLERS.get(operator)
            if handler:
                handler(self, instruction.operands, resources)
            elif operator in _PAINTS:
                self.paint(operator)

    def target(self) -> Shown | None:
        return next((mark.shown for mark in reversed(self.marks) if mark.shown), None)

    def paint(self, operator: str, text: str = "") -> None:
        where = self.target()
        if where is None:
            self.page.loose.append(f"{operator} {text!r}" if text else operator)
        elif text:
            if all(mark.said is None for mark in self.marks):
                where.text += text
        else:
            where.painted = True

    def begin(self, operands, resources) -> None:
        tag = str(operands[0])
        properties = operands[1] if len(operands) > 1 else None
        if isinstance(properties, pikepdf.Name):
            properties = resources.get("/Properties", {}).get(properties)
        properties = properties if properties is not None else {}
        number, said = properties.get("/MCID"), properties.get("/ActualText")
        artifact = tag == "/Artifact"
        shown = self._shown(tag, number, artifact)
        self.marks.append(_Mark(tag, shown, artifact, None if said is None else str(said), self.in_text))

    def _shown(self, tag: str, number, artifact: bool) -> Shown | None:
        inside = [mark for mark in self.marks if mark.shown]
        if artifact:
            if any(not mark.artifact for mark in inside):
                self.page.faults.append("an artifact stands inside tagged content")
            self.page.aside.append(Shown(tag))
            return self.page.aside[-1]
        if number is None:
            return None
        if inside:
            self.page.faults.append(f"tagged content {number} stands inside other marked content")
        if self.depth:
            self.page.faults.append(f"a form has tagged content {number} of its own")
            return None
        if int(number) in self.page.marked:
            self.page.faults.append(f"number {number} is given to two pieces of content")
        self.page.marked[int(number)] = Shown(tag)
        return self.page.marked[int(number)]

    def end(self, _operands, _resources) -> None:
        if not self.marks:
            self.page.faults.append("a mark ends that did not begin")
            return
        mark = self.marks.pop()
        if mark.in_text != self.in_text:
            self.page.faults.append(f"the mark {mark.tag} begins or ends inside a text object, not both")
        if mark.said is not None:
            self.paint("ActualText", mark.said)

    def text_begins(self, _operands, _resources) -> None:
        self.in_text = True

    def text_ends(self, _operands, _resources) -> None:
        self.in_text = False

    def set_font(self, operands, resources) -> None:
        font = resources.get("/Font", {}).get(operands[0])
        if font is None:
            self.page.faults.append(f"the font {operands[0]} is not among the resources")
            self.font = None
            return
        if font.objgen not in self.letters:
            self.letters[font.objgen] = Letters(font)
        self.font = self.letters[font.objgen]

    def show(self, operands, _resources) -> None:
        last = operands[-1]
        parts = last if isinstance(last, pikepdf.Array) else [last]
        shown = b"".join(bytes(part) for part in parts if isinstance(part, pikepdf.String))
        if shown:
            self.paint("Tj", self.font.read(shown) if self.font else "\ufffd" * len(shown))

    def place(self, operands, resources) -> None:
        placed = resources.get("/XObject", {}).get(operands[0])
        if placed is None:
            self.page.faults.append(f"{operands[0]} is placed and not among the resources")
        elif str(placed.get("/Subtype")) == "/Form" and self.depth < _DEEPEST:
            self._form(placed, resources)
        else:
            self.paint("Do")

    def _form(self, form, resources) -> None:
        """What a form shows belongs to the mark it is placed under; its text is not read where a figure is told."""
        before, font = self.in_text, self.font
        self.depth += 1
        if self.target() is not None:
            self.target().painted = True
        open_marks = len(self.marks)
        self.walk(form, form.get("/Resources", resources))
        del self.marks[open_marks:]
        self.depth -= 1
        self.in_text, self.font = before, font


_HANDLERS = {
    "BDC": _Walker.begin, "BMC": _Walker.begin, "EMC": _Walker.end, "BT": _Walker.text_begins,
    "ET": _Walker.text_ends, "Tf": _Walker.set_font, "Tj": _Walker.show, "TJ": _Walker.show, "'": _Walker.show,
    '"': _Walker.show, "Do": _Walker.place,
}  # fmt: skip


def page_content(page: pikepdf.Page, letters: dict[tuple[int, int], Letters]) -> PageContent:
    """`letters` holds the fonts met so far, by object, and is added to."""
    walker = _Walker(letters)
    walker.walk(page.obj, page.obj.get("/Resources", {}))
    if walker.marks:
        walker.page.faults.append(f"{len(walker.marks)} marks never end")
    return walker.page
