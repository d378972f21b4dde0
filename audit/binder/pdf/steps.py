"""What was done after a failure, step by step along a line: a table, its marks told by their word."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Dot, DrawnLine, Mark, Piece, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import CELL, HAIR, INK, PROOF, SMALL, UNDER_HEAD, Sheet
from audit.binder.pdf.rich import wrap_rich
from audit.binder.pdf.rows import RowLook, Slot, Wrapped, caption_piece, row_piece, set_lines, text_piece
from audit.binder.pdf.tables import continued, head_piece, table_slots
from audit.binder.sections import CaseTimeline, Column, Table, TimelineStep

_WHEN, _MARK, _ASKS, _RECORD = 64.0, 18.0, 140.0, 38.0
_LOOK = RowLook(CELL, 3.2)
_RADIUS = 3.2
_SIGNS = (("done", "●"), ("failed", "■"), ("open", "○"), ("late", "○"), ("not needed", "○"))


def _columns(block: CaseTimeline) -> tuple[Column, ...]:
    """What no step has gets no column."""
    asks = (Column("What the rules ask", _ASKS),) if any(step.asks for step in block.steps) else ()
    record = (Column("Record", _RECORD, small=True),) if any(step.record for step in block.steps) else ()
    room = 510.0 - _WHEN - _MARK - sum(column.weight for column in (*asks, *record))
    return (Column("When", _WHEN, names=True), Column("", _MARK), Column("What was done", room), *asks, *record)


def _mark(step: TimelineStep, x: float, y: float) -> Mark:
    if step.state == "failed":
        return Box(x - _RADIUS, y - _RADIUS, 2 * _RADIUS, 2 * _RADIUS, INK, INK, 0.5)
    return Dot(x, y, _RADIUS, filled=step.state == "done")


def step_text(step: TimelineStep) -> tuple[str, tuple[str, ...]]:
    """The words of a step, and those of them that are bold: its title, and what is late or not needed."""
    title = step.title.rstrip(".") + "." if step.lines else step.title
    said = " ".join(part for part in (title, "\n".join(step.lines)) if part)
    return said, (title,)


def step_when(step: TimelineStep) -> str:
    """When, and where it is not plainly done or open, how it stands."""
    plain = step.state in ("done", "failed", "open")
    return "\n".join(part for part in (step.when, "" if plain else step.state) if part)


def _step(step: TimelineStep, places, columns: tuple[Column, ...], whole: Element, last: bool) -> Piece:
    row = Element("TR", whole)
    text, bold = step_text(step)
    when = step_when(step)
    cells = [
        Wrapped(wrap(when, CELL, places[0].width), places[0], CELL, Element("TH" if when else "TD", row, "", "Row")),
        Wrapped(wrap_rich(text, bold, CELL, places[2].width), places[2], CELL, Element("TD", row)),
    ]
    if not when:
        cells[0].element.scope = ""
    more = {"What the rules ask": (step.asks, CELL), "Record": (step.record, PROOF)}
    for column, slot in zip(columns[3:], places[3:], strict=True):
        words, style = more[column.title]
        cells.append(Wrapped(wrap(words, style, slot.width), slot, style, Element("TD", row)))
    piece = row_piece(cells, (0.0, 0.0), _LOOK, rule=False)
    x, y = places[1].x + _RADIUS + 1, _LOOK.pad + CELL.leading / 2
    told = Element("TD", row)
    rail = () if last else (DrawnLine(x, y + _RADIUS, x, piece.height + y - _RADIUS, INK, UNDER_HEAD),)
    # The state stands second in the row, where it is seen.
    state = Run(Element("Span", told, alt=step.state), (_mark(step, x, y),))
    first, *rest = piece.runs
    return replace(piece, runs=(Run(None, rail), first, state, *rest))


def _key(block: CaseTimeline, sheet: Sheet) -> Piece:
    used = {step.state for step in block.steps}
    open_ones = [state for state, sign in _SIGNS if state in used and sign == "○"]
    parts = [f"{sign} {state}" for state, sign in _SIGNS if state in used and sign != "○"]
    if open_ones:
        parts.append(f"○ {', '.join(open_ones)}")
    lines = wrap("; ".join(parts), SMALL, sheet.text_width)
    run = Run(Element("P"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, SMALL))
    return Piece(len(lines) * SMALL.leading, (run,), above=2)


def timeline_pieces(block: CaseTimeline, sheet: Sheet) -> list[Piece]:
    """Caption, column heads, the steps, what the marks mean."""
    if not block.steps:
        return [caption_piece(block.caption, sheet), text_piece("No step on record.", SMALL, sheet, above=0)]
    whole, columns = Element("Table"), _columns(block)
    table = Table(block.caption, columns, ())
    places = table_slots(table, 0, sheet.text_width)
    last = len(block.steps) - 1
    steps = [_step(step, places, columns, whole, n == last) for n, step in enumerate(block.steps)]
    foot = DrawnLine(0, steps[-1].height, sheet.text_width, steps[-1].height, INK, HAIR)
    steps[-1] = replace(steps[-1], runs=(*steps[-1].runs, Run(None, (foot,))), keep=True)
    steps[0] = replace(steps[0], keep=True)
    caption = caption_piece(block.caption, sheet, Element("Caption", whole))
    head = head_piece(table, places, whole)
    again = continued(block.caption, head, sheet)
    return [caption, head, *(replace(step, head=again) for step in steps), _key(block, sheet)]
