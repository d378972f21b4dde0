"""Pages to bytes: pieces drawn on a tagged canvas, each run under the element it belongs to.

Text goes to the page as operators of its own, not through the canvas: the same words come hundreds of times in a
binder, and each is encoded once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, time
from typing import NamedTuple

from reportlab.lib.rl_accel import escapePDF
from reportlab.pdfbase import pdfmetrics

from audit.binder.pdf.bidi import drawn
from audit.binder.pdf.elements import Element
from audit.binder.pdf.extent import extent
from audit.binder.pdf.faces import runs
from audit.binder.pdf.file import Description, TaggedCanvas
from audit.binder.pdf.furniture import foot_of, head_of
from audit.binder.pdf.marks import Box, Dot, DrawnLine, Jump, Mark, Piece, Placed, Run, Shape, Stroke, Text
from audit.binder.pdf.measure import JOINED, NO_BREAK, font
from audit.binder.pdf.page import INK, LEFT, TOP, Sheet
from audit.binder.pdf.plan import Plan
from audit.binder.pdf.tagged import text_string
from audit.binder.pdf.uncollected import uncollected
from audit.binder.sections import Binder
from audit.binder.written_on_paper import day


class Pen:
    """Draws one page at a time; turns y over, for PDF counts it from the lower edge."""

    def __init__(self, canvas: TaggedCanvas, sheet: Sheet, known: frozenset[str]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.known = known  # the ids that a jump can lead to
        self._encoded: dict[tuple[str, bool], list[tuple[str, str]]] = {}
        self._draws: dict[type, Callable] = {
            DrawnLine: self._line, Box: self._box, Dot: self._dot, Stroke: self._stroke, Shape: self._shape,
            Placed: self._placed,
        }  # fmt: skip
        self._start()

    def _start(self) -> None:
        self._code: list[str] = []
        self._rules: dict[tuple[float, float], list[str]] = {}
        self._face = ("", 0.0)
        self._grey = -1.0
        self.placed: list[str] = []  # the keys of what comes from outside, on this page

    def turn(self) -> None:
        """End of the page."""
        if self._rules:
            self._code.append("/Artifact BMC")
            for (grey, thick), paths in self._rules.items():
                self._code.append(f"{grey:g} G {thick:g} w {' '.join(paths)} S")
            self._code.append("EMC")
        self.canvas.addLiteral("\n".join(self._code))
        self.canvas.showPage()
        self._start()

    def furniture(self, marks: Iterable[Mark], kind: str) -> None:
        """A running head or foot, if there is any: `kind` is Header or Footer."""
        marks = list(marks)
        if not marks:
            return
        self._code.append(f"/Artifact <</Type/Pagination/Subtype/{kind}>> BDC")
        self._marks(marks, self.sheet.height)
        self._code.append("EMC")

    def piece(self, piece: Piece, top: float) -> None:
        base = self.sheet.height - top
        for run in piece.runs:
            self._run(run, base)

    def _run(self, run: Run, base: float) -> None:
        element, marks = run
        if element is None:
            self._decoration(marks, base)
            return
        structure = self.canvas.structure
        if element.role == "Link" and not any(m.__class__ is Jump and m.to in self.known for m in marks):
            # A part of a binder may be drawn without the section that a cell points to: then it is no link.
            element = element.parent
        if not marks:
            structure.place(element)
            return
        self._code.append(f"/{element.role} <</MCID {structure.content(element)}>> BDC")
        self._marks(marks, base)
        self._code.append("EMC")
        if element.role == "Figure":
            left, top, right, foot = extent(marks)
            structure.box(element, (LEFT + left, base - foot, LEFT + right, base - top))
        elif element.role == "Link":
            for mark in marks:
                if mark.__class__ is Jump:
                    self._jump(mark, element, base)

    def _decoration(self, marks: Iterable[Mark], base: float) -> None:
        """Lines wait for the end of the page, where those of one look are drawn in one path."""
        rest = []
        for mark in marks:
            if mark.__class__ is DrawnLine:
                x1, x2 = LEFT + mark.x1, LEFT + mark.x2
                path = f"{x1:.2f} {base - mark.y1:.2f} m {x2:.2f} {base - mark.y2:.2f} l"
                self._rules.setdefault((mark.grey, mark.thick), []).append(path)
            else:
                rest.append(mark)
        if rest:
            self._code.append("/Artifact BMC")
            self._marks(rest, base)
            self._code.append("EMC")

    def _marks(self, marks: Iterable[Mark], base: float) -> None:
        code, writing, before = self._code, False, ""
        for mark in marks:
            if mark.__class__ is Text:
                if writing:
                    if not before.endswith(JOINED):
                        code.append("( ) Tj")  # or the last word of a line is read with the first of the next
                else:
                    code.append("BT")
                    writing = True
                self._text(mark, base)
                before = mark.text
                continue
            if writing:
                code.append("ET")
                writing = False
            draw = self._draws.get(mark.__class__)
            if draw:
                draw(mark, base)
        if writing:
            code.append("ET")

    def _text(self, mark: Text, base: float) -> None:
        style = mark.style
        grey = 1.0 if mark.white else INK
        code = self._code
        if grey != self._grey:
            code.append(f"{grey:g} g")
            self._grey = grey
        parts = self._encoded.get((mark.text, style.bold))
        if parts is None:
            parts = self._encode(mark.text, style)
        where = f"1 0 0 1 {LEFT + mark.x:.2f} {base - mark.y:.2f} Tm"
        size = style.size
        for name, shown in parts:
            if self._face == (name, size):
                code.append(f"{where} {shown}")
            else:
                code.append(f"{where} {name} {size:g} Tf {shown}")
                self._face = (name, size)
            where = ""

    def _encode(self, text: str, style) -> list[tuple[str, str]]:
        """The operators that show a text, each with the subset of the font it wants; kept for the next time."""
        doc = self.canvas._doc
        # A space that holds words together has done so; who copies or looks for them expects the common one.
        key, text = (text, style.bold), text.removesuffix(JOINED).replace(NO_BREAK, " ")
        faces = runs(drawn(text), font(style))
        parts = []
        for name, letters in faces:
            face = pdfmetrics.getFont(name)
            for subset, chunk in face.splitString(letters, doc):
                parts.append((face.getSubsetInternalName(subset, doc), f"({escapePDF(chunk)}) Tj"))
        if parts and "".join(letters for _, letters in faces) != text:
            # What is read aloud or copied is the text: not the order in which its letters are drawn, nor the sign
            # that stands for one that no face has.
            first, start = parts[0]
            parts[0] = (first, f"/Span <</ActualText {text_string(text)}>> BDC {start}")
            last, end = parts[-1]
            parts[-1] = (last, f"{end} EMC")
        self._encoded[key] = parts
        return parts

    def _line(self, mark: DrawnLine, base: float) -> None:
        x1, x2 = LEFT + mark.x1, LEFT + mark.x2
        self._code.append(
            f"{mark.grey:g} G {mark.thick:g} w {x1:.2f} {base - mark.y1:.2f} m {x2:.2f} {base - mark.y2:.2f} l S"
        )

    def _paint(self, path: str, fill: float | None, edge: float | None, thick: float, dash: str = "[] 0 d") -> None:
        if fill is not None:
            self._grey = fill
        before = (f"{fill:g} g " if fill is not None else "") + (
            f"{edge:g} G {thick:g} w {dash} " if edge is not None else ""
        )
        operator = {(True, True): "B", (True, False): "f", (False, True): "S"}.get(
            (fill is not None, edge is not None), "n"
        )
        after = " [] 0 d" if edge is not None and not dash.startswith("[]") else ""
        self._code.append(f"{before}{path} {operator}{after}")

    def _box(self, mark: Box, base: float) -> None:
        lower = base - mark.y - mark.height
        path = f"{LEFT + mark.x:.2f} {lower:.2f} {mark.width:.2f} {mark.height:.2f} re"
        self._paint(path, mark.fill, mark.edge, mark.thick, "[1.6 1.4] 0 d" if mark.dashed else "[] 0 d")

    def _dot(self, mark: Dot, base: float) -> None:
        x, y, r = LEFT + mark.x, base - mark.y, mark.radius
        k = r * 0.5523  # of a circle drawn with four curves
        path = (
            f"{x + r:.2f} {y:.2f} m {x + r:.2f} {y + k:.2f} {x + k:.2f} {y + r:.2f} {x:.2f} {y + r:.2f} c "
            f"{x - k:.2f} {y + r:.2f} {x - r:.2f} {y + k:.2f} {x - r:.2f} {y:.2f} c "
            f"{x - r:.2f} {y - k:.2f} {x - k:.2f} {y - r:.2f} {x:.2f} {y - r:.2f} c "
            f"{x + k:.2f} {y - r:.2f} {x + r:.2f} {y - k:.2f} {x + r:.2f} {y:.2f} c h"
        )
        self._paint(path, 0.0 if mark.filled else 1.0, 0.0, 0.9)

    def _path(self, points, base: float) -> str:
        steps = [f"{LEFT + x:.2f} {base - y:.2f}" for x, y in points]
        return f"{steps[0]} m " + " ".join(f"{step} l" for step in steps[1:])

    def _stroke(self, mark: Stroke, base: float) -> None:
        if len(mark.points) > 1:
            dash = f"[{' '.join(f'{each:g}' for each in mark.dash)}] 0 d"
            self._paint(self._path(mark.points, base), None, mark.grey, mark.thick, dash)

    def _shape(self, mark: Shape, base: float) -> None:
        if len(mark.points) > 2:
            self._paint(self._path(mark.points, base) + " h", mark.fill, mark.edge, mark.thick)

    def _placed(self, mark: Placed, base: float) -> None:
        wide, tall = mark.width / mark.natural[0], mark.height / mark.natural[1]
        lower = base - mark.y - mark.height
        self.placed.append(mark.key)
        self._code.append(f"q {wide:.5f} 0 0 {tall:.5f} {LEFT + mark.x:.2f} {lower:.2f} cm /{mark.key} Do Q")

    def _jump(self, mark: Jump, element: Element, base: float) -> None:
        if mark.to not in self.known:
            return
        x, upper = LEFT + mark.x, base - mark.y
        box = (round(x, 2), round(upper - mark.height, 2), round(x + mark.width, 2), round(upper, 2))
        self.canvas.jump(element, mark.says, mark.to, box)


def _description(binder: Binder) -> Description:
    subject = f"{binder.period}, as of {day(binder.as_of)}"
    made_at = datetime.combine(binder.as_of, time(), UTC)
    return Description(binder.title, binder.clinic, subject, made_at)


class Drawn(NamedTuple):
    """A drawn file, and by page, counted from 0, the keys of what is placed on it from outside."""

    content: bytes
    placed: dict[int, tuple[str, ...]]


@uncollected
def draw(binder: Binder, plan: Plan, sheet: Sheet) -> Drawn:
    """The file. Destinations carry the ids of the sections."""
    canvas = TaggedCanvas(sheet.width, sheet.height, _description(binder))
    pen = Pen(canvas, sheet, plan.known)
    placed: dict[int, tuple[str, ...]] = {}
    for number, page in enumerate(plan, start=1):
        for y, anchor in page.anchors:
            canvas.bookmarkHorizontal(anchor.id, 0, sheet.height - TOP - y + 12)
            canvas.addOutlineEntry(anchor.title, anchor.id, anchor.level - 1, closed=anchor.level > 1)
        pen.furniture(head_of(binder, page, number, sheet), "Header")
        for y, piece in page.placed:
            pen.piece(piece, TOP + y)
        pen.furniture(foot_of(binder, number, len(plan), sheet), "Footer")
        if pen.placed:
            placed[number - 1] = tuple(pen.placed)
        pen.turn()
    canvas.showOutline()
    return Drawn(canvas.whole(), placed)
