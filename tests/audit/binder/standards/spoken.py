"""What a screen reader should say of a binder, from its contents as data alone, in the order it should say it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from audit.binder.pdf.cycles import SIGNS
from audit.binder.pictures.values import Charts, CounterChart
from audit.binder.sections import (
    AttachedPage,
    Beside,
    Binder,
    Block,
    CaseTimeline,
    Cautions,
    Cell,
    CycleBar,
    KeyValues,
    Links,
    Masthead,
    MonthCalendar,
    Paragraph,
    Photos,
    Section,
    Signed,
    StandingBox,
    Table,
    Title,
)

_NAMED = re.compile(r"\{[a-z][a-z0-9-]*\}")  # a section whose page is asked for in a text of the masthead
NUMBERS = "\x02"  # one or several of them, parted by commas
NUMBER = "\x01"  # a page number, which only the paper knows
_CUT = 10  # letters that are left of a caption, at least
FIGURE = "\x02"  # a text in place of a figure, made from the values it shows


@dataclass(frozen=True, slots=True)
class Again:
    """Caption and column heads of a table in columns, between two of its rows, or nothing.

    Only the paper knows after which rows a column ends. What is said again is all of it, once, and never a row.
    """

    caption: str
    heads: tuple[str, ...]

    def count(self, said: list[str]) -> int:
        """How many texts at the start of `said` are these: all of them or none."""
        heads = [head for head in self.heads if head]
        before = 1 if self.caption else 0
        own = said[: before + len(heads)]
        same = [letters(head) for head in heads] == [letters(text) for text in own[before:]]
        return len(own) if same and (not before or self._goes_on(own[0])) else 0

    def _goes_on(self, text: str) -> bool:
        """The caption with its word; cut with an ellipsis where its column is too narrow for both."""
        whole, got = letters(f"{self.caption}, continued"), letters(text)
        return got == whole or (len(got) > _CUT and got.endswith("…") and whole.startswith(got[:-1]))


def binder_spoken(binder: Binder) -> list[str | Again]:
    """The cover, the contents with the number of each page, then each section; no contents after a masthead."""
    cover, *rest = binder.sections
    if isinstance(cover.blocks[0], Masthead):
        said = list(_blocks(cover))
        for section in rest:
            said += [section.title, section.aside, *_blocks(section)]
        return [each for each in said if each]
    said = [*_blocks(cover), "Contents"]
    for section in rest:
        said += [f"{section.title} {NUMBER}"] if section.level < 3 else []
    for section in rest:
        said += [section.title, section.aside, *_blocks(section)]
    return [each for each in said if each]


def _blocks(section: Section) -> Iterator[str]:
    yield from _said(section.blocks)


def _said(blocks: Iterable[Block]) -> Iterator[str]:
    for block in blocks:
        yield from _SAYS[type(block)](block)


def cell_said(cell: Cell) -> str:
    if cell.pages:
        return f"{cell.text} {NUMBERS}".strip()
    return cell.text if cell.page is None else f"{cell.text} {NUMBER}"


def _pairs(pairs) -> list[str]:
    said = []
    for key, cell in pairs:
        said.append(key if cell.page is None else f"{key}, page {NUMBER}")
        said.append(cell.text.replace("\n", ", ") if cell.proof else cell.text)
    return said


def _table(block: Table) -> list[str | Again]:
    """Caption, heads, rows; between the rows of one in columns both may be said again."""
    if not block.rows:
        return [block.empty]
    heads = [column.title for column in block.columns]
    said: list[str | Again] = [block.caption, *heads]
    for number, row in enumerate(block.rows):
        if number and (block.halves or block.thirds):
            said.append(Again(block.caption, tuple(heads)))
        said += [link_said(block, row, n) for n in range(len(row))]
    return said


def link_said(block: Table, row, n: int) -> str:
    """A cell; where it is a link of a number alone, what it is the number of."""
    cell, said = row[n], cell_said(row[n])
    if not cell.to or any(each.isalpha() for each in said):
        return said
    over = [at for at, each in enumerate(row) for _ in range(each.span)]  # the cell in each column
    named = over[next((each for each, column in enumerate(block.columns) if column.names), 0)]
    of = row[named].text if named != n else ""
    what = "page" if cell.page is not None else block.columns[over.index(n)].title.lower() or "number"
    return f"{of}, {what} {said}".removeprefix(", ")


def _timeline(block: CaseTimeline) -> list[str]:
    """A table: when, how it stands, what was done, what the rules ask, the rows; then what the marks mean."""
    if not block.steps:
        return [block.caption, "No step on record."]
    asks, rows = (any(getattr(step, name) for step in block.steps) for name in ("asks", "record"))
    said = [block.caption, "When", "What was done", *["What the rules ask"] * asks, *["Record"] * rows]
    for step in block.steps:
        plain = step.state in ("done", "failed", "open")
        said += [f"{step.when} {'' if plain else step.state}".strip(), step.state]
        said.append(" ".join((step.title.rstrip(".") + "." if step.lines else step.title, *step.lines)))
        said += [step.asks] * asks + [step.record] * rows
    used = [
        state for state in ("done", "failed", "open", "late", "not needed") if state in {s.state for s in block.steps}
    ]
    marks = [f"{'●' if state == 'done' else '■'} {state}" for state in used if state in ("done", "failed")]
    ahead = [state for state in used if state not in ("done", "failed")]
    return [*said, "; ".join([*marks, *([f"○ {', '.join(ahead)}"] if ahead else [])])]


def _cautions(block: Cautions) -> list[str]:
    """One sentence goes on behind its title."""
    if len(block.lines) == 1:
        return [f"{block.title.rstrip('.')}. {block.lines[0]}"]
    return [block.title, *block.lines]


def _links(block: Links) -> list[str]:
    said = [f"{block.label}:"]
    for n, cell in enumerate(block.cells):
        text = cell.text if any(each.isalpha() for each in cell.text) else f"{block.label}: {cell.text}"
        said += [text] if n == len(block.cells) - 1 else [text, ","]
    return said


def _legend(block) -> str:
    return " ".join(f"{mark} {meaning}" for mark, meaning in block.legend)


def _charts(block: Charts) -> list[str]:
    """The signs of the legend are drawn, so only what they mean is said."""
    legend = " ".join(meaning for _, meaning in block.legend)
    notes = [chart.note for chart in block.charts if isinstance(chart, CounterChart)]
    return [block.caption, *(chart.alt for chart in block.charts), legend, *notes, block.rows]


def _months(block: MonthCalendar) -> list[str]:
    """The year stands above its first month alone."""
    heads, year = [], ""
    for month in block.months:
        name, _, of = month.replace("\u00a0", " ").rpartition(" ")
        heads.append(name if of == year else f"{of} {name}")
        year = of
    rows = [said for label, cells in block.rows for said in (label, *map(cell_said, cells))]
    key = "; ".join(f"{sign} {meaning}" for sign, meaning in block.key)
    return [block.caption, *heads, *rows, " ".join(part for part in (f"{key}." if key else "", block.note) if part)]


def _masthead(block: Masthead) -> list[str]:
    said = [block.name, *block.lines, *(text for pair in block.box for text in pair)]
    return [_NAMED.sub(NUMBER, text) for text in said]


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
    Cautions: _cautions,
    StandingBox: lambda block: [block.word, block.reason, *_pairs(block.pairs), block.outranked],
    CaseTimeline: _timeline,
    CycleBar: lambda block: [block.alt, SIGNS],
    Links: _links,
    Charts: _charts,
    AttachedPage: lambda block: [block.alt, block.note],
    Photos: lambda block: [words for photo in block.photos for words in (photo.alt, photo.caption)],
}


def headings_of(binder: Binder) -> list[tuple[int, str]]:
    """Level and text of each heading, in order."""
    cover, *rest = binder.sections
    first = cover.blocks[0]
    if isinstance(first, Masthead):
        found = [(1, first.name)]
    else:
        found = [(1, f"{first.what} {first.name}")]
    found += _heads(cover.blocks, 2)
    if not isinstance(first, Masthead):
        found.append((1, "Contents"))
    for section in rest:
        found += [(section.level, section.title), *_heads(section.blocks, section.level + 1)]
    return found


def _heads(blocks: Iterable[Block], level: int) -> Iterator[tuple[int, str]]:
    for block in blocks:
        if isinstance(block, Beside):
            yield from _heads((*block.left, *block.right), level)
        elif isinstance(block, Paragraph) and block.style == "strong":
            yield level, block.text
        elif isinstance(block, CaseTimeline) and block.steps:
            continue  # the caption of a table
        elif isinstance(block, CaseTimeline | Charts) and block.caption:
            yield level, block.caption


KINDS = frozenset(_SAYS)
BLOCKS = frozenset(Block.__args__)


def pattern(text: str) -> str:
    """A number where only the paper has one, any text of a figure."""
    text = re.escape(text).replace(NUMBERS, r"(\d+|–)(, ?\d+)*")
    return text.replace(NUMBER, r"(\d+|–)").replace(FIGURE, ".+")


def letters(text: str) -> str:
    """Without blanks, for a word longer than its line is broken over several."""
    return "".join(text.split())


def apart(expected: Iterable[str | Again], said: list[str]) -> str:
    """Where the two part, by the number of the text that is said; "" if they do not."""
    n = 0
    for wanted in expected:
        if isinstance(wanted, Again):
            n += wanted.count(said[n:])
            continue
        got = said[n] if n < len(said) else "nothing more"
        if not re.fullmatch(pattern(letters(wanted)), letters(got)):
            return f"at {n}: {wanted!r} should be said, {got!r} is"
        n += 1
    return f"at {n}: nothing more should be said, {said[n]!r} is" if n < len(said) else ""
