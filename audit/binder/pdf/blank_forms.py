"""Forms on paper: boxes and ruled tables with places to write, measured like everything else before it is drawn.

A box that is labelled is read aloud as a paragraph of its own, a ruled table as a table; a place to write in is an
empty cell. Rules and tick boxes are decoration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time

from audit.binder.blank_forms.values import HAND, Boxes, FormEntry, Forms, FormTable, PaperForm
from audit.binder.pdf.blocks import block_pieces
from audit.binder.pdf.draw import Pen
from audit.binder.pdf.elements import Element
from audit.binder.pdf.file import Description, TaggedCanvas
from audit.binder.pdf.finish import finished
from audit.binder.pdf.furniture import running_foot, running_head
from audit.binder.pdf.marks import Anchor, Box, DrawnLine, Mark, Piece, Run, Text, bare, lowered
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.page import (
    CAPTION,
    CELL,
    CELL_STRONG,
    FLOWING,
    INK,
    MM,
    SMALL,
    TOP,
    Sheet,
    Type,
    sheet,
)
from audit.binder.pdf.paginate import Page, paginate
from audit.binder.pdf.rows import Slot, set_lines

LABEL = Type(7.5, 8.0, bold=True)
HINT = Type(7.5, 8.0)
HEAD = Type(7.5, 8.2, bold=True)
_PAD = 3.0  # inside a place, on all sides
_TICK = 6.2  # the side of a box to tick
_AFTER_TICK = 3.2
_BETWEEN_TICKS = 7.0
_TICK_LEADING = 10.0
_RULE = 0.5
_INNER = 0.6
_SHADE = 0.9
_LOW = 40.0
_HEAD_SHADE = 0.95


@dataclass(frozen=True, slots=True)
class _Laid:
    """One place, laid out for its width: the least height it takes, what stands from its top, what from its foot."""

    entry: FormEntry
    x: float
    width: float
    height: float
    texts: tuple[Text, ...]
    ticks: tuple[Box, ...]
    foot: tuple[Text, ...]  # y counted from the lower edge of the place, upwards negative


def _texts(lines, x: float, top: float, style: Type) -> list[Text]:
    return set_lines(lines, Slot(x, 0.0, "left"), top, style)


def _printed(entry: FormEntry, x: float, top: float, wide: float) -> tuple[list[Text], float]:
    """What is known, its first line in bold where it is the name of the row; and where it ends."""
    found: list[Text] = []
    for n, part in enumerate(entry.printed.split("\n") if entry.printed else ()):
        style = CELL_STRONG if entry.strong and n == 0 else CELL
        lines = wrap(part, style, wide)
        found += _texts(lines, x, top, style)
        top += len(lines) * style.leading
    return found, top


def _tick_lines(entry: FormEntry, wide: float) -> list[list[tuple[float, str]]]:
    """The ticks in lines, each with its distance from the left."""
    lines: list[list[tuple[float, str]]] = []
    x = wide + 1
    for word in entry.ticks:
        needs = _TICK + _AFTER_TICK + width(word, CELL)
        if entry.stacked or x + needs > wide:
            lines.append([])
            x = 0.0
        lines[-1].append((x, word))
        x += needs + _BETWEEN_TICKS
    return lines


def _ticks(entry: FormEntry, x: float, top: float, wide: float) -> tuple[list[Text], list[Box], float]:
    texts: list[Text] = []
    boxes: list[Box] = []
    for line in _tick_lines(entry, wide):
        for left, word in line:
            boxes.append(Box(x + left, top + (_TICK_LEADING - _TICK) / 2, _TICK, _TICK, 1.0, INK, 0.5))
            start = x + left + _TICK + _AFTER_TICK
            texts += _texts((word,), start, top + (_TICK_LEADING - CELL.leading) / 2, CELL)
        top += _TICK_LEADING
    return texts, boxes, top


def _lay(entry: FormEntry, x: float, wide: float) -> _Laid:
    left, room = x + _PAD, wide - 2 * _PAD
    texts: list[Text] = []
    top = 1.8
    if entry.label:
        lines = wrap(entry.label, LABEL, room)
        texts += _texts(lines, left, top, LABEL)
        top += len(lines) * LABEL.leading
    printed, top = _printed(entry, left, top, room)
    words, boxes, top = _ticks(entry, left, top + (1.0 if entry.ticks else 0.0), room)
    foot = wrap(entry.hint, HINT, room)
    if entry.writable:
        top += HAND * MM - (1.8 if not (entry.label or entry.printed or entry.ticks) else 0.0)
    rise = len(foot) * HINT.leading
    below = _texts(foot, left, -rise - 1.2, HINT)
    return _Laid(entry, x, wide, top + rise + 2.0, (*texts, *printed, *words), tuple(boxes), tuple(below))


def _marks(laid: _Laid, height: float) -> list[Mark]:
    """The words of a place in a row of that height; none for one that is blank."""
    return [*laid.texts, *lowered(laid.foot, height)]


def _grid(places: list[_Laid], height: float, shade: float | None = None) -> list[Mark]:
    """The rules around the places of a row, and the ground of those where nothing is asked."""
    right = places[-1].x + places[-1].width
    marks: list[Mark] = []
    if shade is not None:
        marks.append(Box(places[0].x, 0, right - places[0].x, height, shade))
    marks += [Box(p.x, 0, p.width, height, _SHADE) for p in places if p.entry.shaded]
    marks += [DrawnLine(p.x, 0, p.x, height, _INNER, _RULE) for p in places[1:]]
    marks += [DrawnLine(x, 0, x, height, INK, _RULE) for x in (places[0].x, right)]
    marks += [DrawnLine(places[0].x, y, right, y, INK, _RULE) for y in (0, height)]
    return [*marks, *(box for place in places for box in place.ticks)]


def _side_by_side(entries, shares, total: float) -> list[_Laid]:
    """The places over the whole width, each with its share of it."""
    whole, x, found = sum(shares), 0.0, []
    for entry, share in zip(entries, shares, strict=True):
        wide = total * share / whole
        found.append(_lay(entry, x, wide))
        x += wide
    return found


def _caption(text: str, parent: Element | None, role: str, sheet: Sheet) -> Piece:
    lines = wrap(text, CAPTION, sheet.text_width)
    words = _texts(lines, 0, 0, CAPTION)
    return Piece(len(lines) * CAPTION.leading + 2.0, (Run(Element(role, parent), words),), above=7, keep=True)


def box_pieces(block: Boxes, sheet: Sheet) -> list[Piece]:
    """Lines of labelled boxes. They stay together with their caption."""
    pieces = [_caption(block.caption, None, "P", sheet)] if block.caption else []
    for entries in block.lines:
        places = _side_by_side(entries, [e.weight for e in entries], sheet.text_width)
        height = max(block.tall * MM, *(p.height for p in places))
        runs = [Run(None, _grid(places, height)), *(Run(Element("P"), _marks(p, height)) for p in places)]
        pieces.append(Piece(height, tuple(runs), above=0 if pieces else 5, keep=True))
    return [*pieces[:-1], replace(pieces[-1], keep=False)]


def _row(entries, shares, tall: float, table: Element, sheet: Sheet) -> Piece:
    places = _side_by_side(entries, shares, sheet.text_width)
    height = max(tall, *(p.height for p in places))
    row = Element("TR", table)
    cells = (Run(Element("TD", row), _marks(p, height)) for p in places)
    return Piece(height, (Run(None, _grid(places, height)), *cells))


def _head(block: FormTable, table: Element, sheet: Sheet) -> Piece:
    shares = [column.weight for column in block.columns]
    row, runs, x, tall = Element("TR", table), [], 0.0, 0.0
    for column, share in zip(block.columns, shares, strict=True):
        wide = sheet.text_width * share / sum(shares)
        lines = wrap(column.title, HEAD, wide - 2 * _PAD)
        runs.append(Run(Element("TH", row, scope="Column"), _texts(lines, x + _PAD, 2.0, HEAD)))
        tall = max(tall, len(lines) * HEAD.leading)
        x += wide
    height = tall + 4.0
    places = _side_by_side([FormEntry(shaded=False) for _ in shares], shares, sheet.text_width)
    return Piece(height, (Run(None, _grid(places, height, _HEAD_SHADE)), *runs), keep=True)


def form_table_pieces(block: FormTable, sheet: Sheet) -> list[Piece]:
    """Caption, head, rows, note; the head again at the top of each page the rows go on to."""
    table = Element("Table")
    pieces = [_caption(block.caption, table, "Caption", sheet)] if block.caption else []
    if not block.rows:
        words = _texts(wrap(block.empty, SMALL, sheet.text_width), 0, 0, SMALL)
        return [Piece(len(words) * SMALL.leading, (Run(Element("P"), words),), above=6)]
    head = _head(block, table, sheet)
    shares = [column.weight for column in block.columns]
    rows = [_row(entries, shares, block.tall * MM, table, sheet) for entries in block.rows]
    again = bare(head)
    # A low first row is not left alone at the foot of a page; a high one fills it well.
    rows = [
        replace(row, head=again, keep=n == 0 and len(rows) > 1 and row.height < _LOW) for n, row in enumerate(rows)
    ]
    pieces += [head if pieces else replace(head, above=6), *rows]
    if block.note:
        pieces[-1] = replace(pieces[-1], keep=True)
        lines = wrap(block.note, SMALL, sheet.text_width)
        words = lowered(_texts(lines, 0, 0, SMALL), 1.5)
        pieces.append(Piece(len(lines) * SMALL.leading + 2.5, (Run(Element("P"), words),)))
    return pieces


_FORM_BUILDERS = {Boxes: box_pieces, FormTable: form_table_pieces}


def _title(form: PaperForm, sheet: Sheet) -> Piece:
    style = FLOWING
    lines = wrap(form.title, style, sheet.text_width)
    words = Run(Element("H1"), _texts(lines, 0, 0, style))
    return Piece(
        len(lines) * style.leading + 2, (words,), keep=True, fresh=True, anchor=Anchor(form.id, form.title, 1)
    )


def form_pieces(form: PaperForm, sheet: Sheet, more: int = 0) -> list[Piece]:
    """The pieces of one form; `more` rows are added to the table that grows."""
    pieces = [_title(form, sheet)]
    for block in form.blocks:
        if isinstance(block, FormTable) and block.grows:
            block = replace(block, rows=(*block.rows, *(block.rows[-1:] * more)))
        build = _FORM_BUILDERS.get(type(block), block_pieces)
        pieces += build(block, sheet)
    return pieces


def form_pages(form: PaperForm, sheet: Sheet) -> list[Page]:
    """The pages of one form. A table that grows gets the rows for which its last page has room."""
    pages = paginate(form_pieces(form, sheet), sheet.text_height)
    growing = next((b for b in form.blocks if isinstance(b, FormTable) and b.grows and b.rows), None)
    if growing is None:
        return pages
    shares = [column.weight for column in growing.columns]
    tall = _row(growing.rows[-1], shares, growing.tall * MM, Element("Table"), sheet).height
    more = int((sheet.text_height - pages[-1].filled) // tall)
    for count in range(more, 0, -1):
        fuller = paginate(form_pieces(form, sheet, count), sheet.text_height)
        if len(fuller) == len(pages):
            return fuller
    return pages


def render_forms(forms: Forms, as_of: date, *, page_size: str = "letter") -> tuple[bytes, int]:
    """The forms as a PDF file, and how many pages it has: same forms, day and size, same bytes.

    Pages are counted within each form. `as_of` dates the file; `page_size` is "letter" or "a4", anything else raises
    ValueError.
    """
    return render_several((forms,), as_of, page_size=page_size)


def render_several(several: Sequence[Forms], as_of: date, *, page_size: str = "letter") -> tuple[bytes, int]:
    """As `render_forms`, the forms of several clinics one after another; at least one."""
    paper = sheet(page_size)
    laid = [(forms, form, form_pages(form, paper)) for forms in several for form in forms.forms]
    made_at = datetime.combine(as_of, time(), UTC)
    clinics = ", ".join(dict.fromkeys(forms.clinic for forms in several))
    made = "; ".join(dict.fromkeys(forms.made for forms in several))
    description = Description(f"{several[0].title}: {clinics}", clinics, made, made_at)
    canvas = TaggedCanvas(paper.width, paper.height, description)
    canvas.showOutline()
    pen = Pen(canvas, paper, frozenset())
    for forms, form, pages in laid:
        canvas.bookmarkHorizontal(form.id, 0, paper.height)
        canvas.addOutlineEntry(form.page_name, form.id, 0)
        for number, page in enumerate(pages, start=1):
            pen.furniture(running_head(forms.clinic, form.page_name, paper), "Header")
            for y, piece in page.placed:
                pen.piece(piece, TOP + y)
            pen.furniture(running_foot(forms.made, number, len(pages), paper), "Footer")
            pen.turn()
    return finished(canvas.whole()), sum(len(pages) for *_, pages in laid)
