"""Reads a file of a recorded cycle. A file that is not in the form is refused whole, with the line named.

The form is this project's own (`# cycle 1`). A file is read column by column, each at once where its cells are
ordinary numbers. Where anything is at fault it is read again row by row, which is slower and finds the first fault.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from .file import FileProblem, LogColumn, NotInForm, Pressure, RecordedCycle
from .head import FIRST, ColumnNames, Keys, keys_of, names_of, separator_of
from .moments import NoMoment, plain_moments, seconds_of
from .numbers import BLANKS, PLAIN_SCALE, NoNumber, Scaled, plain_column, scaled, whole_numbers

LARGEST = 64 * 1024 * 1024  # bytes; a cycle of a day at ten samples a second with twelve sensors is less
CUT = "the file ends within a row: its last line has no line end, so a cell may be cut short"


def read_cycle(content: bytes) -> RecordedCycle:
    """The recorded cycle in the bytes of a file. Raises NotInForm."""
    lines, cut = _lines(content)
    if not lines and cut and content.removeprefix(b"\xef\xbb\xbf").decode() == FIRST:
        raise NotInForm(1, CUT)
    if not lines or lines[0] != FIRST:
        raise NotInForm(1, f"the first line is not “{FIRST}”, the form and its version")
    count = 1
    while count < len(lines) and lines[count].startswith("#"):
        count += 1
    nameless = count == len(lines)
    keys = keys_of(lines[1:count], separator_of("" if nameless else lines[count]) != ",")
    if nameless:
        raise NotInForm(cut or 0, CUT if cut else "there is no line of column names")
    names = names_of(count + 1, lines[count])
    body = _without_empty_ends(lines[count + 1 :], names)
    if cut and not body:
        raise NotInForm(cut, CUT)
    if not body:
        raise NotInForm(names.line, "there are no rows under the column names")
    read = _at_once(body, names, keys) or _row_by_row(body, names, keys)
    if cut:
        raise NotInForm(cut, CUT)
    return _recorded(read, names, keys)


def _lines(content: bytes) -> tuple[list[str], int]:
    """All ended lines, and the number of a last one without its end (0: there is none)."""
    if len(content) > LARGEST:
        raise NotInForm(0, f"the file has more than {LARGEST // 1024 // 1024} MB: one file holds one cycle")
    content = content.removeprefix(b"\xef\xbb\xbf")
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8")
        raise NotInForm(_split(before).count("\n") + 1, "a byte is not UTF-8: save the file as UTF-8") from None
    lines = _split(text).split("\n")
    last = lines.pop()
    return lines, len(lines) + 1 if last else 0


def _split(text: str) -> str:
    """With LF alone between lines. Other marks that Unicode calls line ends are text like any other."""
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _without_empty_ends(body: list[str], names: ColumnNames) -> list[str]:
    blanks = " " if names.separator == "\t" else BLANKS
    while body and not body[-1].strip(blanks):
        body.pop()
    return body


class _LogRead:
    """Cells of the needed columns as whole numbers: time, then temperatures, then pressure (where there is one)."""

    def __init__(self, time: LogColumn, others: list[LogColumn], first_moment: Fraction | None):
        self.time, self.others, self.first_moment = time, others, first_moment


def _at_once(body: list[str], names: ColumnNames, keys: Keys) -> _LogRead | None:
    """Column by column; None where anything is at fault."""
    needed = _needed(names)
    if 0 not in needed and any(line.startswith("#") for line in body):
        return None
    width, between = len(names.all), f"{names.separator}\n{names.separator}"
    cells = between.join(body).split(names.separator)  # with a cell of its own for the end of each row but the last
    if len(cells) != len(body) * (width + 1) - 1 or cells[width :: width + 1] != ["\n"] * (len(body) - 1):
        return None
    columns = []
    for place in needed:
        column = cells[place :: width + 1]
        if any(blank in body[0] or blank in body[-1] for blank in BLANKS if blank != names.separator):
            column = [cell.strip(BLANKS) for cell in column]
        read = _plain(column, names, place) or _odd(column, names, place)
        if read is None:
            return None
        columns.append(read)
    time, others = columns[0], columns[1:]
    if time.there is not None or (time.values[1:] <= time.values[:-1]).any():
        return None
    pressure = _pressure(others[-1], names, keys)
    if pressure is not None and _not_above_zero(pressure).any():
        return None
    first = None if names.elapsed else time.at(0)
    if first is not None:
        time = _since_first(time)
    return _LogRead(time, others, first)


def _plain(cells: list[str], names: ColumnNames, place: int) -> LogColumn | None:
    """A column of the common case; None where it is none."""
    if place == names.time and not names.elapsed:
        moments = plain_moments(cells)
        return None if moments is None else LogColumn(names.all[place], moments, PLAIN_SCALE)
    plain = plain_column(cells, names.comma)
    return None if plain is None else LogColumn(names.all[place], plain[0], PLAIN_SCALE, plain[1])


def _odd(cells: list[str], names: ColumnNames, place: int) -> LogColumn | None:
    """A column cell by cell; None where one is at fault: which is the first of the file, the rows will say."""
    try:
        return _column(names.all[place], [_value(cell, names, place) if cell else None for cell in cells])
    except (NoNumber, NoMoment):
        return None


def _value(cell: str, names: ColumnNames, place: int) -> Scaled:
    return seconds_of(cell) if place == names.time and not names.elapsed else scaled(cell, names.comma)


def _since_first(time: LogColumn) -> LogColumn:
    if time.values.dtype != object:
        return LogColumn(time.name, time.values - time.values[0], time.scale)
    first = int(time.values[0])
    return LogColumn(time.name, whole_numbers([int(value) - first for value in time.values]), time.scale)


def _needed(names: ColumnNames) -> list[int]:
    return [names.time, *(s.place for s in names.sensors), *([] if names.pressure is None else [names.pressure])]


def _pressure(column: LogColumn, names: ColumnNames, keys: Keys) -> Pressure | None:
    if names.pressure is None:
        return None
    ambient = RecordedCycle.ambient_of(keys.ambient)
    return Pressure(column, names.per, ambient if names.gauge else Fraction(0), names.gauge)


def _not_above_zero(pressure: Pressure) -> np.ndarray:
    """Rows with a value at or under zero absolute."""
    low = pressure.column.values <= pressure.at_most(Fraction(0))
    return low if pressure.column.there is None else low & pressure.column.there


def _row_by_row(body: list[str], names: ColumnNames, keys: Keys) -> _LogRead:
    """Every cell by itself. Raises NotInForm for the first fault."""
    places = _needed(names)
    found: list[list[Scaled | None]] = [[] for _ in places]
    zero = None if names.pressure is None else _zero(names, keys)
    for line, text in enumerate(body, names.line + 1):
        cells = _cells(line, text, names)
        row = [_cell(line, cells[place], names, place) for place in places]
        if row[0] is None:
            raise NotInForm(line, "the row has no time")
        if found[0] and _not_above(row[0], found[0][-1]):
            raise NotInForm(line, "the time is equal to or before that of the row above: times only grow")
        kpa = None if zero is None else row[-1]
        if kpa is not None and kpa[0] * zero.denominator <= zero.numerator * 10 ** kpa[1]:
            raise NotInForm(line, "the pressure is at or under zero absolute: check its unit, gauge and ambient_kpa")
        for column, cell in zip(found, row, strict=True):
            column.append(cell)
    columns = [_column(names.all[place], cells) for place, cells in zip(places, found, strict=True)]
    time, first = columns[0], None
    if not names.elapsed:
        first = time.at(0)
        time = _since_first(time)
    return _LogRead(time, columns[1:], first)


def _not_above(one: Scaled, other: Scaled) -> bool:
    if one[1] == other[1]:
        return one[0] <= other[0]
    return one[0] * 10 ** other[1] <= other[0] * 10 ** one[1]


def _zero(names: ColumnNames, keys: Keys) -> Fraction:
    """Zero absolute as the column would write it."""
    return -RecordedCycle.ambient_of(keys.ambient) / names.per if names.gauge else Fraction(0)


def _cells(line: int, text: str, names: ColumnNames) -> list[str]:
    if text.startswith("#"):
        raise NotInForm(line, "a line with # stands between the rows: such lines go before the column names")
    if not text.strip(BLANKS):
        raise NotInForm(line, "an empty line stands between the rows")
    cells = [cell.strip(BLANKS) for cell in text.split(names.separator)]
    if len(cells) != len(names.all):
        short = "short" if len(cells) < len(names.all) else "long"
        raise NotInForm(line, f"the row is too {short}: {len(cells)} cells for {len(names.all)} columns")
    return cells


def _cell(line: int, cell: str, names: ColumnNames, place: int) -> Scaled | None:
    if not cell:
        return None
    try:
        return _value(cell, names, place)
    except (NoNumber, NoMoment) as error:
        raise NotInForm(line, f"{names.all[place]}: {error}") from None


def _column(name: str, cells: list[Scaled | None]) -> LogColumn:
    places = max((cell[1] for cell in cells if cell is not None), default=0)
    values = [0 if cell is None else cell[0] * 10 ** (places - cell[1]) for cell in cells]
    there = None if None not in cells else np.array([cell is not None for cell in cells])
    return LogColumn(name, whole_numbers(values), 10**places, there)


def _recorded(read: _LogRead, names: ColumnNames, keys: Keys) -> RecordedCycle:
    temperatures = _celsius(read.others[: len(names.sensors)], names)
    pressure = _pressure(read.others[-1], names, keys)
    return RecordedCycle(
        read.time, temperatures, pressure, keys.said, keys.lines, keys.ambient, names.unknown,
        tuple(_problems(read, temperatures, names, keys)), names.line + 1,
    )  # fmt: skip


def _celsius(columns: list[LogColumn], names: ColumnNames) -> tuple[LogColumn, ...]:
    """All in °C and of one scale: 1 °F is 5/9 of a degree, so with any in °F the scale has a nine."""
    nine = 9 if any(s.fahrenheit for s in names.sensors) else 1
    scale = max(c.scale for c in columns)
    out = []
    for column, sensor in zip(columns, names.sensors, strict=True):
        values = column.values
        if column.scale != scale or nine != 1 or values.dtype == object:
            factor = scale // column.scale
            whole = [int(v) * factor for v in values]
            whole = [(v - 32 * scale) * 5 if sensor.fahrenheit else v * nine for v in whole]
            values = whole_numbers(whole)
        out.append(LogColumn(column.name, values, scale * nine, column.there))
    return tuple(out)


def _problems(read: _LogRead, temperatures: tuple[LogColumn, ...], names: ColumnNames, keys: Keys):
    for name in names.unknown:
        said = f"the column “{name}” is not known" if name else "a column without a name"
        yield FileProblem(names.line, f"{said}: kept, and not read.")
    empty = [c.name for c in temperatures if c.there is not None and not c.there.any()]
    if names.pressure is not None and (p := read.others[-1]).there is not None and not p.there.any():
        empty.append(p.name)
    for name in empty:
        yield FileProblem(names.line, f"the column {name} has no value at all.")
    for column in temperatures[1:]:
        if _never_changes(column) and not _never_changes(temperatures[0]):
            yield FileProblem(
                names.line, f"{column.name} never changes while the reference does: is its sensor read?"
            )
    if names.gauge and keys.ambient is None:
        yield FileProblem(0, "gauge pressure without ambient_kpa: 101.325 kPa is assumed.")
    if keys.started is not None and read.first_moment is not None:
        yield from _clocks(keys, read.first_moment)


def _never_changes(column: LogColumn) -> bool:
    values = column.values[column.rows(0, len(column.values))]
    return len(values) > 1 and values[0] == values[-1] and bool((values == values[0]).all())


def _clocks(keys: Keys, first: Fraction):
    """Where `started` and the first row are more than a minute apart, a clock may stand in another zone."""
    apart = abs(first - keys.started)
    if apart > 60:
        minutes = round(apart / 60)
        quarter = abs(apart - 900 * round(apart / 900)) <= 60
        why = "is a clock set to another zone?" if quarter else "which of the two clocks is right?"
        said = f"started and the first row are {minutes // 60} h {minutes % 60} min apart: {why}"
        yield FileProblem(keys.lines["started"], said)
