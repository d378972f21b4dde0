"""What a list of results says once above, and what its lines say: persons as initials, lots by their days.

A list of one test says what is the same in nearly all its rows above them; a row that differs in it is told in full.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from audit.binder.sections import Cell, Column, Table
from audit.binder.written_on_paper import NO_BREAK, day, month_name

WHOLE = 510.0  # width of the text, in points
HALF = 246.0  # of one of two halves side by side
THIRD = 158.0  # of one of three thirds
RECORD = 38.0
_DAY, _SHORT_DAY = 44.0, 34.0
_FEW_ROWS = 2  # rows that are otherwise than most are told in full; more of one kind have a letter
_FEW_LINES = 12  # that stand in halves though they would go into thirds
_FEW_LOTS = 4  # lots that follow one another and are named in a sentence; of more each row names its own


def most(values: Iterable[Hashable], none: Hashable = "") -> Hashable:
    """The most frequent value, of equals the first seen; `none` without any."""
    found = Counter(values).most_common(1)
    return found[0][0] if found else none


def short_day(value: date) -> str:
    """A day in a list that names its years by lines of their own: 9 Dec."""
    return f"{value.day}{NO_BREAK}{month_name(value)}"


def short_span(first: date, last: date) -> str:
    """Two days, both inclusive, with what is the same of both said once: 8 to 14 Feb 2026."""
    if first == last:
        return day(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day(last)}"
    return f"{short_day(first)} to {day(last)}" if first.year == last.year else f"{day(first)} to {day(last)}"


def entries(facts) -> Cell:
    """The ledger entries behind a count: the first and the last of them."""
    numbers = [fact.row.number for fact in facts]
    first, last = min(numbers), max(numbers)
    return Cell(str(first) if first == last else f"{first} to {last}", proof=True)


# ------------------------------------------------------------------------------------------------ kinds


@dataclass(frozen=True, slots=True)
class Kinds:
    """The ways in which most rows of a list are made, most frequent first; all but the first have a letter.

    Each kind is a tuple of words, "" for a part that says nothing. Rows of a kind of few rows are told in full.
    """

    known: tuple[tuple[str, ...], ...]

    @classmethod
    def of(cls, kinds: Sequence[tuple[str, ...]]) -> Kinds:
        """Of the kinds of all rows. Raises ValueError without any."""
        if not kinds:
            raise ValueError("A list without rows has no kinds.")
        found = Counter(kinds).most_common()
        return cls(tuple(kind for n, (kind, count) in enumerate(found) if n == 0 or count > _FEW_ROWS))

    @property
    def several(self) -> bool:
        return len(self.known) > 1

    def letter(self, kind: tuple[str, ...]) -> str:
        """ "" for the most frequent kind, b for the next; "" too for one that is told in full."""
        return chr(ord("a") + self.known.index(kind)) if kind in self.known[1:26] else ""

    def words(self) -> list[str]:
        """What the most frequent kind says, then what is otherwise where a line has a letter."""
        first = self.known[0]
        told = [word for word in first if word]
        for kind in self.known[1:]:
            own = (mine or f"not {usual}" for mine, usual in zip(kind, first, strict=True) if mine != usual)
            told.append(f"where marked {self.letter(kind)}: {', '.join(own)}")
        return told


# ------------------------------------------------------------------------------------------------ persons


@dataclass(frozen=True, slots=True)
class People:
    """The persons of a list, most frequent first, each with letters that no other has."""

    letters: dict[str, str]

    @classmethod
    def of(cls, names: Iterable[str]) -> People:
        made: dict[str, str] = {}
        for name, _ in Counter(name for name in names if name).most_common():
            made[name] = _free(_initials(name), set(made.values()))
        return cls(made)

    @property
    def several(self) -> bool:
        return len(self.letters) > 1

    def by(self, *names: str) -> str:
        """The letters of who did it, each once: "MC", "MC, DF"; "" where nobody is named."""
        return ", ".join(dict.fromkeys(self.letters[name] for name in names if name))

    def key(self) -> str:
        """MC Mei Castellanos, DF Danladi Frost."""
        return ", ".join(f"{letters} {name}" for name, letters in self.letters.items())


def _initials(name: str) -> str:
    """The first letters of the first and the last word of a name."""
    words = name.split()
    return "".join(word[:1] for word in (words if len(words) < 2 else (words[0], words[-1]))).upper() or "?"


def _free(letters: str, taken: set[str]) -> str:
    n, free = 2, letters
    while free in taken:
        n, free = n + 1, f"{letters}{n}"
    return free


# ------------------------------------------------------------------------------------------------ lots


def lots_in_turn(dated_lots: Sequence[tuple[date, str]]) -> list[tuple[str, date]] | None:
    """(lot, last day) of each lot where they follow one another; None where they are many or come again.

    `dated_lots` in the order of the days; rows without a lot are left out.
    """
    turns: list[tuple[str, date]] = []
    for on, lot in dated_lots:
        if not lot:
            continue
        if turns and turns[-1][0] == lot:
            turns[-1] = (lot, on)
        else:
            turns.append((lot, on))
    again = len({lot for lot, _ in turns}) < len(turns)
    return None if again or len(turns) > _FEW_LOTS else turns


def lots_words(turns: Sequence[tuple[str, date]], named: Callable[[str], str] = str) -> str:
    """lot A (named) up to and with 22 Sep 2025, then lot B; "" without any."""
    told = [f"lot {named(lot)} up to and with {day(last)}" for lot, last in turns[:-1]]
    return ", then ".join([*told, *(f"lot {named(lot)}" for lot, _ in turns[-1:])])


# ------------------------------------------------------------------------------------------------ lists by date


@dataclass(frozen=True, slots=True)
class DatedLine:
    """One line of a list by date: its day and its cells after that of the day, the record last.

    `across` is a text in place of the cells, over the whole width: what stands between the rows. `month`: the line
    tells of several days of one month, and its name stands in place of the day.
    """

    on: date
    cells: tuple[Cell, ...] = ()
    strong: bool = False
    across: str = ""
    month: bool = False


def by_date(
    caption: str, columns: tuple[Column, ...], lines: Sequence[DatedLine], empty: str, *, wide: bool = False
) -> Table:
    """The lines in halves, in thirds where they are short enough: a line for each year, a rule above each month.

    `columns` are those after the day.

    `wide`: each line over the whole width, for lines that hold more than a half does.
    """
    third = not wide and sum(column.weight for column in columns) + _SHORT_DAY <= THIRD and len(lines) > _FEW_LINES
    room = WHOLE if wide else THIRD if third else HALF
    first = Column("Day", min(room - sum(column.weight for column in columns), _DAY), names=True)
    rest = room - first.weight - sum(column.weight for column in columns)
    # What is left goes to the column before that of the record, so that the record stands at the edge.
    filled = replace(columns[-2], weight=columns[-2].weight + rest)
    columns = (*columns[:-2], filled, columns[-1])
    rows: list[tuple[Cell, ...]] = []
    ruled: list[int] = []
    before: date | None = None
    for line in lines:
        if before is None or line.on.year != before.year:
            ruled.append(len(rows))
            rows.append((Cell(str(line.on.year), strong=True, span=len(columns) + 1),))
            ruled.append(len(rows))
        elif line.on.month != before.month:
            ruled.append(len(rows))
        before = line.on
        if line.across:
            rows.append((Cell(line.across, strong=True, span=len(columns) + 1),))
        else:
            on = month_name(line.on) if line.month else short_day(line.on)
            rows.append((Cell(on, strong=line.strong), *line.cells))
    return Table(
        caption, (first, *columns), tuple(rows), empty, ruled=tuple(ruled), tight=wide, halves=not wide, thirds=third
    )
