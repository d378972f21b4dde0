"""The only clock. Everything that needs the present asks here, so that a demo or a test can stand at another time."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

_fixed: ContextVar[datetime | None] = ContextVar("fixed_moment", default=None)


def now() -> datetime:
    """The present moment, in UTC."""
    return _fixed.get() or datetime.now(UTC)


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
