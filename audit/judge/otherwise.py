"""What would change for a clinic if it followed other rules from a day on: judged in memory, never recorded.

The facts get terms that name the other rules from the day on, exactly as a change of terms on that day would; what
was before keeps the rules of then. Nothing is written, and what is said is not evidence of anything.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from audit.facts import ClinicFacts
from audit.regimes import Regime, all_regimes

from .evaluate import evaluate, evaluate_under
from .judgement import ClinicJudgement, Clock, DueKind, State, UnitStanding


@dataclass(frozen=True, slots=True)
class DueChange:
    """One due item that is not the same. `before` or `after` is None where one of the rules does not ask it."""

    before: Clock | None
    after: Clock | None

    @property
    def title(self) -> str:
        """What is due, by the rules that ask it; by the other rules where both do."""
        return (self.after or self.before).title


@dataclass(frozen=True, slots=True)
class UnitChange:
    """One unit under both rules. `due`: only what is not the same."""

    unit: str
    label: str
    before: UnitStanding
    after: UnitStanding
    due: tuple[DueChange, ...]

    @property
    def answers_otherwise(self) -> bool:
        """Whether the word of the answer or its reason is another."""
        return (self.before.word, self.before.reason) != (self.after.word, self.after.reason)


@dataclass(frozen=True, slots=True)
class ChangeOfRules:
    """What the other rules would change on `day`: by unit in the order of the facts, and for the whole place."""

    day: date
    before: str  # id of the rules followed
    after: str
    units: tuple[UnitChange, ...]
    place: tuple[DueChange, ...]

    @property
    def changes(self) -> bool:
        """Whether any answer or any due item is not the same."""
        return bool(self.place) or any(unit.answers_otherwise or unit.due for unit in self.units)


def if_followed(clinic: ClinicFacts, rules: Regime, day: date) -> ChangeOfRules:
    """The clinic judged on `day` (inclusive) by the rules of its terms, and with `rules` from that day on.

    A clinic without terms is judged as if it had always followed them. Raises nothing for what the facts hold.
    """
    now = evaluate(clinic, day, brief=True)
    known = ChainMap({rules.id: rules}, all_regimes())  # each set on file is read only when it is asked for
    other = _with_terms(clinic, rules.id, day)
    then = evaluate(other, day, known, brief=True) if other else evaluate_under(clinic, rules, day)
    return compared(now, then, day)


def compared(now: ClinicJudgement, then: ClinicJudgement, day: date) -> ChangeOfRules:
    """Two judgements of the same clinic on the same day, told by what differs."""
    later = {unit.unit: unit for unit in then.units}
    pairs = [(unit, later[unit.unit]) for unit in now.units]
    units = tuple(
        UnitChange(old.unit, old.label, old.standing, new.standing, _due(old.clocks, new.clocks))
        for old, new in pairs
    )
    return ChangeOfRules(day, now.regime, then.regime, units, _due(now.clocks, then.clocks))


def _with_terms(clinic: ClinicFacts, rules: str, day: date) -> ClinicFacts | None:
    """The facts with terms from `day` on that name the rules, newer than all others; None without terms that day."""
    terms = clinic.terms_on(day)
    if terms is None:
        return None
    row = replace(terms.row, happened_on=day, happened_at=None, number=1 + max(t.row.number for t in clinic.terms))
    return replace(clinic, terms=(*clinic.terms, replace(terms, row=row, effective_on=day, regime=rules)))


def _due(before: Iterable[Clock], after: Iterable[Clock]) -> tuple[DueChange, ...]:
    """What is due by one alone, or with another state or day; of the same duty by its name, else by its subject."""
    old, new = (_asked(clocks) for clocks in (before, after))
    found = [DueChange(old.pop(key), new.pop(key)) for key in [*old] if key in new]
    for key in [*old]:
        alike = [k for k in new if _subject(new[k]) and _subject(new[k]) == _subject(old[key])]
        found.append(DueChange(old.pop(key), new.pop(alike[0]) if len(alike) == 1 else None))
    found += [DueChange(None, clock) for clock in new.values()]
    return tuple(change for change in found if _told(change.before) != _told(change.after))


def _asked(clocks: Iterable[Clock]) -> dict[str, Clock]:
    return {f"{c.id} {c.position}": c for c in clocks if c.state is not State.NOT_APPLICABLE}


def _subject(clock: Clock) -> str:
    return clock.subject if clock.kind is DueKind.DUTY else ""


def _told(clock: Clock | None) -> tuple:
    return () if clock is None else (clock.state, clock.due_on, clock.overdue_on, clock.forbids)
