"""What a device says about when something was written on it, and how far that is believed.

A form that is filled in without a signal is sent later. The device's own clock then says when it was written. That is
a claim: it decides only whether an entry counts as late, and the time of recording stands beside it unchanged.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from records.late import NEVER_LATE

# As long as a device keeps pages; what says it waited longer counts from the moment it is recorded.
BELIEVED_FOR = timedelta(days=14)

_claimed: ContextVar[datetime | None] = ContextVar("written_on_device", default=None)


@contextmanager
def written(claimed: datetime | None) -> Iterator[None]:
    """Everything logged inside was written on a device at `claimed` (aware), as the device says; None: not said."""
    token = _claimed.set(claimed)
    try:
        yield
    finally:
        _claimed.reset(token)


def read_moment(text: str) -> datetime | None:
    """The moment as a device writes it (ISO 8601 with its offset), in UTC; None for anything else."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.astimezone(UTC) if moment.tzinfo else None


def written_at(rows, logged_at: datetime) -> datetime:
    """When the rows were written: the device's claim, or `logged_at` where there is none or it cannot be true.

    A claim is not believed when it lies after `logged_at`, more than BELIEVED_FOR before it, or on a day before
    something that it records had happened. Source: common practice, no source.
    """
    claimed = _claimed.get()
    if claimed is None or not logged_at - BELIEVED_FOR <= claimed <= logged_at:
        return logged_at
    if any(_foreseen(row, claimed) for row in rows):
        return logged_at
    return claimed


def _foreseen(row, claimed: datetime) -> bool:
    if row._meta.model_name in NEVER_LATE or not row.happened_on or not row.zone:
        return False
    return row.happened_on > claimed.astimezone(ZoneInfo(row.zone)).date()
