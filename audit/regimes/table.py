"""One table of a rules file: hands out its keys, each checked, and refuses those that nobody asked for."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import NoReturn, TypeVar

from audit.regimes.source import MEMORY, PRACTICE, Source

from .model import GRADES, RegimeError

V = TypeVar("V")
MOST_WORDS = 25  # of a text that belongs to somebody else
NO_SOURCE = f"{PRACTICE}, no source"

_KIND_WORDS = {
    str: "text",
    int: "a whole number",
    bool: "true or false",
    list: "a list",
    dict: "a table",
    date: "a day",
}


class RegimeTable:
    """One table of a file: hands out its keys, each checked, and refuses those nobody asked for."""

    def __init__(self, file: str, at: str, raw: object, sources: dict[Source, str]):
        self.file, self.at, self.sources = file, at, sources
        self.asked: set[str] = set()
        if not isinstance(raw, dict):
            raise RegimeError(file, at, f"is {raw!r}", "It must be a table")
        self.raw: dict = raw

    def fail(self, key: str, what: str, way_out: str) -> NoReturn:
        """Refuse the file for this key ("" for the table itself): always raises RegimeError, with the way out."""
        raise RegimeError(self.file, self.name(key), what, way_out)

    def name(self, key: str) -> str:
        """The key as an error names it."""
        return f"{self.at}.{key}" if self.at and key else self.at or key

    def get(self, key: str, kind: type[V], default: V | None = None, among: Collection | None = None) -> V:
        """The value; without a default it must be there. Numbers are never negative, needed texts never empty."""
        self.asked.add(key)
        value = self.raw.get(key, default)
        if value is None:
            self.fail(key, "is missing", f"Add it ({_KIND_WORDS[kind]})")
        if type(value) is not kind:
            self.fail(key, f"is {value!r}", f"It must be {_KIND_WORDS[kind]}")
        if kind is int and value < 0:
            self.fail(key, f"is {value}", "It must not be negative")
        if kind is str and default is None and not value.strip():
            self.fail(key, "is empty", "Write it out")
        if among is not None and value not in among:
            self.fail(key, f"is {value!r}", f"Use one of: {', '.join(a or '(empty)' for a in among)}")
        return value

    def words(self, key: str, among: Collection | None = None) -> tuple[str, ...]:
        """A list of texts, without any twice."""
        out = tuple(self.get(key, list, []))
        for n, one in enumerate(out):
            if not isinstance(one, str) or not one.strip():
                self.fail(f"{key}[{n}]", f"is {one!r}", "It must be text")
            if among is not None and one not in among:
                self.fail(key, f"names {one!r}", f"Use some of: {', '.join(among)}")
            if one in out[:n]:
                self.fail(key, f"names {one!r} twice", "Name it once")
        return out

    def tables(self, key: str) -> list[RegimeTable]:
        """A list of tables."""
        rows = self.get(key, list, [])
        return [RegimeTable(self.file, self.name(f"{key}[{n}]"), row, self.sources) for n, row in enumerate(rows)]

    def named(self, key: str) -> dict[str, RegimeTable]:
        """A table of tables, by name."""
        rows = self.get(key, dict, {})
        return {n: RegimeTable(self.file, self.name(f"{key}.{n}"), row, self.sources) for n, row in rows.items()}

    def table(self, key: str) -> RegimeTable:
        """The table under that key, which must be there. Raises RegimeError."""
        return RegimeTable(self.file, self.name(key), self.get(key, dict), self.sources)

    def source(self) -> Source:
        """Citation, day checked and grade, all three asked of every rule; noted among the sources of the file.

        With it the decisive words, where the table has them; or, from memory, why no text could be read, which must
        be said. Raises RegimeError.
        """
        checked = self.get("checked_on", date)
        out = Source(self.get("citation", str), checked.isoformat(), self.get("grade", str, among=GRADES))
        if (out.grade == PRACTICE) > (NO_SOURCE in out.citation):
            self.fail("citation", "names no rule of the trade", f"Say which part is “{NO_SOURCE}”")
        words, before = self._decisive(out.grade) or self._unread(out.grade), self.sources.get(out, "")
        if words and before and words != before:
            self.fail("decisive", "differs from that of another rule with this citation", "Name the clause of each")
        self.sources[out] = words or before
        return out

    def _decisive(self, grade: str) -> str:
        """The words of the source that decide, with a translation if they need one, or "". Raises RegimeError."""
        words, english = self.get("decisive", str, ""), self.get("in_english", str, "")
        if words and grade == MEMORY:
            self.fail("decisive", "stands beside a rule from memory", "Words that were seen ask a grade above it")
        if english and not words:
            self.fail("in_english", "translates nothing", "Add the words of the source as decisive")
        if (length := len(words.split())) > MOST_WORDS:
            self.fail("decisive", f"has {length} words", f"Quote {MOST_WORDS} at most")
        return f"“{words}”" + (f" (in English: {english})" if english else "") if words else ""

    def _unread(self, grade: str) -> str:
        """Why no text could be read of what is from memory, "" of every other grade. Raises RegimeError."""
        if grade == MEMORY:
            return self.get("unread", str)
        if "unread" in self.raw:
            self.fail("unread", f"stands beside the grade {grade!r}", "It is for what is from memory")
        return ""

    def close(self) -> None:
        """Nothing may be left that was not asked for. Raises RegimeError."""
        unknown = sorted(set(self.raw) - self.asked)
        if unknown:
            self.fail(unknown[0], "is not a key known here", f"Use one of: {', '.join(sorted(self.asked))}")
