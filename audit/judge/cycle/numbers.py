"""Cells as exact whole numbers: what counts as a number, and a column of them at once.

The common case goes through floats and comes out exact: a cell of at most six decimals below 2 ** 51 millionths is
the nearest float times a million to less than a half, and rounding gives the number that was written. Anything else
goes cell by cell through whole numbers of any size.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

BLANKS = " \t"
_PLAIN = 6  # decimals of the common case
_SCALE = 10**_PLAIN
_SURE = float(2**51)
_MOST_DIGITS = 100  # of one cell; no instrument gives more, and arithmetic on more takes for ever
_PLAIN_MARKS = b"0123456789.+-\n"
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)
_NOT_BETWEEN_DIGITS = (b"\n.", b"+.", b"-.", b".\n", b"." + b"0" * (_PLAIN + 1))
_POINT = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?", re.ASCII)
_EITHER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?", re.ASCII)
_WHOLE = re.compile(r"[+-]?[0-9]+", re.ASCII)

Scaled = tuple[int, int]  # a whole number and how many decimals it counts


class NoNumber(ValueError):
    """A text that is no number of the form; the message says what is wrong with it."""


def scaled(cell: str, comma: bool) -> Scaled:
    """A filled cell without blanks around it, exactly. `comma` says that a decimal comma may stand in it.

    Raises NoNumber.
    """
    if not (_EITHER if comma else _POINT).fullmatch(cell):
        raise NoNumber(f"“{_short(cell)}” is no number: digits with at most one decimal mark between them")
    whole, _, part = cell.replace(",", ".").partition(".")
    if len(cell) > _MOST_DIGITS:
        raise NoNumber(f"a number of {len(cell)} characters is no reading: at most {_MOST_DIGITS} are read")
    return int(whole + part), len(part)


def number(text: str, comma: bool) -> Fraction:
    """As `scaled`, as a fraction."""
    digits, places = scaled(text, comma)
    return Fraction(digits, 10**places)


def is_whole(text: str) -> bool:
    """Whether a text is a whole number: an optional sign and digits."""
    return _WHOLE.fullmatch(text) is not None


def plain_column(cells: Sequence[str], comma: bool) -> tuple[np.ndarray, np.ndarray | None] | None:
    """Millionths of each cell (int64) and which cells are filled (None: all); None where it is no common case.

    A column that is not in the form always gives None.
    """
    joined = "\n".join(cells)
    if comma and "," in joined:
        joined = joined.replace(",", ".")
        cells = joined.split("\n")
    marks = f"\n{joined}\n".encode()
    if marks.translate(None, _PLAIN_MARKS):
        return None
    marks = marks.translate(_DIGITS_ALIKE)
    if any(odd in marks for odd in _NOT_BETWEEN_DIGITS):
        return None
    try:
        if all(cells):
            values, there = np.array([*map(float, cells)]), None
        else:
            values = np.array([float(cell) if cell else 0.0 for cell in cells])
            there = np.array([*map(bool, cells)])
    except ValueError:
        return None
    values *= _SCALE
    if not np.abs(values).max() < _SURE:
        return None
    return np.rint(values).astype(np.int64), there


def whole_numbers(values: Sequence[int]) -> np.ndarray:
    """As int64 where that holds them with room to spare for sums and differences, else as Python's own."""
    small = all(-(2**60) < value < 2**60 for value in values)
    return np.array(values, dtype=np.int64 if small else object)


PLAIN_SCALE = _SCALE


def _short(cell: str) -> str:
    return cell if len(cell) <= 40 else cell[:37] + "…"
