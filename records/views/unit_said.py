"""What judgement says of a unit while something is recorded of it.

Judgement is another app's: that app names with `ask_with` who answers. While nobody does, nothing speaks against
anything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from records.models import Unit, UnitEvent

if TYPE_CHECKING:  # every start imports this file, and only a page the forms
    from records.forms import EntryContext


@dataclass(frozen=True, slots=True)
class UnitSaid:
    """`against`: why the unit may not be used on a day. `missing`: what its return would be without. In words."""

    against: Callable[[EntryContext, Unit, date], tuple[str, ...]]
    missing: Callable[[EntryContext, Unit, date, UnitEvent | None], tuple[str, ...]]


_said = UnitSaid(lambda ground, unit, on: (), lambda ground, unit, on, ends: ())


def ask_with(said: UnitSaid) -> None:
    """From now on these are asked."""
    global _said
    _said = said


def against_use(ground: EntryContext, unit: Unit | None, on: date | None) -> tuple[str, ...]:
    """Why the unit may not be used on that day, in words; none for a day that has not come or is not known."""
    return _said.against(ground, unit, on) if _can_be_asked(ground, unit, on) else ()


def missing_for_return(ground: EntryContext, unit: Unit, on: date | None, ends: UnitEvent | None) -> tuple[str, ...]:
    """What would still be missing if the unit were returned on that day, in words."""
    return _said.missing(ground, unit, on, ends) if _can_be_asked(ground, unit, on) else ()


def _can_be_asked(ground: EntryContext, unit: Unit | None, on: date | None) -> bool:
    return unit is not None and on is not None and on <= ground.today
