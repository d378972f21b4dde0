"""A row of a foreign table as what would be typed into the form: each cell read, each fault by row and column."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from records.files.table_file import Cell, letter
from records.forms import EntryContext
from records.writing.measures import UNITS, kind_of

from . import cells
from .cells import Odd
from .kinds import READING, SAME_LOT, RowColumn, code_of
from .mapping import MINUTES, Mapping, cell_of, left_out


@dataclass(frozen=True, slots=True)
class RowFault:
    """What speaks against a row. `column` is its letter, "" where the row is meant; `head` what the column is called;

    `said` what stands there. `confirm` is the code by which it is recorded all the same, "" where it never is.
    `missing`: "unit" or "lot" where `said` names one that is not known here.
    """

    row: int
    column: str
    head: str
    said: str
    message: str
    confirm: str = ""
    missing: str = ""


@dataclass(slots=True)
class ToldRow:
    """`data` by name of the form's field, `reading` of the second form, both as typed there."""

    number: int
    cells: Sequence[Cell]
    data: dict[str, str] = field(default_factory=dict)
    reading: dict[str, str] = field(default_factory=dict)
    faults: list[RowFault] = field(default_factory=list)
    values: tuple[dict, dict | None] | None = None  # what the writers are to be told, once the forms were filled in


class RowReader:
    """Reads the rows of one table. `who` wrote the table: whoever is not named in a row of it."""

    def __init__(self, ground: EntryContext, mapping: Mapping, who: str = "") -> None:
        self.mapping, self.who, self.kind = mapping, who, mapping.table
        self.columns = list(self.kind.columns.values())
        self.left_out: list[tuple[int, str, str]] = []  # row, why, what stands in it
        self._units = _by_text(ground.units(), ("label", "serial"), mapping.names.get("unit", {}))
        boxes = ground.indicator_lots(self.kind.lots) if self.kind.lots else []
        self._lots = _by_text(boxes, ("lot",), mapping.names.get("lot", {}))
        self._words: dict[tuple[str, str], str] = {}

    def rows(self, table: Iterable[tuple[int, Sequence[Cell]]]) -> Iterator[ToldRow]:
        """The rows that are rows of the table; what is none of it goes to `left_out`, with the reason."""
        for number, row in table:
            if why := left_out(self.mapping, row):
                said = "; ".join(text for _, text in row if text)
                self.left_out.append((number, why, said[:120]))
            else:
                yield self.read(number, row)

    def read(self, number: int, row: Sequence[Cell]) -> ToldRow:
        """One row."""
        told = ToldRow(number, row)
        for column in self.columns:
            cell = cell_of(row, self.mapping.columns.get(column.name))
            fixed = self.mapping.fixed.get(column.name, "")
            if fixed and column.name not in self.mapping.columns:
                cell = ("", fixed)
            try:
                self._put(told, column, cell)
            except Odd as odd:
                self._fault(told, column.name, str(odd))
        self._finish(told)
        return told

    def knows(self, what: str, text: str) -> bool:
        """Whether a text names one unit or box here, by itself or as it was chosen."""
        return len((self._units if what == "unit" else self._lots).get(_key(text), ())) == 1 or text == SAME_LOT

    def fault(self, told: ToldRow, name: str, message: str, confirm: str = "", missing: str = "") -> RowFault:
        """What speaks against the row, at the column of that field."""
        n = self.mapping.columns.get(name)
        column = self.kind.columns.get(name)
        said = cell_of(told.cells, n)[1] or ("" if n is not None else self.mapping.fixed.get(name, ""))
        return RowFault(
            told.number, letter(n) if n is not None else "", column.label if column else "", said[:80], message,
            confirm, missing,
        )  # fmt: skip

    def _fault(self, told: ToldRow, name: str, message: str, confirm: str = "", missing: str = "") -> None:
        told.faults.append(self.fault(told, name, message, confirm, missing))

    def _put(self, told: ToldRow, column: RowColumn, cell: Cell) -> None:
        data = told.reading if column.name.startswith(READING) else told.data
        name = column.name.removeprefix(READING)
        text = cells.text_of(cell)
        if column.kind == "tick":
            if cells.tick_of(cell):
                data[name] = "on"
        elif not text:
            return
        elif column.kind == "day":
            day, clock = cells.day_of(cell, self.mapping.order)
            data[name] = day.isoformat()
            if clock and name == "on" and clock != "00:00":
                data.setdefault("at", clock)
        elif column.kind == "time":
            data[name] = cells.time_of(cell)
        elif column.kind in ("number", "whole"):
            data[name] = self._number(column, cell)
        elif column.kind == "words":
            data[name] = self._word(column, text)
        elif column.kind == "unit":
            data[name] = self._one(self._units, told, column, text, "unit")
        elif column.kind == "lot":
            data[name] = text if text == SAME_LOT else self._one(self._lots, told, column, text, "lot")
        else:
            data[name] = text

    def _number(self, column: RowColumn, cell: Cell) -> str:
        number, behind = cells.number_of(cell, self.mapping.decimal)
        unit = self.mapping.units.get(column.name, column.base)
        if behind and behind != unit:
            if not column.base or not _same_measure(behind, column.base):
                raise Odd(f"“{cell[1]}” has “{behind}” behind the number. Write the number alone.")
            unit = _MEASURES[behind.casefold()]
        if column.base == "min":
            return _minutes(number, unit, column.places)
        return f"{number:f} {unit}" if unit != column.base else f"{number:f}"

    def _word(self, column: RowColumn, text: str) -> str:
        key = (column.name, text)
        if key not in self._words:
            said = self.mapping.words.get(column.name, {})
            self._words[key] = said[text] if text in said else code_of(column, text)
        if not self._words[key]:
            answers = ", ".join(words for _, words in column.choices)
            raise Odd(
                f"“{text}” is none of our words. Write one of: {answers}; or say on the page of the columns what it "
                "stands for."
            )
        return self._words[key]

    def _one(self, known: dict, told: ToldRow, column: RowColumn, text: str, what: str) -> str:
        found = known.get(_key(text), ())
        if len(found) == 1:
            return found[0]
        if found:
            raise Odd(f"{len(found)} are called “{text}” here. Choose on the page of the columns which one is meant.")
        noun = "unit stands here that" if what == "unit" else "box of that kind is known here that"
        self._fault(
            told, column.name, f"No {noun} is called “{text}”. Write it as its label reads, say on the page of the "
            "columns which one is meant, or add it first.",
            missing=what,
        )  # fmt: skip
        return ""

    def _finish(self, told: ToldRow) -> None:
        """What follows from the row itself: the box of the control, who is meant where nobody is named."""
        if told.data.get("control_lot") == SAME_LOT:
            told.data["control_lot"] = told.data.get("lot", "")
        for data, name in ((told.data, "run_by"), (told.data, "read_by"), (told.reading, "read_by")):
            column = f"{READING}{name}" if data is told.reading else name
            if self.who and column in self.kind.columns and not data.get(name):
                data[name] = self.who
        if not {"test", "control"} & told.reading.keys():
            self._unread(told)
        elif "on" not in told.reading and told.data.get("on"):
            self._fault(told, READING + "on", "When was it read? A result has the day on which it was looked at.")

    def _unread(self, told: ToldRow) -> None:
        """A row that says nothing of what was read is a test that is not read yet."""
        for name in told.reading:
            if name not in ("read_by", "on") and READING + name in self.mapping.columns:
                self._fault(
                    told, READING + name, "This belongs to a result, and the row has none. Enter what it showed."
                )
                break
        told.reading = {}


