"""The running head and foot of a page: decoration, for what they say stands in the text as well."""

from __future__ import annotations

from audit.binder.pdf.marks import DrawnLine, Mark, Text
from audit.binder.pdf.measure import fit, width
from audit.binder.pdf.page import (
    FOOT_LINE,
    HEAD_LINE,
    INK,
    LAST,
    LAST_LINE,
    RULE_OF_FOOT,
    RULE_OF_HEAD,
    RUNNING,
    RUNNING_STRONG,
    UNDER_HEAD,
    Sheet,
    Type,
)
from audit.binder.pdf.paginate import Page
from audit.binder.sections import Binder, Masthead
from audit.binder.written_on_paper import day

OUTRANKED = "Local codes, the maker's instructions and licensed practice outrank this record."
_BETWEEN = 14.0
_HASH = 8  # digits of the hash of the last entry


def at_right(text: str, style: Type, sheet: Sheet, y: float) -> Text:
    return Text(sheet.text_width - width(text, style), y, text, style)


def running_head(left: str, right: str, sheet: Sheet, after: str = "") -> list[Mark]:
    """What a page belongs to and whose it is, over a line; what does not fit is cut, the right one to a half.

    `after` stands behind the right one and is not cut.
    """
    named = fit(right, RUNNING, sheet.text_width / 2 - width(after, RUNNING)) + after
    room = sheet.text_width - width(named, RUNNING) - _BETWEEN
    return [
        Text(0, HEAD_LINE, fit(left, RUNNING, room), RUNNING),
        at_right(named, RUNNING, sheet, HEAD_LINE),
        DrawnLine(0, RULE_OF_HEAD, sheet.text_width, RULE_OF_HEAD, INK, UNDER_HEAD),
    ]


def running_foot(said: str, number: int, total: int, sheet: Sheet, last: str = "") -> list[Mark]:
    """A sentence, the page of so many; small under it, at the right, up to which entry the file goes."""
    y = sheet.height - FOOT_LINE
    page = f"{number} of {total}"
    room = sheet.text_width - width(page, RUNNING_STRONG) - _BETWEEN
    line = sheet.height - RULE_OF_FOOT
    marks: list[Mark] = [
        DrawnLine(0, line, sheet.text_width, line, INK, UNDER_HEAD),
        Text(0, y, fit(said, RUNNING, room), RUNNING),
        at_right(page, RUNNING_STRONG, sheet, y),
    ]
    return [*marks, at_right(last, LAST, sheet, sheet.height - LAST_LINE)] if last else marks


def head_of(binder: Binder, page: Page, number: int, sheet: Sheet) -> list[Mark]:
    """The first page says in large letters what others say here; over a masthead stand the days alone."""
    if number == 1:
        opening = binder.sections[0].blocks
        if opening and isinstance(opening[0], Masthead):
            return [
                Text(0, HEAD_LINE, fit(f"Sterilizer record, {binder.period}", RUNNING, sheet.text_width), RUNNING)
            ]
        return []
    chapter = " · ".join(anchor.title for anchor in (page.chapter, page.part) if anchor)
    return running_head(chapter, binder.clinic, sheet, f", {binder.period}")


def foot_of(binder: Binder, number: int, total: int, sheet: Sheet) -> list[Mark]:
    head = binder.heads[0] if binder.heads else None
    last = f"entry {head.number} · {head.hash[: _HASH // 2]} {head.hash[_HASH // 2 : _HASH]}" if head else ""
    return running_foot(f"As of {day(binder.as_of)}. {OUTRANKED}", number, total, sheet, last)
