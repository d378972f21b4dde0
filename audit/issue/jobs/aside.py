"""The rows of a table that are wrong or were set aside, as a file to be mended and brought in anew.

Its heads are those of the table, so that its columns are known by then; what is wrong with a row stands last.
"""

from __future__ import annotations

import csv
from io import StringIO

from audit.models import BroughtTable
from records.brought.mapping import ASIDE_HEADS, Mapping, body

from .tables import sheet_of, why_wrong

_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def csv_of_aside(table: BroughtTable) -> bytes:
    """Comma-separated, UTF-8 with its mark. Only rows; those that were left out as no rows are not among them."""
    mapping = Mapping.from_json(table.mapping)
    sheet = sheet_of(table, mapping)
    why = why_wrong(table.found) | {int(row): said for row, said in table.aside.items()}
    width = max(len(mapping.heads), *(len(row) for _, row in sheet.rows))
    text = StringIO()
    out = csv.writer(text)
    heads = [*mapping.heads, *[""] * (width - len(mapping.heads))]
    out.writerow([_plain(head) for head in [*heads, *ASIDE_HEADS]])
    for number, row in body(sheet, mapping):
        if number in why:
            texts = [cell[1] for cell in row] + [""] * (width - len(row))
            out.writerow([_plain(value) for value in [*texts, str(number), why[number]]])
    return ("\ufeff" + text.getvalue()).encode()


def _plain(text: str) -> str:
    """As text that a table program takes for text: what would begin a formula there gets an apostrophe.

    A negative number stays a number, so that it can be brought in again.
    """
    number = text[:1] in "+-" and text[1:2].isdigit()
    return f"'{text}" if text[:1] in _BEGINS_FORMULA and not number else text
