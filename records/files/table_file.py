"""The cells of a foreign table, out of a file of text (CSV) or a workbook (XLSX). Pure: bytes in, cells out.

Nothing is guessed that the file does not say: a cell keeps its kind, and what it means is for whoever maps it. What
cannot be read is refused with the way out. Read in a process apart, see `records.files.apart`.
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time

LARGEST_BYTES = 16 * 1024 * 1024
LARGEST_OPENED = 160 * 1024 * 1024  # what the parts of a workbook may have together when they are unpacked
MOST_ROWS = 21_000  # 20,000 and what stands above and below them
MOST_COLUMNS = 80
MOST_SHEETS = 40
LONGEST_CELL = 2_000
FIRST_YEAR = 1905  # days of such programs begin with 1900 or 1904
# Kinds of cell: text, number, day, moment, time of day, a formula without a value, a fault that the program shows.
TEXT, NUMBER, DAY, MOMENT, TIME, FORMULA, FAULT = "", "n", "d", "m", "t", "f", "e"
Cell = tuple[str, str]  # (kind, as text)
TOO_LARGE = (
    f"The file is larger than {LARGEST_BYTES // 1024 // 1024} MiB. Save the sheet alone, as CSV, or a year at a time."
)
NOTHING: Cell = (TEXT, "")


class Unreadable(ValueError):
    """The file is no table that can be read: what, why, and the way out."""


@dataclass(slots=True)
class TableSheet:
    """`rows`: the number that a table program shows beside it, and its cells; rows without any text are left out."""

    name: str
    hidden: bool = False
    rows: list[tuple[int, list[Cell]]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read(content: bytes, filename: str) -> list[TableSheet]:
    """The sheets of the file, one of a file of text; those that hold nothing are left out. Raises Unreadable."""
    if not content:
        raise Unreadable("The file is empty. Choose it again.")
    if len(content) > LARGEST_BYTES:
        raise Unreadable(TOO_LARGE)
    if content[:4] == b"\xd0\xcf\x11\xe0":
        raise Unreadable(
            "This is a workbook of the old kind (.xls), or one locked with a password. Save it anew as .xlsx without "
            "a password, or as CSV."
        )
    if content[:2] == b"PK":
        sheets = _workbook(content)
    elif content[:5] == b"%PDF-" or content[:3] == b"\xff\xd8\xff" or content[:4] == b"\x89PNG":
        raise Unreadable(
            "This is a picture or a document, not a table. Handwriting is not read: type its rows into the table on "
            "the page, or choose a CSV or XLSX file."
        )
    else:
        sheets = [_text(content, filename)]
    found = [sheet for sheet in sheets if sheet.rows]
    if not found:
        raise Unreadable("The file holds no row with anything in it. Choose the file that has the rows.")
    return found


# ------------------------------------------------------------------------------------------------- text


def _text(content: bytes, filename: str) -> TableSheet:
    text, notes = _decoded(content)
    sheet = TableSheet(re.split(r"[/\\]", filename)[-1][:80] or "table", notes=notes)
    told = re.match(r"sep=(.)\r?\n", text)
    separator = told[1] if told else _separator(text)
    skipped = 1 if told else 0
    reader = csv.reader(io.StringIO(text[told.end() :] if told else text, newline=""), delimiter=separator)
    number = skipped
    try:
        for number, row in enumerate(reader, skipped + 1):
            _take(sheet, number, [(TEXT, _unmarked(_tidy(value))) for value in row])
    except csv.Error as error:
        raise Unreadable(
            f"Row {number + 1} cannot be read ({error}). Open the file in a table program and save it as CSV anew."
        ) from None
    if separator != ",":
        notes.append(f"Columns are parted by {_NAMES[separator]}." if separator in _NAMES else "")
    sheet.notes = [note for note in notes if note]
    return sheet


_NAMES = {";": "semicolons", "\t": "tabs", "|": "upright strokes", ",": "commas"}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


def _decoded(content: bytes) -> tuple[str, list[str]]:
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            try:
                return content.decode(encoding), []
            except UnicodeDecodeError:
                raise Unreadable(
                    "The file is damaged: its text is not what its first bytes say. Save it anew as CSV (UTF-8)."
                ) from None
    if b"\x00" in content:
        raise Unreadable(
            "The file is no text and no workbook (.xlsx). Save the table as CSV or XLSX and choose that."
        )
    try:
        return content.decode("utf-8"), []
    except UnicodeDecodeError:
        # Bytes that this table has no letter for stand as they are, so that they are seen and not swallowed.
        text = content.decode("cp1252", errors="replace")
        return text, ["The file is not UTF-8; it was read as Windows text (1252). Look whether letters are right."]


def _separator(text: str) -> str:
    """What parts the columns: the one by which most of the first rows have the same number of columns, above one."""
    lines = [line for line in _outside_quotes(text[:20_000]).splitlines()[:40] if line.strip()]
    best, most = ",", 0
    for each in _NAMES:
        counts = [line.count(each) for line in lines]
        usual = max(set(counts), key=lambda n: (counts.count(n) if n else 0, n), default=0)
        score = counts.count(usual) * (1 + min(usual, 20)) if usual else 0
        if score > most:
            best, most = each, score
    return best


def _outside_quotes(text: str) -> str:
    return re.sub(r'"[^"]*"', "", text)


def _tidy(value: str) -> str:
    return value.replace("\u00a0", " ").replace("\u202f", " ").strip()


def _unmarked(value: str) -> str:
    """Without the apostrophe that keeps a table program from taking text for a formula."""
    return value[1:] if value[:1] == "'" and value[1:2] in ("=", "+", "-", "@") else value


def _take(sheet: TableSheet, number: int, cells: list[Cell]) -> None:
    while cells and not cells[-1][1]:
        cells.pop()
    if not cells:
        return
    if len(cells) > MOST_COLUMNS:
        raise Unreadable(
            f"Row {number} has {len(cells)} columns; at most {MOST_COLUMNS} are read. Save only the columns of the "
            "table."
        )
    if len(sheet.rows) >= MOST_ROWS:
        raise Unreadable(
            f"“{sheet.name}” has more than {MOST_ROWS - 1000:,} rows. Bring in a year at a time, each in a file of "
            "its own."
        )
    for n, (_, value) in enumerate(cells):
        if len(value) > LONGEST_CELL:
            raise Unreadable(
                f"Row {number}, column {letter(n)} holds {len(value):,} characters. Most often a quote is opened and "
                "never closed: look there, and save the file anew."
            )
    sheet.rows.append((number, cells))


def letter(column: int) -> str:
    """The name of a column, counted from 0: A, B, ..., AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


