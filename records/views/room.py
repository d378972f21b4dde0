"""Room for a file that came with a form: counted while it is kept, and refused at its field where the day is full."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from records import log
from records.doors import uploads
from records.files import blobs
from records.forms import EntryContext
from records.log import Problem


@contextmanager
def room_for(ground: EntryContext, content: bytes) -> Iterator[None]:
    """Count the file for who sends it and for the clinic, while it is kept inside. Raises `uploads.DayIsFull`.

    One that is kept already takes no room, so that what is sent twice is answered as the first time.
    """
    size = 0 if blobs.holds(ground.clinic, content) else len(content)
    with uploads.counted(ground.account, ground.clinic, size, ground.zone):
        yield


@contextmanager
def room_at(field: str, ground: EntryContext, content: bytes) -> Iterator[None]:
    """The same for a form: where the day is full it raises Refused, with the problem at that field."""
    try:
        with room_for(ground, content):
            yield
    except uploads.DayIsFull as full:
        raise log.Refused([Problem(field, str(full))]) from None
