"""Taking a unit out of service and returning it: which withdrawals stand, and which one a return ends."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from records.models import Unit, UnitEvent

from . import gathering
from .errors import Problem
from .signatures import only_told

# The reason of a return holds what it was made without, in these words of the program.
WAS_MISSING = "was missing"
_LONGEST = UnitEvent._meta.get_field("reason").max_length


def open_withdrawals(unit: Unit, on: date) -> list[UnitEvent]:
    """The withdrawals of the unit up to that day that no return names, the newest first. Each as first written.

    A return that somebody else entered in that name ends none.
    """
    events = [event for event in _events_of(unit) if event.happened_on <= on]
    ended = {e.ends.origin for e in events if e.kind == "returned" and e.ends_id and not only_told(e)}
    found = [event for event in events if event.kind == "withdrawn" and event.origin not in ended]
    return sorted(found, key=_order, reverse=True)


def _events_of(unit: Unit) -> list[UnitEvent]:
    named = ("ends", "by", "entry__logged_by")
    events = UnitEvent.objects.in_force
    return gathering.once(("events", unit.pk), lambda: list(events().filter(unit=unit).select_related(*named)))


def offered(unit: Unit, on: date, named: str = "") -> list[UnitEvent]:
    """Those that a return may end: the open ones, and the one that is `named` already, by its ref.

    So a return that is sent twice says the same both times; what cannot be ended is refused by the writer.
    """
    standing = open_withdrawals(unit, on)
    if not named or named in {str(event.ref) for event in standing}:
        return standing
    withdrawn = UnitEvent.objects.origins().filter(unit=unit, kind="withdrawn", happened_on__lte=on)
    return [*standing, *[event for event in withdrawn if str(event.ref) == named]]


def standing_withdrawal(unit: Unit, on: date) -> UnitEvent | None:
    """The newest withdrawal that nothing ended by that day, as the record alone shows; None where there is none.

    A return that names none, as on record from before it was asked, is taken to end what stood then.
    """
    events = (e for e in _events_of(unit) if e.happened_on <= on and e.kind == "returned" and e.ends_id is None)
    signed = (e for e in events if not only_told(e))
    unnamed = max(signed, key=_order, default=None)
    for event in open_withdrawals(unit, on):
        if unnamed is None or _order(unnamed) < _order(event):
            return event
    return None


def _order(event: UnitEvent) -> tuple:
    return (event.happened_on, event.entry_id, event.line)


def return_problems(unit: Unit, on: date, at, ends: UnitEvent | None, missing) -> Iterator[Problem]:
    """A return names the withdrawal that it ends; one while something is missing is asked about."""
    standing = open_withdrawals(unit, on)
    if ends is None and standing:
        told = "; ".join(f"{event.happened_on}, {event.reason}" for event in standing)
        yield Problem(
            "ends",
            f"Which withdrawal does it end? Taken out of service: {told}. Choose it: a return that names none ends "
            "none, and the unit stays out. If it ends none of them, confirm it; it is recorded and flagged.",
            confirm="ends-none",
        )
    elif ends is not None:
        yield from _named(unit, on, at, ends, standing)
    if missing:
        yield Problem(
            "reason",
            f"It is not proven yet: {'; '.join(missing)}. Leave it out of service until that is done. If it is "
            "returned all the same, confirm it; what was missing is recorded with it, and it doesn’t count as the "
            "return later.",
            confirm="return-early",
        )


def _named(unit: Unit, on: date, at, ends: UnitEvent, standing) -> Iterator[Problem]:
    if ends.unit_id != unit.pk or ends.kind != "withdrawn":
        yield Problem("ends", f"That is no withdrawal of {unit.label}. Choose one of its own.")
    elif ends.origin not in {event.origin for event in standing}:
        yield Problem(
            "ends", "That withdrawal lies after this return, or a return that names it is on record. Check the day."
        )
    elif at is not None and ends.happened_at is not None and at < ends.happened_at:
        yield Problem("at", "That lies before the time at which it was taken out. Check the time, or leave it out.")


def with_missing(reason: str, missing) -> str:
    """The reason of a return with what it was made without, as it is recorded; cut where the column ends."""
    if not missing:
        return reason
    return f"{reason} ({WAS_MISSING}: {'; '.join(missing)})"[:_LONGEST]
