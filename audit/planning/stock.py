"""Where each lot of a part is: computed from what came, went, was fitted and was counted. Pure.

A count states what lies there; what it differs by from what should have lain there is said, never mended. On one day
what was recorded first counts first. A part whose visit does not say where it was taken from was taken out of the van
of who did the work, where that lot was in it, else out of the only place where it lay. A piece of a kit that was not
fitted never left its place; one that was not in the bag is said to be missing until somebody counts. Common practice,
no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

NOWHERE = ""
NOT_FITTED, NOT_IN_BAG = STAYED = ("not fitted", "not in the bag")  # pieces of a kit that moved nowhere


@dataclass(frozen=True, slots=True)
class StockStep:
    """One thing that became of a lot. `place` and `to` are refs of places, "" for none said.

    `van` is the place of who did the work, of a fitted part, and `part` names it; `words` say what it was, `ref`
    names the row in the books ("" for what only a visit says), `order` is in which order it was recorded.
    """

    on: date
    order: tuple[int, int]
    kind: str  # received, moved, fitted, returned, thrown away, counted; of a kit: not fitted, not in the bag
    quantity: int
    place: str
    to: str = NOWHERE
    van: str = NOWHERE
    words: str = ""
    ref: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class StepTold:
    """A step as it is told: from where it was taken as far as that is known, and how that is known."""

    step: StockStep
    place: str
    how: str  # "" where the entry itself says it
    difference: int | None = None  # of a count: found less expected; None where that was not known


@dataclass(frozen=True, slots=True)
class Lying:
    """What lies at a place; `level` None: not known, nobody counted it."""

    place: str
    level: int | None


@dataclass(frozen=True, slots=True)
class LotAccount:
    """Where the parts of a lot are at the end of a day.

    `short` are places out of which more went than came in, with the day and by how many; `unplaced` are parts fitted
    from nobody knows where; `differences` the newest count of each place, where it was not what should have lain
    there.
    """

    lying: tuple[Lying, ...]
    told: tuple[StepTold, ...]
    fitted: int
    short: tuple[tuple[str, date, int], ...]
    unplaced: tuple[StockStep, ...]
    differences: tuple[StepTold, ...]
    missing: tuple[StockStep, ...]  # pieces that were not in the bag of their kit, and nobody counted since
    known: bool  # whether how many there are is known everywhere

    @property
    def left(self) -> int:
        """How many are known to lie anywhere."""
        return sum(each.level for each in self.lying if each.level and each.level > 0)

    @property
    def used_up(self) -> bool:
        """Whether nothing is left and nothing speaks against that."""
        return self.known and not self.left and not self.short and not self.unplaced and not self.missing


@dataclass
class _Running:
    """The levels as they change."""

    received: bool
    level: dict[str, int] = field(default_factory=dict)
    counted: dict[str, int] = field(default_factory=dict)  # by place, the number of the step
    short: dict[str, tuple[date, int]] = field(default_factory=dict)

    def known(self, place: str) -> bool:
        return self.received or place in self.counted

    def add(self, place: str, number: int, on: date) -> None:
        self.level[place] = self.level.get(place, 0) + number
        lowest = self.short.get(place, (on, 0))[1]
        if self.known(place) and self.level[place] < min(lowest, 0):
            self.short[place] = (on, self.level[place])

    def taken_from(self, step: StockStep) -> tuple[str, str]:
        """From which place a fitted part was taken, and how that is known; "" for nobody knows where."""
        if step.place:
            return step.place, ""
        if step.van and step.van in self.level:
            return step.van, "the van of who did the work"
        holding = [place for place, level in self.level.items() if level > 0]
        if self.received and len(holding) == 1:
            return holding[0], "the only place where it lay"
        return NOWHERE, "not said"


def account(steps: Iterable[StockStep], as_of: date) -> LotAccount:
    """What became of one lot up to the end of `as_of`."""
    steps = sorted((s for s in steps if s.on <= as_of), key=lambda s: (s.on, s.order))
    running = _Running(any(s.kind == "received" for s in steps))
    told: list[StepTold] = []
    unplaced: list[tuple[int, StockStep]] = []
    newest: dict[str, StepTold] = {}
    missing: list[tuple[int, StockStep]] = []
    for n, step in enumerate(steps):
        place, how, difference = step.place, "", None
        if step.kind == "counted":
            if running.known(place):
                difference = step.quantity - running.level.get(place, 0)
            running.level[place], running.counted[place] = step.quantity, n
            running.short.pop(place, None)
        elif step.kind == "received":
            running.add(place, step.quantity, step.on)
        elif step.kind in STAYED:
            missing += [(n, step)] if step.kind == NOT_IN_BAG else []
        else:
            place, how = running.taken_from(step) if step.kind == "fitted" else (place, "")
            if place == NOWHERE:
                unplaced.append((n, step))
            else:
                running.add(place, -step.quantity, step.on)
            if step.to:
                running.add(step.to, step.quantity, step.on)
        told.append(StepTold(step, place, how, difference))
        if step.kind == "counted":
            newest[place] = told[-1]
    return _made(running, told, unplaced, newest, missing)


def _made(running: _Running, told, unplaced, newest, missing) -> LotAccount:
    places = [p for p, level in running.level.items() if level or not running.known(p) or p in running.short]
    lying = tuple(Lying(p, running.level[p] if running.known(p) else None) for p in places)
    open_steps = [step for n, step in unplaced if running.received and not _counted_since(running, n)]
    return LotAccount(
        lying=lying,
        told=tuple(told),
        fitted=sum(t.step.quantity for t in told if t.step.kind == "fitted"),
        short=tuple((p, on, -level) for p, (on, level) in running.short.items()),
        unplaced=tuple(open_steps),
        differences=tuple(t for t in newest.values() if t.difference),
        missing=tuple(step for n, step in missing if not _counted_since(running, n)),
        known=running.received or bool(running.counted) and all(each.level is not None for each in lying),
    )


def _counted_since(running: _Running, n: int) -> bool:
    """Whether everywhere where some may lie was counted after that step: then its place matters no more."""
    places = [place for place, level in running.level.items() if level] or list(running.counted)
    return bool(places) and all(running.counted.get(place, -1) > n for place in places)


def barred(expiry: date | None, doubt: str, on: date) -> str:
    """Why a lot must not be fitted on that day: a notice in words, or that it is out of date; "" for nothing."""
    late = "out of date" if expiry is not None and expiry < on else ""
    return "; ".join(words for words in (doubt, late) if words)
