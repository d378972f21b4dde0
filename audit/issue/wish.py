"""What binder is asked for: one value from the form and the command to the bytes. Light, for pages import it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from audit.binder.sections import INSPECTOR


@dataclass(frozen=True, slots=True)
class Wish:
    """`from_on` and `to_on` are inclusive; `page` is one of `audit.binder.pdf.page.SIZES`, `extent` of
    `audit.binder.sections.EXTENTS`.

    `as_of` is the day judged; None is the clinic's own day of `known_at`, which is None for all that is on record.
    What is put on the queue names its day.
    """

    from_on: date
    to_on: date
    as_of: date | None = None
    known_at: datetime | None = None
    page: str = "letter"
    extent: str = INSPECTOR
