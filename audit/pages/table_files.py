"""A table as a file that table programs open: commas (CSV) or a workbook (XLSX).

What others typed never becomes a formula there: in a file of commas it gets an apostrophe before it, in a workbook it
is a cell of text. Source of the characters: OWASP, CSV injection (from memory).
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from datetime import date
from io import BytesIO, StringIO

from django.http import HttpResponse

from records import clock
from records.writing.preferences import current, day_text

CSV, XLSX = KINDS = ("csv", "xlsx")
_TYPES = {CSV: "text/csv; charset=utf-8", XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
# As `preferences.DAY_STYLES` writes days, in the words of a workbook.
_DAY_FORMATS = {
    "dMy": "d mmm yyyy",
    "Mdy": "mmm d, yyyy",
    "ymd": "yyyy-mm-dd",
    "mdy": "mm/dd/yyyy",
    "dmy": "dd/mm/yyyy",
}
_WIDEST = 60  # characters of a column


def plain(value) -> str:
    """As text that a table program takes for text: what would begin a formula there gets an apostrophe."""
    text = "" if value is None else f"{value}".replace("\u00a0", " ")
    return f"'{text}" if text[:1] in _BEGINS_FORMULA else text


def table_file(kind: str, name: str, heads: Sequence[str], rows: Iterable[Sequence]) -> HttpResponse:
    """The table as a file to be kept. Cells are text, days, whole numbers, or None for nothing.

    `kind` is csv, where days are written as who asks writes them, or xlsx, where days are days and numbers numbers.
    `name` is that of the file without its ending, and of the sheet.
    """
    body = csv_of(heads, rows) if kind == CSV else workbook(name, heads, rows)
    answer = HttpResponse(body, content_type=_TYPES[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    answer["Cache-Control"] = "private, no-store"
    return answer


def csv_of(heads: Sequence[str], rows: Iterable[Sequence]) -> bytes:
    text = StringIO()
    table = csv.writer(text)
    table.writerow([plain(head) for head in heads])
    for row in rows:
        table.writerow([day_text(cell) if isinstance(cell, date) else plain(cell) for cell in row])
    return ("\ufeff" + text.getvalue()).encode()


def workbook(name: str, heads: Sequence[str], rows: Iterable[Sequence]) -> bytes:
    """A workbook of one sheet, its first row the heads."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    rows = [list(row) for row in rows]
    book = Workbook(write_only=True)
    book.properties.created = book.properties.modified = clock.now().replace(tzinfo=None, microsecond=0)
    book.properties.creator = "Unit standing"
    sheet = book.create_sheet(name[:31])
    sheet.freeze_panes = "A2"
    for n, head in enumerate(heads):
        widest = max((len(str(row[n] or "")) for row in rows), default=0)
        sheet.column_dimensions[get_column_letter(n + 1)].width = min(max(len(head), widest) + 2, _WIDEST)
    format_of_days, bold = _DAY_FORMATS[current().days], Font(bold=True)

    def cell(value, font=None):
        made = WriteOnlyCell(sheet, _seen(value))
        if isinstance(value, date):
            made.number_format = format_of_days
        elif isinstance(value, str):
            made.data_type, made.quotePrefix = "s", value[:1] in _BEGINS_FORMULA
        if font:
            made.font = font
        return made

    sheet.append([cell(head, bold) for head in heads])
    for row in rows:
        sheet.append([None if value in (None, "") else cell(value) for value in row])
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def _seen(value):
    """Without the characters that a workbook cannot hold and nobody sees."""
    if not isinstance(value, str):
        return value
    return "".join(c for c in value.replace("\u00a0", " ") if ord(c) >= 32 or c in "\t\n\r")
