"""What the round says of a piece of work: how it stands to its day, and why it is worth doing early. ISO days."""

from __future__ import annotations

from .values import Forward, WorkItem


def state_told(item: WorkItem) -> str:
    """ "overdue, due 2026-05-20", "open item", "due 2026-06-17"; "" where nothing has a day and nothing is late."""
    due = f"due {item.day.isoformat()}" if item.day else ""
    if not item.overdue:
        return due
    return f"{item.state}, {due}" if due else item.state


def early_told(early: Forward) -> str:
    """Before which visit it falls due, and what to do: renew the part now where it takes one, or come once more."""
    before = (
        f"before the next visit in the week of {early.next_stop.isoformat()}"
        if early.next_stop
        else "before the next visit, of which none is planned"
    )
    now = "renew now" if early.item.needs else "do it now"
    return f"{before}: {now}, or make an extra stop"
