"""A clock that leaps is noticed before it stamps an entry, so that what was known when stays true.

Two clocks of the machine must go alike from one entry to the next: the one that tells the time, which anybody may
set, and the one that counts seconds since the machine was started, which nobody can. PostgreSQL, which may run on
another machine, tells its own time as well. (Common practice, no source; how far they may differ is our own choice.)

Ahead: the entry waits. Stamped with a moment that has not come, it would not count as known until then, and neither
would any entry after it. Behind: the entry is written after the one before it, as ever, and says by how much the
clock was off: a clock that was ahead must not stop the work when it is set right.
"""

from __future__ import annotations

import time
from datetime import datetime
from pathlib import Path

from django.db import connection

from records import clock
from records.models import Ledger

from .errors import Problem, Refused

TOLERANCE = 120  # seconds; and a thousandth of the time that passed, which is more than clocks of machines drift
ACCEPT = "manage.py accept_clock"
_BOOT = Path("/proc/sys/kernel/random/boot_id")


def steady() -> tuple[str, float]:
    """Since which start of the machine how many seconds have passed, its sleep included; "" where nobody can tell."""
    try:
        return _BOOT.read_text().strip()[:40], time.clock_gettime(time.CLOCK_BOOTTIME)
    except (OSError, AttributeError):
        return "", 0.0


def off(ledger: Ledger, now: datetime) -> int | None:
    """By how many seconds the clock is off, as the entry is to say; None when it isn't. Raises Refused when ahead."""
    if clock.stands() is None:
        _refuse_another_than_the_database(now)
        if (leapt := _leapt(ledger, now)) is not None:
            if leapt > 0 and not ledger.clock_accepted:
                raise Refused([Problem("", _ahead(ledger, now, leapt))])
            return leapt
    behind = (ledger.logged_at - now).total_seconds() if ledger.logged_at else 0
    return -round(behind) if behind > TOLERANCE else None


def mark(ledger: Ledger, now: datetime) -> None:
    """Keep in the head what the clocks say with this entry."""
    ledger.clock_at, ledger.clock_accepted = now, False
    ledger.boot, ledger.steady = steady() if clock.stands() is None else ("", 0.0)


def _leapt(ledger: Ledger, now: datetime) -> int | None:
    boot, passed = steady()
    if not boot or boot != ledger.boot or ledger.clock_at is None or ledger.steady is None:
        return None
    really = passed - ledger.steady
    leap = (now - ledger.clock_at).total_seconds() - really
    return round(leap) if abs(leap) > TOLERANCE + abs(really) / 1000 else None


def _refuse_another_than_the_database(now: datetime) -> None:
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        (there,) = cursor.fetchone()
    apart = round((now - there).total_seconds())
    if abs(apart) > TOLERANCE:
        raise Refused(
            [Problem("", f"The clock of this server is {words(apart)} that of the database, and nobody can tell "
                         "which is right. Nothing was recorded. Whoever runs the server sets it right; then send "
                         "this again.")]
        )  # fmt: skip


def _ahead(ledger: Ledger, now: datetime, leapt: int) -> str:
    return (
        f"The clock of this server leapt: it says {now:%Y-%m-%d %H:%M} UTC, {words(leapt)} what passed since the "
        "last entry. Nothing was recorded, as an entry stamped ahead would not count as known until then. Whoever "
        f"runs the server sets the clock right, or says with `{ACCEPT}` that it is right now; then send this again."
    )


def words(seconds: int) -> str:
    """How far off, in words: “2 hours ahead of”."""
    side = "ahead of" if seconds > 0 else "behind"
    for size, name in ((86400, "day"), (3600, "hour"), (60, "minute"), (1, "second")):
        if abs(seconds) >= size:
            count = abs(seconds) // size
            return f"{count} {name}{'s' if count > 1 else ''} {side}"
    return "with"
