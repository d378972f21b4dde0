"""How much one account, and one clinic, may have kept of files on one day, so that nobody fills the disk for all.

Days are those of UTC; sizes are counted in KiB, each file rounded up. What was kept already costs nothing, so what is
sent twice is never refused for it. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import DatabaseError, IntegrityError, transaction
from django.db.models import F
from django.utils.crypto import salted_hmac

from records import clock
from records.models import Taken

from .often import end_of_span, forget_what_is_over

KIB = 1024
DAY_SECONDS = 24 * 3600


class DayIsFull(Exception):
    """The file was not kept: the message says why and the way out. `seconds` from now files are taken again."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


@contextmanager
def counted(account, clinic, size: int, zone: str) -> Iterator[None]:
    """Count a file of `size` bytes for account and clinic while it is kept; not when keeping it fails.

    `zone` is that of the moment in the message. Raises DayIsFull, without running what is inside.
    """
    span, kib = end_of_span(DAY_SECONDS), -(-size // KIB)
    shares = [
        (_key(f"account {account.pk}"), settings.UPLOADS_ACCOUNT_MIB, "one person"),
        (_key(f"clinic {clinic.pk}"), settings.UPLOADS_CLINIC_MIB, "one clinic"),
    ]
    held: list[str] = []
    try:
        for key, most, who in shares if kib else ():
            if not _add(key, span, kib, most * KIB):
                raise _full(who, key, most, kib, span, zone)
            held.append(key)
        yield
    except BaseException:
        with suppress(DatabaseError):  # where the database itself is the fault, what was counted goes at midnight
            for key in held:
                Taken.objects.filter(key=key, span=span).update(count=F("count") - kib)
        raise


def _key(who: str) -> str:
    return salted_hmac("records.doors.uploads", who, algorithm="sha256").hexdigest()


def _add(key: str, span: int, kib: int, most: int) -> bool:
    """Add so much to what was taken in this span, unless that would be more than `most`, in one step."""
    there = Taken.objects.filter(key=key, span=span)
    room = there.filter(count__lte=most - kib)
    if kib > most:
        return False
    if room.update(count=F("count") + kib):
        return True
    if there.exists():  # it may have come to be since the line above, with room in it
        return bool(room.update(count=F("count") + kib))
    forget_what_is_over()
    try:
        with transaction.atomic():
            Taken.objects.create(key=key, span=span, count=kib)
        return True
    except IntegrityError:  # somebody else's file was the first of the day at the same moment
        return bool(room.update(count=F("count") + kib))


def _full(who: str, key: str, most: int, kib: int, span: int, zone: str) -> DayIsFull:
    again = datetime.fromtimestamp(span, UTC)
    taken = Taken.objects.filter(key=key, span=span).values_list("count", flat=True).first() or 0
    room = max(0, most * KIB - taken)
    return DayIsFull(
        f"This file was not kept: it has {kib} KiB, and of the {most} MiB of files that {who} may have kept a day, "
        f"so that nobody fills the disk for all, {room} KiB are left today. Files are taken again from "
        f"{again.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M} ({zone}): send it then, or a smaller one now. Whoever "
        "looks after this site can allow more.",
        -(-(again - clock.real()) // timedelta(seconds=1)),
    )
