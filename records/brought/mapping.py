"""Which column of a foreign table holds what: proposed from its heads, confirmed by a person, kept for the next.

A proposal fills in what the file itself shows. Where it leaves two readings (the order of day and month, a word that
is not ours) nothing is proposed, and it is asked.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace

from records.files.table_file import NOTHING, TEXT, Cell, TableSheet, letter
from records.writing.measures import UNITS, kind_of
from records.writing.preferences import current

from . import cells
from .cells import Odd, bare
from .kinds import KINDS, READING, SAME_LOT, KindOfRows, RowColumn, code_of

HEADS_WITHIN = 25  # rows among which the heads are looked for
LOOKED_AT = 2_000  # rows by which order, decimals and words are proposed
MOST_WORDS = 40  # different words of one column that can be given a meaning
MINUTES = {"min": 1, "minutes": 1, "s": 60, "seconds": 60}  # how many make a minute


@dataclass(frozen=True)
class Mapping:
    """`columns`: by name the number of its column, from 0 on; `fixed`: what is the same in all rows, as typed.

    `head` is the row number of the last row of heads, 0 without; `order` of `cells.ORDERS` or "" while nobody chose;
    `units`: in which unit a column of numbers is; `words`: by name what each word stands for; `names`: by "unit" and
    "lot" the ref that each text means.
    """

    kind: str
    sheet: str = ""
    head: int = 0
    heads: tuple[str, ...] = ()
    columns: dict[str, int] = field(default_factory=dict)
    fixed: dict[str, str] = field(default_factory=dict)
    order: str = ""
    decimal: str = cells.POINT
    units: dict[str, str] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    names: dict[str, dict[str, str]] = field(default_factory=dict)

    def to_json(self) -> dict:
        """As a working table keeps it."""
        return asdict(self) | {"heads": list(self.heads)}

    @classmethod
    def from_json(cls, said: dict) -> Mapping:
        return cls(**said | {"heads": tuple(said.get("heads", ()))})

    @property
    def table(self) -> KindOfRows:
        return KINDS[self.kind]

    def head_of(self, name: str) -> str:
        """How the column of that name is called: its letter and head; "" where none is chosen."""
        n = self.columns.get(name)
        if n is None:
            return ""
        head = self.heads[n] if n < len(self.heads) else ""
        return f"{letter(n)} “{head}”" if head else letter(n)


def digest_of(kind: str, heads: Sequence[str]) -> str:
    """What a mapping is remembered by: the kind and the heads of the file, however they are written.

    What a file of rows set aside has beside them is none of its heads.
    """
    said = [bare(head) for head in heads if head not in ASIDE_HEADS]
    while said and not said[-1]:
        said.pop()
    return hashlib.sha256(json.dumps([kind, said]).encode()).hexdigest()


ASIDE_HEADS = ("Row in the file", "What is wrong")


# ------------------------------------------------------------------------------------------------ heads


def best_sheet(kind: KindOfRows, sheets: Sequence[TableSheet]) -> TableSheet:
    """The sheet that is most like a table of the kind; one that is not hidden where there is any."""
    seen = [sheet for sheet in sheets if not sheet.hidden] or list(sheets)
    return max(seen, key=lambda sheet: (_score(kind, find_heads(kind, sheet)[1]), len(sheet.rows)))


def find_heads(kind: KindOfRows, sheet: TableSheet) -> tuple[int, tuple[str, ...]]:
    """The row number of the last row of heads (0 without any), and the head of each column.

    Heads may stand in two rows, where one in the upper row spans several columns of the lower.
    """
    top = sheet.rows[:HEADS_WITHIN]
    best = (0, (), 0.0)
    for n, (number, row) in enumerate(top):
        if not _may_be_heads(row):
            continue
        for heads in (_texts(row), _joined(top[n - 1][1], row) if n and top[n - 1][0] == number - 1 else ()):
            score = _score(kind, heads)
            if score > best[2] + 0.01:
                best = (number, heads, score)
    if best[2] >= 1:
        return best[0], best[1]
    first = top[0] if top else (0, [])
    # A first row in which a digit stands is a row: it must not be taken for heads, and be lost.
    plain = all(kind == TEXT and not any(map(str.isdigit, text)) for kind, text in first[1])
    if len(first[1]) > 1 and plain and len(sheet.rows) > 1:
        return first[0], _texts(first[1])
    return 0, ()


def _may_be_heads(row: Sequence[Cell]) -> bool:
    """Whether all of it is words: a day or a number stands in a row of the table, which must not be lost as heads."""
    return all(kind == TEXT and not text[:1].isdigit() for kind, text in row)


def _texts(row: Sequence[Cell]) -> tuple[str, ...]:
    return tuple(" ".join(text.split()) if kind == TEXT else "" for kind, text in row)


def _joined(upper: Sequence[Cell], lower: Sequence[Cell]) -> tuple[str, ...]:
    """Heads in two rows: an upper head holds for the columns on its right that have a head below and none above."""
    above, found = "", []
    up, low = _texts(upper), _texts(lower)
    for n in range(max(len(up), len(low))):
        over, under = (texts[n] if n < len(texts) else "" for texts in (up, low))
        above = over or (above if under else "")
        found.append(" ".join(part for part in (above if under or over else "", under) if part))
    return tuple(found)


def _score(kind: KindOfRows, heads: Sequence[str]) -> float:
    return len(_matched(kind, heads))


def _matched(kind: KindOfRows, heads: Sequence[str]) -> dict[str, int]:
    """By name the column whose head is one of the names that it goes by; the closer match first, each column once."""
    found: dict[str, int] = {}
    taken: set[int] = set()
    said = [bare(head) for head in heads]
    for close in (_is_same, _ends_so, _begins_so):
        for name, column in kind.columns.items():
            names = (bare(column.label), *column.heads)
            for n, head in enumerate(said):
                if name not in found and n not in taken and head and close(head, names):
                    found[name] = n
                    taken.add(n)
    return found


def _is_same(head: str, names: Sequence[str]) -> bool:
    return head in names


def _ends_so(head: str, names: Sequence[str]) -> bool:
    """Of a head in two rows: “cycle number” under “sterilizer” says the cycle number."""
    return any(len(name) > 3 and head.endswith(f" {name}") for name in names)


def _begins_so(head: str, names: Sequence[str]) -> bool:
    # “Unit 1” is a unit, and no head.
    return not head[-1].isdigit() and any(len(name) > 3 and head.startswith(f"{name} ") for name in names)


# ------------------------------------------------------------------------------------------------ a proposal


def propose(kind: KindOfRows, sheet: TableSheet, remembered: Mapping | None = None) -> Mapping:
    """What the sheet most likely says. What was remembered for such heads comes first; order of days, if not shown by

    the file, as the clinic writes them.
    """
    head, heads = find_heads(kind, sheet)
    columns = dict(remembered.columns) if remembered else _matched(kind, heads)
    mapping = Mapping(kind.code, sheet.name, head, heads, columns)
    mapping = replace(mapping, fixed=dict(remembered.fixed) if remembered else _usual(kind, columns))
    return with_what_it_shows(mapping, sheet, remembered)


def with_what_it_shows(mapping: Mapping, sheet: TableSheet, remembered: Mapping | None = None) -> Mapping:
    """The mapping with order, decimals, units and words that the chosen columns show."""
    kind, rows = mapping.table, list(body(sheet, mapping))[:LOOKED_AT]
    days = _column_cells(mapping, rows, "day")
    order, _ = cells.order_in(days)
    order = order or (remembered.order if remembered else "") or _ORDER_OF.get(current().days, "")
    decimal = cells.decimal_in(_column_cells(mapping, rows, "number")) or (remembered.decimal if remembered else "")
    was = remembered or mapping
    words = {}
    for name, column in kind.columns.items():
        if column.kind == "words" and name in mapping.columns:
            known = was.words.get(name, {})
            words[name] = {said: known.get(said, code_of(column, said)) for said in words_in(mapping, rows, name)}
    return replace(
        mapping, order=mapping.order or order, decimal=decimal or mapping.decimal, words=words, names=was.names,
        units=_units(mapping) | was.units,
    )  # fmt: skip


_ORDER_OF = {"dmy": cells.DAY_FIRST, "mdy": cells.MONTH_FIRST, "Mdy": cells.MONTH_FIRST}


def _usual(kind: KindOfRows, columns: dict[str, int]) -> dict[str, str]:
    """What the form begins with, of what no column holds."""
    fields = kind.form.base_fields | {
        READING + name: each for name, each in (kind.reading.base_fields if kind.reading else {}).items()
    }
    found = {name: str(fields[name].initial) for name in kind.columns if fields[name].initial not in (None, "")}
    return {name: text for name, text in found.items() if name not in columns}


def _units(mapping: Mapping) -> dict[str, str]:
    """The unit of measure that a head names, of each column of numbers that has one."""
    found = {}
    for name, column in mapping.table.columns.items():
        n = mapping.columns.get(name)
        if column.base and n is not None and n < len(mapping.heads):
            said = mapping.heads[n].replace("deg ", "°").split()
            for unit in units_of(column):
                if any(part.strip("()[],.").casefold() in _ALSO.get(unit, (unit.casefold(),)) for part in said):
                    found[name] = unit
                    break
    return found


_ALSO = {"°C": ("°c", "c", "celsius"), "°F": ("°f", "f", "fahrenheit"), "s": ("s", "sec", "seconds")}


def units_of(column: RowColumn) -> tuple[str, ...]:
    """The units of measure in which such a column may be; () for one without."""
    if column.base == "min":
        return ("min", "s")
    return tuple(unit for unit in UNITS if kind_of(unit) == kind_of(column.base)) if column.base else ()


# ------------------------------------------------------------------------------------------------ rows


def body(sheet: TableSheet, mapping: Mapping) -> Iterator[tuple[int, list[Cell]]]:
    """The rows under the heads, each with its number."""
    return ((number, row) for number, row in sheet.rows if number > mapping.head)


def cell_of(row: Sequence[Cell], n: int | None) -> Cell:
    return row[n] if n is not None and n < len(row) else NOTHING


def _column_cells(mapping: Mapping, rows: Sequence, kind: str) -> list[Cell]:
    names = [name for name, column in mapping.table.columns.items() if column.kind == kind]
    at = [mapping.columns[name] for name in names if name in mapping.columns]
    return [cell_of(row, n) for _, row in rows for n in at]


def words_in(mapping: Mapping, rows: Sequence, name: str) -> list[str]:
    """The different words in the column of that name, at most so many as can be given a meaning, blanks left out."""
    seen: dict[str, None] = {}
    for _, row in rows:
        cell = cell_of(row, mapping.columns.get(name))
        if cell[1] and not left_out(mapping, row):
            try:
                seen.setdefault(cells.text_of(cell))
            except Odd:
                continue
        if len(seen) >= MOST_WORDS:
            break
    return list(seen)


_TOTALS = ("total", "totals", "subtotal", "sub total", "sum", "average", "mean", "count", "grand total", "number of")


def left_out(mapping: Mapping, row: Sequence[Cell]) -> str:
    """Why a row is none of the table, in words; "" for a row that is. Only a row without its day is ever left out."""
    texts = [text for _, text in row]
    filled = [(n, text) for n, text in enumerate(texts) if text]
    if mapping.heads and _is_head(mapping.heads, texts):
        return "the heads once more"
    day = cell_of(row, mapping.columns.get("on"))
    has_day = any(each.isdigit() for each in day[1]) and not _is_total(day[1])
    if has_day or "on" in mapping.fixed or _has_result(mapping, texts):
        return ""
    if filled and _is_total(filled[0][1]):
        return "a line of totals"
    if len(filled) == 1 and filled[0][0] == min(mapping.columns.values(), default=0) and not day[1].isdigit():
        return "a heading between the rows"
    return ""


def _has_result(mapping: Mapping, texts: Sequence[str]) -> bool:
    """Whether the row says a result or another of our words: such a row is never left out."""
    at = [
        mapping.columns[name]
        for name, each in mapping.table.columns.items()
        if each.kind == "words" and name in mapping.columns
    ]
    return any(n < len(texts) and any(c.isalpha() for c in texts[n]) for n in at)


def _is_total(text: str) -> bool:
    said = bare(text)
    return any(said == word or said.startswith(f"{word} ") for word in _TOTALS)


def _is_head(heads: Sequence[str], texts: Sequence[str]) -> bool:
    """Whether all that stands in the row is what the heads say, or the lower row of them."""
    filled = [(n, text) for n, text in enumerate(texts) if text]
    return len(filled) > 1 and all(n < len(heads) and _is_like(heads[n], text) for n, text in filled)


def _is_like(head: str, text: str) -> bool:
    said, word = bare(head), bare(text)
    return bool(word) and (said == word or said.endswith(f" {word}"))


def missing(mapping: Mapping) -> list[str]:
    """What must be chosen before the rows can be read, in words; [] when nothing is."""
    found = []
    for name, column in mapping.table.columns.items():
        if column.needed and name not in mapping.columns and not mapping.fixed.get(name, ""):
            found.append(f"{column.label}: choose its column, or say what it is in all rows.")
    if READING + "test" in mapping.columns and READING + "control" not in mapping.columns:
        if not mapping.fixed.get(READING + "control"):
            found.append(
                "What the control shows: choose its column, or say it for all rows (“not stated” where nothing is "
                "known of it: such a test doesn’t count)."
            )
    return found


def unclear(mapping: Mapping, sheet: TableSheet) -> list[str]:
    """What has two readings and was not chosen yet, in words."""
    found = []
    days = _column_cells(mapping, list(body(sheet, mapping)), "day")
    if not mapping.order and cells.order_in(days)[1]:
        found.append("Days such as 03/04/2025 are two days to two people: choose which number is the day.")
    columns = mapping.table.columns
    for name, words in mapping.words.items():
        blank = [said for said, code in words.items() if not code]
        if blank and name in columns:
            listed = ", ".join(f"“{said[:30]}”" for said in blank[:5])
            found.append(
                f"{columns[name].label}: say what {listed}{' and others' if len(blank) > 5 else ''} stand for."
            )
    return found


__all__ = ["SAME_LOT", "Mapping", "best_sheet", "body", "cell_of", "digest_of", "find_heads", "left_out", "missing",
           "propose", "unclear", "units_of", "with_what_it_shows", "words_in"]  # fmt: skip
