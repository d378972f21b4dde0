"""The only clock. Everything that needs the present asks here, so that a demo or a test can stand at another time."""

from __future__ import annotations

import time
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

_fixed: ContextVar[datetime | None] = ContextVar("fixed_moment", default=None)
# The moment the whole process stands at, with the steady clock's seconds when it was set; replaced as one tuple, so
# that threads never see half of it.
_standing: tuple[datetime, float] | None = None


def now() -> datetime:
    """The present moment, in UTC."""
    return _fixed.get() or _stood() or datetime.now(UTC)


def _stood() -> datetime | None:
    standing = _standing
    if standing is None:
        return None
    moment, since = standing
    return moment + timedelta(seconds=time.monotonic() - since)


def stand_at(moment: datetime | None) -> None:
    """Let every thread of the process live from `moment` (aware) on, ticking; None returns to the real time.

    Only for the demo, which always looks the same. `at` still wins where it is used.
    """
    global _standing
    _standing = (moment.astimezone(UTC), time.monotonic()) if moment else None


def stands() -> datetime | None:
    """The moment that this process or this call stands at; None when it lives in the real time."""
    return _fixed.get() or _stood()


def real() -> datetime:
    """The real moment in UTC, wherever the process stands. Only for telling whether another process is alive."""
    return datetime.now(UTC)


def today(zone: str = "UTC") -> date:
    """The calendar day it is now in `zone` (an IANA name)."""
    return now().astimezone(ZoneInfo(zone)).date()


def local_day(moment: datetime, zone: str) -> date:
    """The calendar day on which `moment` falls in `zone`."""
    return moment.astimezone(ZoneInfo(zone)).date()


@contextmanager
def at(moment: datetime):
    """Stand at `moment` (aware). Only for the demo, imports, simulations and tests."""
    token = _fixed.set(moment.astimezone(UTC))
    try:
        yield
    finally:
        _fixed.reset(token)


def is_fixed() -> bool:
    """True while somebody stands at another moment (a demo, an import, a test)."""
    return _fixed.get() is not None
