"""Days, counts and sentences of judgement as mails and calendars write them: as on paper, with plain spaces."""

from __future__ import annotations

from datetime import date

from audit.binder import written_on_paper as paper


def day(value: date | None) -> str:
    """A day: 9 Mar 2026; "no day on record" for None."""
    return paper.plain(paper.day(value))


def dated(sentence: str) -> str:
    """The sentence with its ISO days in the words of `day`."""
    return paper.plain(paper.dated(sentence))


def counted(count: int, one: str) -> str:
    """1 visit, 2 visits."""
    return paper.plain(paper.counted(count, one))
