"""What a screen reader should say of a binder, from its contents as data alone, in the order it should say it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from audit.binder.pictures.values import Charts, CounterChart, DutyStrip, UnitTimeLine
from audit.binder.sections import (
    AttachedPage,
    Beside,
    Binder,
    Block,
    CaseTimeline,
    Cautions,
    Cell,
    KeyValues,
    Links,
    Masthead,
    MonthCalendar,
    Paragraph,
    Photos,
    Section,
    Signed,
    StandingBox,
    Strip,
    Table,
    Title,
)

NUMBER = "\x01"  # a page number, which only the paper knows
FIGURE = "\x02"  # a text in place of a figure, made from the values it shows


def binder_spoken(binder: Binder) -> list[str]:
    """The cover, the contents with the number of each page, then each section; no contents after a masthead."""
    cover, *rest = binder.sections
    if isinstance(cover.blocks[0], Masthead):
        said = list(_blocks(cover))
        for section in rest:
            said += [section.title, *_blocks(section)]
        return [each for each in said if each]
    said = [*_blocks(cover), "Contents"]
    for section in rest:
        said += [f"{section.title} {NUMBER}"] if section.level < 3 else []
    for section in rest:
        said += [section.title, *_blocks(section)]
    return [each for each in said if each]


def _blocks(section: Section) -> Iterator[str]:
    yield from _said(section.blocks)


def _said(blocks: Iterable[Block]) -> Iterator[str]:
    for block in blocks:
        yield from _SAYS[type(block)](block)


def cell_said(cell: Cell) -> str:
    return cell.text if cell.page is None else f"{cell.text} {NUMBER}"


def _pairs(pairs) -> list[str]:
    said = []
    for key, cell in pairs:
        said.append(key if cell.page is None else f"{key}, page {NUMBER}")
        said.append(cell.text.replace("\n", ", ") if cell.proof else cell.text)
    return said


def _table(block: Table) -> list[str]:
    if not block.rows:
        return [block.empty]
    head = [column.title for column in block.columns]
    return [block.caption, *head, *(cell_said(cell) for row in block.rows for cell in row)]


def _timeline(block: CaseTimeline) -> list[str]:
    said = [block.caption]
    for step in block.steps:
        said += [f"{step.state} {step.when}", " ".join((step.title, *step.lines))]
    return said if block.steps else [*said, "No step on record."]


def _strip(block: Strip) -> list[str]:
    """A figure for each half year of 26 weeks, then the legend."""
    said = [block.caption, *[FIGURE] * -(-len(block.weeks) // 26)]
    for mark, result, meaning in block.legend:
        said += [mark, f"{result} {meaning}"]
    return said


def _links(block: Links) -> list[str]:
    said = [f"{block.label}:"]
    for n, cell in enumerate(block.cells):
        said += [cell.text] if n == len(block.cells) - 1 else [cell.text, ","]
    return said


def _legend(block) -> str:
    return " ".join(f"{mark} {meaning}" for mark, meaning in block.legend)


def _charts(block: Charts) -> list[str]:
    """The signs of the legend are drawn, so only what they mean is said."""
    legend = " ".join(meaning for _, meaning in block.legend)
    notes = [chart.note for chart in block.charts if isinstance(chart, CounterChart)]
    return [block.caption, *(chart.alt for chart in block.charts), legend, *notes, block.rows]


def _months(block: MonthCalendar) -> list[str]:
    rows = [said for label, cells in block.rows for said in (label, *map(cell_said, cells))]
    return [block.caption, *block.months, *rows, "; ".join(f"{sign} {meaning}" for sign, meaning in block.key)]


def _masthead(block: Masthead) -> list[str]:
    return [block.name, *block.lines, *(said for pair in block.box for said in pair)]


def _signed(block: Signed) -> list[str]:
    return [said for title, lines in block.statements for said in (title, " ".join(lines))]


_SAYS = {
    Masthead: _masthead,
    Beside: lambda block: list(_said((*block.left, *block.right))),
    MonthCalendar: _months,
    Signed: _signed,
    Title: lambda block: [f"{block.what} {block.name}", *block.lines],
    Paragraph: lambda block: [block.text],
    KeyValues: lambda block: [block.caption, *_pairs(block.pairs)] if block.pairs else [],
    Table: _table,
    Cautions: lambda block: [block.title, *block.lines],
    StandingBox: lambda block: [block.word, block.reason, *_pairs(block.pairs), block.outranked],
    Strip: _strip,
    CaseTimeline: _timeline,
    Links: _links,
    DutyStrip: lambda block: [block.caption, *(panel.alt for panel in block.panels), _legend(block), block.rows],
    UnitTimeLine: lambda block: [block.caption, block.alt, _legend(block), block.note, block.rows],
    Charts: _charts,
    AttachedPage: lambda block: [block.alt, block.note],
    Photos: lambda block: [words for photo in block.photos for words in (photo.alt, photo.caption)],
}


KINDS = frozenset(_SAYS)
BLOCKS = frozenset(Block.__args__)


def pattern(text: str) -> str:
    """A number where only the paper has one, any text of a figure."""
    return re.escape(text).replace(NUMBER, r"(\d+|–)").replace(FIGURE, ".+")


def letters(text: str) -> str:
    """Without blanks, for a word longer than its line is broken over several."""
    return "".join(text.split())


def apart(expected: list[str], said: list[str]) -> str:
    """Where the two part, "" if they do not."""
    for n in range(max(len(expected), len(said))):
        wanted = expected[n] if n < len(expected) else "nothing more"
        got = said[n] if n < len(said) else "nothing more"
        if not re.fullmatch(pattern(letters(wanted)), letters(got)):
            return f"at {n}: {wanted!r} should be said, {got!r} is"
    return ""
