"""Tests that must pass in a row, for one cycle type or for each of several.

In a row means: a failure starts everything again at nought. What counts for nothing (another cycle type, the wrong
filling of the chamber) neither counts nor breaks. A result still awaited breaks the row of its own cycle type until
it is known.

A row is made of cycles, and a cycle counts once, however often it was told. Two results of one day are of one cycle
where they have the same number or the same moment, and also where neither numbers nor times tell them apart: what is
not shown to be another cycle is not counted as one. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.judge.biological import Run, run_of

ANY = ""  # the one row where cycle types are not told apart


class PassRows:
    """The rows of passes as they grow, test by test in the order of the runs.

    `need`: passes in a row asked of each type, each of a cycle of its own. Of several rows that would do, the one
    known first is the proof.
    """

    def __init__(self, need: int, types: Iterable[str] = (ANY,)):
        self.need = need
        self.proven_on: date | None = None  # the day the last needed result was known
        self._proof: dict[str, tuple] = {}
        self._run: dict[str, list] = {t: [] for t in types}
        self._best: dict[str, tuple[date, tuple]] = {}

    def passed(self, cycle_type: str, known_on: date, trial) -> None:
        """One more pass, of a fact or of a `Trial`; of a type that is not asked it counts for nothing."""
        run = self._run.get(cycle_type)
        if run is None:
            return
        run.append((known_on, trial))
        window = self._window(run)
        if window is None:
            return
        known, proof = window
        if cycle_type not in self._best or known < self._best[cycle_type][0]:
            self._best[cycle_type] = known, proof
            self._settle()

    def _window(self, run: list) -> tuple[date, tuple] | None:
        """(day the last needed one was known, its tests) of the newest rows that hold enough cycles, or None."""
        first = len(run) - max(1, self.need)
        while first >= 0:
            tail = run[first:]
            if len(tail) == 1 or _cycles(t for _, t in tail) >= self.need:
                return self._known_first(tail)
            first -= 1
        return None

    def _known_first(self, tail: list) -> tuple[date, tuple]:
        """Of a cycle told twice the telling known first counts: the first day by which enough cycles were known."""
        for day in sorted({known for known, _ in tail}):
            held = tuple(t for known, t in tail if known <= day)
            if len(tail) == 1 or _cycles(held) >= self.need:
                return day, held
        raise AssertionError("the whole of the row holds enough cycles")

    def failed(self) -> None:
        """A failure: every row starts again, a proof reached before it counts no more."""
        self.proven_on, self._proof = None, {}
        self._best.clear()
        for run in self._run.values():
            run.clear()

    def broken(self, cycle_type: str) -> None:
        """A result that is no pass yet, or a pass that is not normal: the row of its type starts again."""
        if cycle_type in self._run:
            self._run[cycle_type].clear()

    def _settle(self) -> None:
        if len(self._best) < len(self._run):
            return
        known = max(k for k, _ in self._best.values())
        if self.proven_on is None or known < self.proven_on:
            self.proven_on = known
            self._proof = {t: window for t, (_, window) in self._best.items()}

    def row(self) -> tuple:
        """The passes that proved it, or the rows as they stand."""
        if self.proven_on is not None:
            return tuple(t for window in self._proof.values() for t in window)
        return tuple(t for run in (*self._held(), *self._short()) for t in run)

    def _held(self) -> list[tuple]:
        return [window for _, window in self._best.values()]

    def _short(self) -> list[tuple]:
        return [tuple(t for _, t in run) for name, run in self._run.items() if name not in self._best]

    def count(self, cycle_type: str) -> int:
        """Passes in a row so far of one type, each of a cycle of its own, at most as many as are needed."""
        if self.proven_on is not None or cycle_type in self._best:
            return self.need
        return _cycles(t for _, t in self._run[cycle_type])

    def least(self) -> int:
        """Passes in a row so far of the type that has the fewest."""
        return min((self.count(t) for t in self._run), default=self.need)

    def missing(self) -> list[tuple[str, int]]:
        """(cycle type, passes still missing) of each type whose row is not complete."""
        return [(t, self.need - self.count(t)) for t in self._run if self.count(t) < self.need]


# ------------------------------------------------------------------------------------------------ cycles


def _cycles(trials) -> int:
    """How many cycles are shown by them."""
    return cycles_shown([run_of(t) if hasattr(t, "row") else t.run for t in trials])


def cycles_shown(runs: Iterable[Run]) -> int:
    """The fewest cycles of which all these runs can be: those that number or time tell apart."""
    days: dict[date, list[Run]] = {}
    for run in runs:
        days.setdefault(run[0], []).append(run)
    return sum(1 if len(same) == 1 else _of_one_day(same) for same in days.values())


def cycles_possible(runs: Iterable[Run]) -> int:
    """The most cycles of which these runs can be: all but those of one number or of one moment.

    For failures, where to count too many is the stricter reading.
    """
    days: dict[date, list[Run]] = {}
    for run in runs:
        days.setdefault(run[0], []).append(run)
    return sum(len(_told_alike(same)) for same in days.values())


def _of_one_day(runs: list[Run]) -> int:
    """A run with only a number and one with only a time may be the same cycle; one with neither may be any."""
    groups = _told_alike(runs)
    both = sum(1 for numbers, moments in groups if numbers and moments)
    numbered = sum(1 for numbers, moments in groups if numbers and not moments)
    timed = sum(1 for numbers, moments in groups if moments and not numbers)
    return max(1, both + max(numbered, timed))


def _told_alike(runs: list[Run]) -> list[tuple[set, set]]:
    """(numbers, moments) of each group of runs that share a number or a moment, directly or by others."""
    groups: list[tuple[set, set]] = []
    for _, at, number in runs:
        numbers, moments = ({number} if number else set()), ({at} if at is not None else set())
        mine = [g for g in groups if g[0] & numbers or g[1] & moments]
        groups = [g for g in groups if g not in mine]
        for held in mine:
            numbers |= held[0]
            moments |= held[1]
        groups.append((numbers, moments))
    return groups