def _by_text(rows: Iterable, names: Sequence[str], chosen: dict[str, str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    refs = set()
    for row in rows:
        refs.add(str(row.ref))
        for name in names:
            if getattr(row, name):
                found.setdefault(_key(getattr(row, name)), {})[str(row.ref)] = None
    said = {text: tuple(of) for text, of in found.items()}
    return said | {_key(text): (ref,) for text, ref in chosen.items() if ref in refs}


def _key(text: str) -> str:
    return " ".join(text.casefold().split())


_MEASURES = {unit.casefold(): unit for unit in (*UNITS, *MINUTES)} | {
    "c": "°C",
    "f": "°F",
    "deg c": "°C",
    "deg f": "°F",
}


def _same_measure(said: str, base: str) -> bool:
    unit = _MEASURES.get(said.casefold(), "")
    return unit in MINUTES if base == "min" else bool(unit) and kind_of(unit) == kind_of(base)


def _minutes(number: Decimal, unit: str, places: int) -> str:
    parts = MINUTES.get(unit, 1)
    if parts == 1:
        return f"{number:f}"
    told = (number / parts).quantize(Decimal(1).scaleb(-max(places, 0)))
    if told * parts != number:
        raise Odd(
            f"{number:f} s are no whole tenth of a minute. Write the time in minutes, rounded as you hold right."
        )
    return f"{told:f}"
