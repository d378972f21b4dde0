"""What a cell of a foreign table says: a day, a time, a number, a word. Pure.

Each reading says what is wrong and the way out (`Odd`), and guesses nothing that has two meanings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import lru_cache

from records.files.table_file import DAY, FAULT, FORMULA, MOMENT, NUMBER, TEXT, TIME, Cell
from records.wording import SHORT_MONTHS, WEEKDAYS

DAY_FIRST, MONTH_FIRST = "day first", "month first"
ORDERS = (DAY_FIRST, MONTH_FIRST)
POINT, COMMA = DECIMALS = (".", ",")


class Odd(ValueError):
    """The cell cannot be read as what its column holds: why, and the way out."""


def text_of(cell: Cell) -> str:
    """As text. Raises Odd for a formula without a value and for a fault that the table program shows."""
    kind, text = cell
    if kind == FORMULA:
        raise Odd(
            f"The cell holds the formula {text} and no value. Open the file in its program, save it there, and "
            "choose it again; or type the value."
        )
    if kind == FAULT:
        raise Odd(f"The cell shows {text}, a fault of its formula. Put it right in the file, or type the value.")
    if kind == MOMENT:
        return text.replace("T", " ")
    return text


# ------------------------------------------------------------------------------------------------ days and times

_WEEKDAY = re.compile(rf"^(?:{'|'.join(f'{name[:3]}[a-z]*' for name in WEEKDAYS)})\.?,?\s+", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_NAMED = re.compile(
    r"(?:(\d{1,2})(?:st|nd|rd|th)?[\s.-]+([A-Za-z]{3,9})\.?|([A-Za-z]{3,9})\.?[\s-]+(\d{1,2})(?:st|nd|rd|th)?)"
    r"[,\s-]+(\d{4}|\d{2})"
)
_NUMBERS = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})")
_WITH_TIME = re.compile(r"(.*\d)(?:[T,]\s*|\s+)(\d{1,2}[:.h]\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[AaPp]\.?[Mm]\.?)?)")
_MONTHS = {name.casefold(): n for n, name in enumerate(SHORT_MONTHS, 1)}


def day_of(cell: Cell, order: str) -> tuple[date, str]:
    """The day, and the time of day that stands with it ("" for none). `order` is of ORDERS, "" while none was chosen.

    A day in numbers is read in that order, with dots always the day first. A year of two digits lies in this century.
    Raises Odd.
    """
    kind, text = cell[0], text_of(cell)
    if kind in (DAY, MOMENT):
        return date.fromisoformat(cell[1][:10]), cell[1][11:16]
    if kind == NUMBER and re.fullmatch(r"\d{8}", text):
        text = f"{text[:4]}-{text[4:6]}-{text[6:]}"
    elif kind == NUMBER or kind == TIME:
        raise Odd(
            f"“{text}” is a number, not a day. Give the column the format of days in its program, or write "
            "year-month-day."
        )
    said = _WEEKDAY.sub("", text.strip())
    clock = ""
    if found := _WITH_TIME.fullmatch(said):
        said, clock = found[1].rstrip(" ,T"), time_text(found[2])
    return _day(said, text, order), clock


def _day(said: str, text: str, order: str) -> date:
    try:
        if found := _YEAR_FIRST.fullmatch(said):
            return date(int(found[1]), int(found[3]), int(found[4]))
        if found := _NAMED.fullmatch(said):
            month = _MONTHS.get((found[2] or found[3])[:3].casefold())
            if month:
                return date(_year(found[5]), month, int(found[1] or found[4]))
        if found := _NUMBERS.fullmatch(said):
            return _in_order(found, order)
    except Odd:
        raise
    except ValueError:
        raise Odd(f"“{text}” is no day of the calendar. Look at the paper, and write year-month-day.") from None
    raise Odd(f"“{text}” cannot be read as a day. Write year-month-day, such as 2026-03-31.")


def _in_order(found: re.Match, order: str) -> date:
    first, second, year = int(found[1]), int(found[3]), _year(found[4])
    if found[2] == ".":
        order = DAY_FIRST
    if not order:
        raise Odd(f"“{found[0]}” is two days to two people. Choose which number is the day, or write year-month-day.")
    day, month = (first, second) if order == DAY_FIRST else (second, first)
    try:
        return date(year, month, day)
    except ValueError:
        raise Odd(
            f"“{found[0]}” is no day with the {order}. Correct it in the file, as year-month-day, or choose the "
            "other order for the whole file."
        ) from None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def order_in(cells: Iterable[Cell]) -> tuple[str, bool]:
    """The order that days in numbers show, "" where none does or they disagree; and whether any needs one."""
    seen, needs = set(), False
    for kind, text in cells:
        said = _WEEKDAY.sub("", text.strip()) if kind == TEXT else ""
        found = _NUMBERS.match(said)
        if not found or found[2] == ".":
            continue
        needs = True
        first, second = int(found[1]), int(found[3])
        if first > 12 >= second:
            seen.add(DAY_FIRST)
        elif second > 12 >= first:
            seen.add(MONTH_FIRST)
    return (seen.pop() if len(seen) == 1 else ""), needs


_CLOCK = re.compile(r"(\d{1,2})\s*(?:[:.h]\s*(\d{2}))?(?::\d{2}(?:\.\d+)?)?\s*([AaPp]\.?[Mm]\.?)?")


def time_of(cell: Cell) -> str:
    """The time of day as HH:MM; "" for a blank one. Raises Odd."""
    kind, text = cell[0], text_of(cell)
    if kind == MOMENT:
        return cell[1][11:16]
    if kind == TIME or not text:
        return text
    if re.fullmatch(r"\d{3,4}", text):
        text = f"{text[:-2]}:{text[-2:]}"
    return time_text(text)


def time_text(text: str) -> str:
    """As HH:MM. Raises Odd."""
    found = _CLOCK.fullmatch(text.strip())
    if found and (found[2] or found[3]):
        hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "")[:1].casefold()
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "p" else 0)
        elif half:
            hour = 99
        if hour < 24 and minute < 60:
            return f"{hour:02}:{minute:02}"
    raise Odd(f"“{text}” cannot be read as a time of day. Write hours:minutes, such as 14:30, or leave it blank.")


# ------------------------------------------------------------------------------------------------ numbers

_NUMBER = re.compile(r"([-+\u2212]?[\d.,'\u2019 ]*\d)\s*(.*)")


def number_of(cell: Cell, decimal: str) -> tuple[Decimal | None, str]:
    """The number, None for a blank cell, and the unit that stands behind it ("" for none). Raises Odd.

    `decimal` is the sign of its decimals; the other one may stand only between groups of three digits.
    """
    kind, text = cell[0], text_of(cell)
    if not text:
        return None, ""
    if kind == NUMBER:
        return Decimal(text), ""
    found = _NUMBER.fullmatch(text) if kind == TEXT else None
    plain = _plain(found[1].replace("\u2212", "-"), decimal) if found else None
    if plain is None:
        other = COMMA if decimal == POINT else POINT
        hint = f" Decimals are read with “{decimal}”: choose “{other}” for the file if it has that." if (
            found and other in found[1]
        ) else ""  # fmt: skip
        raise Odd(f"“{text}” is not a number.{hint} Write digits alone, or leave the cell blank.")
    return plain, found[2].strip()


def _plain(digits: str, decimal: str) -> Decimal | None:
    other = COMMA if decimal == POINT else POINT
    whole, _, rest = digits.partition(decimal)
    groups = re.split(rf"[{re.escape(other)}'\u2019 ]", whole.lstrip("+-"))
    if len(groups) > 1 and not (1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])):
        return None
    sign = "-" if whole.startswith("-") else ""
    try:
        return Decimal(f"{sign}{''.join(groups) or '0'}{f'.{rest}' if rest else ''}")
    except InvalidOperation:
        return None


def decimal_in(cells: Iterable[Cell]) -> str:
    """The sign of decimals that the numbers show; "" where none does, or they disagree."""
    seen = set()
    for kind, text in cells:
        if kind == TEXT and (found := re.fullmatch(r"[-+]?\d+([.,])(\d+)\D*", text)):
            if len(found[2]) != 3:
                seen.add(found[1])
    return seen.pop() if len(seen) == 1 else ""


# ------------------------------------------------------------------------------------------------ words


@lru_cache(maxsize=4096)
def bare(text: str) -> str:
    """A head or a word without capitals, brackets and what stands in them, signs and spare blanks."""
    without = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", text)
    return " ".join(re.sub(r"[^\w%°+]+", " ", without.casefold()).replace("_", " ").split())


YES, NO = ("yes", "y", "x", "true", "1", "✓", "✔"), ("", "no", "n", "false", "0", "-", "–")


def tick_of(cell: Cell) -> bool:
    """Yes or no; blank is no. Raises Odd."""
    said = text_of(cell).casefold()
    if said in YES:
        return True
    if said in NO:
        return False
    raise Odd(f"“{text_of(cell)}” is neither yes nor no. Write one of them.")
