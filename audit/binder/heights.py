"""How tall blocks of the first page are, about, in points: whether one page holds them is decided with the contents.

Reckoned on the safe side, from letters by how wide they are, about; paper measures them.
"""

from __future__ import annotations

from audit.binder.sections import Cell, KeyValues, Masthead, Paragraph, Table

PAGE = 682.0  # of text on the smaller of the sizes of paper
LINE, PAD = 11.2, 3.4  # of a row of a table
HEAD = 42.0  # space, caption and head of a table
_CELL, _BODY = 9.0, 9.5  # sizes of type
_LEAD, _NAME = 12.3, 25.6  # of what is bold, so wider
_GAP = 5.0  # between columns
_HALF = 172.0  # width of the values of a list of half the width
_TEXT = 510.0
_WIDTHS = {  # of the size of type, a little more than they are: what is told in bold is wider
    "fijlI,.:;'|": 0.26, " \u00a0": 0.2, "!()-[]{}/rt": 0.34, "?*szcvxy\"“”": 0.46,
    "0123456789#$+<=>aegkFJL": 0.51, "DGHKNOQU&": 0.66, "w": 0.74, "mMW%@□■◩": 0.86,
}  # fmt: skip
_OTHER = 0.58
_OF = {letter: wide for letters, wide in _WIDTHS.items() for letter in letters}


def of(block: Paragraph | KeyValues | Masthead | Table) -> float:
    """Raises TypeError for a kind of block that the first page does not hold."""
    if isinstance(block, Table):
        return HEAD + sum(row_height(block, n) for n in range(len(block.rows)))
    if isinstance(block, KeyValues):
        return 31.0 + sum(lines_of(cell.text, _HALF, _size(cell)) * LINE + 1.6 for _, cell in block.pairs)
    if isinstance(block, Masthead):
        return (
            12.0 + 29.0 * lines_of(block.name, 310, _NAME) + LINE * sum(lines_of(each, 310) for each in block.lines)
        )
    if isinstance(block, Paragraph) and block.style == "lead":
        return 12.0 + 15.0 * lines_of(block.text, _TEXT, _LEAD)
    if isinstance(block, Paragraph):
        return 6.0 + 12.3 * lines_of(block.text, _TEXT, _BODY)
    raise TypeError(f"The first page holds no {type(block).__name__}.")


def row_height(table: Table, n: int) -> float:
    """Of row `n`, counted from 0."""
    pairs = zip(table.rows[n], table.columns, strict=False)
    most = max(lines_of(cell.text, column.weight - _GAP, _size(cell)) for cell, column in pairs)
    return max(1, most) * LINE + PAD


def _size(cell: Cell) -> float:
    """Of its type, as if it were not bold."""
    return _CELL * 1.03 if cell.strong else _CELL


def _wide(text: str, size: float) -> float:
    return sum(_OF.get(each, _OTHER) for each in text) * size


def lines_of(text: str, wide: float, size: float = _CELL) -> int:
    """How many lines of print a text takes at that width in points; long ones anywhere."""
    return sum(_broken(line, wide, size) for line in text.split("\n"))


def _broken(line: str, wide: float, size: float) -> int:
    count, used, blank = 1, 0.0, _wide(" ", size)
    for word in line.split(" "):
        long = _wide(word, size)
        if used and used + blank + long > wide:
            count, used = count + 1, 0.0
        more = int(long // wide)
        count += more
        used += (blank if used else 0.0) + long - more * wide
    return count