# ------------------------------------------------------------------------------------------------- workbooks

_LOCKED = "The workbook cannot be opened: it is damaged or no workbook. Save it anew as .xlsx, or as CSV."


def _workbook(content: bytes) -> list[TableSheet]:
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(each.file_size for each in packed.infolist()) > LARGEST_OPENED:
                raise Unreadable("The workbook holds far more than a table. Save the sheet alone, as CSV.")
            if "xl/workbook.xml" not in packed.namelist():
                raise Unreadable(
                    "This is a packed file, but no workbook of the kind .xlsx. Save the table as CSV or XLSX."
                )
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
        names = [each for each in book.worksheets if hasattr(each, "iter_rows")]
        if len(names) > MOST_SHEETS:
            raise Unreadable(f"The workbook has more than {MOST_SHEETS} sheets. Save those with rows of their own.")
        return [_sheet(content, each) for each in names]
    except Unreadable:
        raise
    except Exception as error:  # whatever the library makes of bytes that somebody else packed
        raise Unreadable(_LOCKED) from error


def _sheet(content: bytes, source) -> TableSheet:
    sheet = TableSheet(source.title[:80], hidden=source.sheet_state != "visible")
    formulas, merged = _formulas_and_merges(content, source)
    twin = _formula_rows(content, source.title) if formulas else None
    source.reset_dimensions()  # what a file says of its own extent is often wrong
    computed = 0
    for number, row in enumerate(source.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True), 1):
        cells = [_cell(value) for value in row]
        if twin is not None:
            for n, formula in enumerate(next(twin, ())):
                if isinstance(formula, str) and formula.startswith("=") and n < len(cells):
                    computed += 1
                    if row[n] is None:
                        cells[n] = (FORMULA, formula[:80])
        _take(sheet, number, cells)
    if computed:
        sheet.notes.append(
            f"{computed} cell{'s' if computed > 1 else ''} of “{sheet.name}” "
            f"{'are formulas' if computed > 1 else 'is a formula'}; taken is what was shown when the file was last "
            "saved."
        )
    if merged and _spread(sheet, merged):
        sheet.notes.append(f"“{sheet.name}” has merged cells: what stands in one counts for each row it spans.")
    return sheet


