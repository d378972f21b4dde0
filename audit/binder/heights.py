"""How tall blocks of the first page are, about, in points: whether one page holds them is decided with the contents.

Reckoned on the safe side, from counts of letters; paper measures them.
"""

from __future__ import annotations

from audit.binder.sections import KeyValues, Masthead, Paragraph, Table

PAGE = 682.0  # of text on the smaller of the sizes of paper
LINE, PAD = 11.2, 3.4  # of a row of a table
HEAD = 42.0  # space, caption and head of a table
_LETTER = 4.5  # width of a letter of a table, as they come, with what is left at the end of a line
_GAP = 5.0  # between columns
_HALF = 184.0  # width of the values of a list of half the width
_TEXT = 510.0


def of(block: Paragraph | KeyValues | Masthead | Table) -> float:
    """Raises TypeError for a kind of block that the first page does not hold."""
    if isinstance(block, Table):
        return HEAD + sum(row_height(block, n) for n in range(len(block.rows)))
    if isinstance(block, KeyValues):
        return 22.0 + sum(_lines(cell.text, _HALF) * LINE + 1.0 for _, cell in block.pairs)
    if isinstance(block, Masthead):
        return 12.0 + 29.0 * -(-len(block.name) * 12.5 // 310) + LINE * sum(_lines(each, 310) for each in block.lines)
    if isinstance(block, Paragraph) and block.style == "lead":
        return 12.0 + 15.0 * _lines(block.text, _TEXT * _LETTER / 6.3)
    if isinstance(block, Paragraph):
        return 6.0 + 12.3 * _lines(block.text, _TEXT)
    raise TypeError(f"The first page holds no {type(block).__name__}.")


def row_height(table: Table, n: int) -> float:
    """Of row `n`, counted from 0."""
    lines = (
        _lines(cell.text, column.weight - _GAP) for cell, column in zip(table.rows[n], table.columns, strict=False)
    )
    return max(1, *lines) * LINE + PAD


def _lines(text: str, wide: float) -> int:
    """How many lines of print a text takes at that width."""
    return sum(max(1, int(-(-len(line) * _LETTER // wide))) for line in text.split("\n"))
