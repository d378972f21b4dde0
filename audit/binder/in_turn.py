"""What is said of several units, told once: the same together, the same words with other numbers in turn."""

from __future__ import annotations

import re
from collections.abc import Sequence

from audit.binder.named_units import units_words
from audit.binder.written_on_paper import NO_BREAK
from records.wording import SHORT_MONTHS

_NUMBER = re.compile(r"\d{1,2}\u00a0[A-Z][a-z][a-z]\u00a0\d{4}|\d+(?:[.,]\d+)*")
_NAMED = 6  # units whose numbers are told one by one; of more the least and the most
_MOST = 2  # numbers in turn; more are harder to read than a line each
_MOST_OF_MANY = 4  # where the least and the most are told
_LEAST = 12  # letters of a clause that is told by itself


def in_turn(texts: Sequence[str]) -> str | None:
    """The texts as one, each number that differs told for each of them in turn; None where their words differ.

    >>> in_turn(["8 of 9 loads", "6 of 9 loads"])
    '8 and 6 of 9 loads'
    """
    if len({_NUMBER.sub("\0", text) for text in texts}) != 1:
        return None
    columns = list(zip(*(_NUMBER.findall(text) for text in texts), strict=True))
    if sum(len(set(column)) > 1 for column in columns) > (_MOST if len(texts) <= _NAMED else _MOST_OF_MANY):
        return None
    told = iter(columns)
    return _NUMBER.sub(lambda _: _joined(next(told)), texts[0])


def _joined(column: Sequence[str]) -> str:
    if len(set(column)) == 1:
        return column[0]
    worths = [_worth(each) for each in column] if len(column) > _NAMED else [None]
    if None not in worths:
        in_order = sorted(zip(worths, column, strict=True))
        return f"{in_order[0][1]} to {in_order[-1][1]}"
    return f"{', '.join(column[:-1])} and {column[-1]}"


def _worth(text: str) -> tuple[int, ...] | None:
    """What a day or a number is put in order by; None for what is neither, such as 1.2.3."""
    if NO_BREAK in text:
        on, name, year = text.split(NO_BREAK)
        return (int(year), SHORT_MONTHS.index(name), int(on)) if name in SHORT_MONTHS else None
    whole, *rest = text.replace(",", "").split(".")
    return (int(whole), int(rest[0].ljust(6, "0")) if rest else 0) if len(rest) < 2 else None


def sentences(text: str) -> list[str]:
    """The sentences of a text, each with its full stop."""
    return [each for each in re.split(r"(?<=[.!?]) (?=[A-Z0-9])", text) if each]


def clauses(text: str) -> list[str]:
    """What semicolons part, but for numbers that only go on a list; each ends in ";" but the last."""
    found: list[str] = []
    for part in text.split("; "):
        if found and sum(map(str.isalpha, part)) < _LEAST:
            found[-1] += f"; {part}"
        else:
            found.append(part)
    return [f"{each};" for each in found[:-1]] + found[-1:]


def told_of(said: Sequence[tuple[str, Sequence[str]]], *, of_all: bool) -> str:
    """What is said of units, as lines: `said` are (label, what is said of it, in parts), the label "" for the place.

    A part that comes in one wording is told once, with the names of its units before it; without them where it is
    said of all of them and `of_all` says that no unit is left.
    """
    groups: dict[tuple[str, int], list[tuple[str, str]]] = {}
    for label, parts in said:
        seen: dict[str, int] = {}
        for part in parts:
            words = _NUMBER.sub("\0", part)
            seen[words] = seen.get(words, 0) + 1
            groups.setdefault((words, seen[words]), []).append((label, part))
    lines: list[tuple[tuple[str, ...], list[str]]] = []
    for each in groups.values():
        for labels, text in _as_few(each):
            if lines and lines[-1][0] == labels:
                lines[-1][1].append(text)
            else:
                lines.append((labels, [text]))
    everyone = tuple(label for label, _ in said)
    return "\n".join(_line(labels, texts, of_all and labels == everyone) for labels, texts in lines)


def _as_few(each: list[tuple[str, str]]) -> list[tuple[tuple[str, ...], str]]:
    merged = in_turn([text for _, text in each])
    if merged is not None:
        return [(tuple(label for label, _ in each), merged)]
    return [((label,), text) for label, text in each]


def _line(labels: tuple[str, ...], texts: list[str], plain: bool) -> str:
    who = units_words([label for label in labels if label])
    text = " ".join(texts).rstrip(";")
    return text if plain or not who else f"{who}: {text}"
