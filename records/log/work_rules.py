"""What must hold between the fields of a reported fault, of its end, of an agreed visit and of calling one off."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from . import may_be_logged
from .errors import InputPlace, Problem

WHOLE = InputPlace()
OUT, KEPT = "out", "kept"  # what is said of the unit meanwhile
REPORTED = "fault reported"


def fault_report(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A fault says what is wrong; of a unit that stays in use it says why. Common practice, no source."""
    if not str(g("what") or "").strip():
        yield Problem(at / "what", "What is wrong? Enter it in the words of who reported it.")
    if g("withdrawal") in (None, "kept") and not str(g("kept_because") or "").strip():
        yield Problem(
            at / "kept_because",
            "Why may it stay in use, and who decided that? Say both, or take the unit out of service.",
        )


def fault_settled(g: Callable, at: InputPlace = WHOLE, day: str = "happened_on") -> Iterator[Problem]:
    """A fault is settled on the day it was reported or later, and it is said what it was."""
    if not str(g("outcome") or "").strip():
        yield Problem(at / "outcome", "What was it, and why does nobody need to come? Say it in a few words.")
    if g("fault") is not None:
        reported = g("fault").happened_on
        yield from may_be_logged.after(at / day, g("happened_on"), reported, "the day it was reported")


def visit_agreed(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """An agreed visit has a day; one that moves another says why."""
    if g("visit_on") is None:
        yield Problem(at / "visit_on", "For which day was it agreed? Enter it.")
    if g("instead_of") is not None and not str(g("reason") or "").strip():
        yield Problem(at / "reason", "Why was it moved? Say it in a few words: the clinic had another day.")


def visit_called_off(g: Callable, at: InputPlace = WHOLE, day: str = "happened_on") -> Iterator[Problem]:
    """Calling off has a reason, and does not lie before the agreement."""
    if not str(g("reason") or "").strip():
        yield Problem(at / "reason", "Why is it called off? Say it in a few words.")
    if g("agreed") is not None:
        agreed = g("agreed").happened_on
        yield from may_be_logged.after(at / day, g("happened_on"), agreed, "the day on which it was agreed")


def named(place: str, name: str, question: str) -> Iterator[Problem]:
    """Somebody is named; a name that is not known is said to be."""
    if not (name or "").strip():
        yield Problem(place, f"{question} Enter the name, or “name not given”.")
