"""Broken tables, seeded: `python -m tests.faults.tables 5000 --seed 1` says what became of them.

Each is a good table with some of its bytes changed, cut off or doubled, or with cells of other tables put into it. It
is read, its columns are proposed and its rows are read, as pages do before the record is asked. A traceback counts as
a fault, and so does a cell of a row that went nowhere: neither into what is typed, nor to a fault, nor to what is
left out with a reason.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import traceback
import uuid
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from types import SimpleNamespace

HEADS = ["Sterilizer", "Date", "Time", "Lot", "Control lot", "Program", "Cycle no", "Date read", "Result", "Control",
         "Temp (°F)", "Exposure", "Gauges", "Strip", "Released", "Operator", "Notes"]  # fmt: skip
ODD = [
    "", " ", "=1+1", "@SUM(A1)", "#REF!", "03/04/2025", "31.02.2025", "13/13/13", "2025-03-04 25:61", "-", "−3,5",
    "1.2.3", "1e999", "NaN", "∞", "99999999999999999999", "1,234", "pass?", "Total", "total failures", "\u202e",
    "\x00", "\x1b", "x" * 3000, '"', "';--", "\t", "\n", "Ünit", "٣", "½", "0x10", "TRUE", "12:60 pm", "000",
    "4-Foo-25", "1/1/0000", "9999-12-31", "0001-01-01", "Unit 1", "-0", "+5", "5 psi", "270 °F", "1 000", "°",
]  # fmt: skip


@dataclass
class Told:
    """What became of each, and every fault with its seed."""

    what: Counter = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def rows(chance: random.Random, count: int = 8) -> list[list]:
    found: list[list] = [list(HEADS)]
    for n in range(count):
        day = date(2025, 1, 6) + timedelta(days=7 * n)
        found.append([
            "Unit 1", chance.choice([day, f"{day:%d/%m/%Y}", f"{day:%b %d, %Y}", datetime.combine(day, time(8))]),
            chance.choice([time(8, 30), "8:30", "2:30 PM"]), "B-100", "B-100", "wrapped", 100 + n, day,
            "negative", "positive", 270.5, "4,5", "pass", "pass", "released", "Ann Old", "",
        ])  # fmt: skip
    for _ in range(chance.randrange(6)):
        row = chance.choice(found)
        row[chance.randrange(len(row))] = chance.choice(ODD)
    if chance.random() < 0.3:
        found.insert(chance.randrange(len(found)), chance.choice(([], ["Total", "", 8], HEADS, ODD[:9])))
    return found


def as_text(table: list[list], chance: random.Random) -> bytes:
    sign, quote = chance.choice(",;\t|"), chance.choice(['"', ""])
    lines = [sign.join(f"{quote}{cell}{quote}" for cell in row) for row in table]
    text = chance.choice(["\n", "\r\n", "\r"]).join(lines)
    return text.encode(chance.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"]), "replace")


def as_workbook(table: list[list], chance: random.Random) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    for n, row in enumerate(table, 1):
        for column, cell in enumerate(row, 1):
            text = "".join(c for c in cell if ord(c) >= 32) if isinstance(cell, str) else cell
            book.active.cell(n, column, text)
    if chance.random() < 0.5:
        book.active.merge_cells(f"A{chance.randrange(1, 5)}:{chance.choice('ABC')}{chance.randrange(5, 9)}")
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def broken(content: bytes, chance: random.Random) -> bytes:
    """Some bytes changed, cut off or doubled; half of them stay whole."""
    how = chance.choice(["whole", "whole", "whole", "bytes", "cut", "twice", "middle"])
    if how == "bytes":
        changed = bytearray(content)
        for _ in range(chance.randrange(1, 12)):
            changed[chance.randrange(len(changed))] = chance.randrange(256)
        return bytes(changed)
    at = chance.randrange(len(content))
    return {
        "whole": content, "cut": content[:at], "twice": content + content,
        "middle": content[:at] + content[at + chance.randrange(1, 400) :],
    }[how]  # fmt: skip


def ground():
    """Stands for a clinic: one unit, one box. No database is asked."""
    unit = SimpleNamespace(ref=uuid.UUID(int=1), label="Unit 1", serial="INV-1")
    box = SimpleNamespace(ref=uuid.UUID(int=2), lot="B-100")
    return SimpleNamespace(units=lambda: [unit], indicator_lots=lambda kind: [box])


def one(seed: int) -> str:
    """What became of the table of that seed: refused, or how its rows were. Raises whatever goes wrong."""
    from records.brought.kinds import KINDS
    from records.brought.mapping import best_sheet, body, missing, propose, unclear
    from records.brought.rows import RowReader
    from records.files import table_file

    chance = random.Random(seed)
    made = chance.choice([as_text, as_text, as_text, as_workbook])(rows(chance), chance)
    try:
        sheets = table_file.read(broken(made, chance), "a table")
    except table_file.Unreadable as refused:
        assert ". " in str(refused), "a refusal says the way out"
        return "refused"
    assert table_file.unpacked(table_file.packed(sheets)) == sheets
    kind = KINDS[chance.choice(sorted(KINDS))]
    sheet = best_sheet(kind, sheets)
    mapping = propose(kind, sheet)
    asked = [*missing(mapping), *unclear(mapping, sheet)]
    reader = RowReader(ground(), mapping, "Old Hand")
    table = list(body(sheet, mapping))
    told = list(reader.rows(table))
    assert len(told) + len(reader.left_out) == len(table)
    for row in told:
        _nothing_is_swallowed(row, mapping)
    return "asked" if asked else "faulty" if any(row.faults for row in told) else "right"


def _nothing_is_swallowed(row, mapping) -> None:
    from records.brought.kinds import READING

    at_fault = {fault.column for fault in row.faults}
    for name, n in mapping.columns.items():
        if n >= len(row.cells) or not row.cells[n][1] or mapping.table.columns[name].kind == "tick":
            continue
        from records.files.table_file import letter

        data = row.reading if name.startswith(READING) else row.data
        gone = name.removeprefix(READING) not in data and letter(n) not in at_fault
        # A test that is not read yet has a day and a name of reading that say nothing.
        assert not gone or name in (READING + "on", READING + "read_by"), (row.number, name, row.cells[n])


def run(count: int, seed: int = 1) -> Told:
    """So many tables, each by its own seed."""
    told = Told()
    for n in range(count):
        try:
            told.what[one(seed * 1_000_003 + n)] += 1
        except Exception:
            told.faults.append(f"seed {seed * 1_000_003 + n}: {traceback.format_exc(limit=-4)}")
    return told


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    import django

    django.setup()
    told = run(asked.count, asked.seed)
    print(dict(told.what), f"{len(told.faults)} faults")
    for fault in told.faults[:10]:
        print(fault)


if __name__ == "__main__":
    main()