def _cell(value) -> Cell:
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return TEXT, "yes" if value else "no"
    if isinstance(value, int):
        return NUMBER, str(value)
    if isinstance(value, float):
        # 15 digits is what such programs keep; more is noise of binary fractions.
        plain = f"{value:.15g}"
        return NUMBER, plain if "e" not in plain else f"{value:f}"
    if isinstance(value, datetime):
        if value.year < FIRST_YEAR:  # a time of day without a day, as such programs keep it
            return TIME, value.strftime("%H:%M")
        at_midnight = value.time() == time(0)
        return (DAY, value.date().isoformat()) if at_midnight else (MOMENT, value.strftime("%Y-%m-%dT%H:%M"))
    if isinstance(value, date):
        return DAY, value.isoformat()
    if isinstance(value, time):
        return TIME, value.strftime("%H:%M")
    text = _tidy(str(value))
    return (FAULT, text) if text in _FAULTS else (TEXT, text)


_FAULTS = frozenset(("#REF!", "#VALUE!", "#DIV/0!", "#N/A", "#NAME?", "#NUM!", "#NULL!"))


def _part_of(source) -> str:
    return source._worksheet_path.lstrip("/")


def _formulas_and_merges(content: bytes, source) -> tuple[bool, list[tuple[int, int, int, int]]]:
    """Whether the sheet has formulas, and its merged areas: first row and column, last row and column, from 1 on."""
    formulas, merged, tail = False, [], b""
    with zipfile.ZipFile(io.BytesIO(content)) as packed, packed.open(_part_of(source)) as part:
        while block := part.read(1 << 20):
            seen = tail + block
            formulas = formulas or b"<f>" in seen or b"<f " in seen
            merged += [found for found in _MERGED.findall(seen) if found not in merged[-4:]]
            tail = seen[-200:]
            if len(merged) > MOST_ROWS:
                raise Unreadable("The sheet has more merged cells than a table needs. Save it as CSV.")
    areas = [(int(b), _column(a), int(d), _column(c)) for a, b, c, d in merged]
    return formulas, sorted(set(areas))


_MERGED = re.compile(rb'<mergeCell ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')


def _column(name: bytes) -> int:
    number = 0
    for each in name:
        number = number * 26 + each - 64
    return number


def _formula_rows(content: bytes, title: str) -> Iterator[tuple]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
    source = book[title]
    source.reset_dimensions()
    return source.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True)


def _spread(sheet: TableSheet, merged: list[tuple[int, int, int, int]]) -> bool:
    """Let what stands in the first row of a merged area stand in each of its rows, in its first column."""
    by_number = dict(sheet.rows)
    spread = False
    for first, column, last, _ in merged:
        cells = by_number.get(first)
        if last == first or cells is None or column > len(cells) or last - first > MOST_ROWS:
            continue
        value = cells[column - 1]
        for number in range(first + 1, last + 1):
            row = by_number.get(number)
            if row is None:
                continue  # a row that holds nothing of its own says nothing
            row.extend([NOTHING] * (column - len(row)))
            if not row[column - 1][1]:
                row[column - 1] = value
                spread = True
    return spread


# ------------------------------------------------------------------------------------------------- kept as read


def packed(sheets: list[TableSheet]) -> bytes:
    """The sheets as JSON, a row a line, for keeping. A cell of text is its text, any other [kind, text]."""
    lines = []
    for sheet in sheets:
        lines.append(json.dumps({"name": sheet.name, "hidden": sheet.hidden, "notes": sheet.notes}))
        lines += [
            json.dumps([number, [text if kind == TEXT else [kind, text] for kind, text in cells]], ensure_ascii=False)
            for number, cells in sheet.rows
        ]
    return "\n".join(lines).encode("utf-8", "replace")


def rows_of(kept: bytes, name: str) -> Iterator[tuple[int, list[Cell]]]:
    """The rows of the sheet of that name out of what `packed` kept, one after the other."""
    here = False
    for line in io.BytesIO(kept):
        said = json.loads(line)
        if isinstance(said, dict):
            here = said["name"] == name
        elif here:
            yield said[0], _cells(said[1])


def _cells(said: list) -> list[Cell]:
    return [(TEXT, each) if isinstance(each, str) else (each[0], each[1]) for each in said]


def unpacked(kept: bytes) -> list[TableSheet]:
    """What `packed` kept."""
    sheets: list[TableSheet] = []
    for line in kept.decode().split("\n"):
        said = json.loads(line)
        if isinstance(said, dict):
            sheets.append(TableSheet(said["name"], said["hidden"], notes=said["notes"]))
        else:
            sheets[-1].rows.append((said[0], _cells(said[1])))
    return sheets
