"""What must hold between the fields of an inspection, of a point that it asks to be corrected, and of its end."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

from . import may_be_logged
from .errors import InputPlace, Problem

WHOLE = InputPlace()


def inspection(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """An inspection says from which office somebody came."""
    if not str(g("office") or "").strip():
        yield Problem(at / "office", "From which office did they come? Enter its name, or “not given”.")


def inspection_point(g: Callable, at: InputPlace = WHOLE, inspected_on: date | None = None) -> Iterator[Problem]:
    """A point says what is to be corrected; its day is not before the inspection, the day itself may be."""
    if not str(g("what") or "").strip():
        yield Problem(at / "what", "What is to be corrected? Enter it as it was told or written.")
    if inspected_on is None and g("inspection") is not None:
        inspected_on = g("inspection").happened_on
    if inspected_on is not None:
        yield from may_be_logged.after(at / "due_on", g("due_on"), inspected_on, "the day of the inspection")


def point_met(g: Callable, at: InputPlace = WHOLE, day: str = "happened_on") -> Iterator[Problem]:
    """A point is met on the day of the inspection or later; what was done is said. `day`: the input’s name of it."""
    if not str(g("outcome") or "").strip():
        yield Problem(at / "outcome", "What was done, and what shows it? Say it in a few words.")
    if g("point") is not None:
        named_on = g("point").inspection.happened_on
        yield from may_be_logged.after(at / day, g("happened_on"), named_on, "the day of the inspection")
