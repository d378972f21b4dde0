"""Tests that must pass in a row, for one cycle type or for each of several.

In a row means: a failure starts everything again at nought. What counts for nothing (another cycle type, the wrong
filling of the chamber) neither counts nor breaks. A result still awaited breaks the row of its own cycle type until
it is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

ANY = ""  # the one row where cycle types are not told apart


class PassRows:
    """The rows of passes as they grow, test by test in the order of the runs.

    `need`: passes in a row asked of each type. Of several rows that would do, the one known first is the proof.
    """

    def __init__(self, need: int, types: Iterable[str] = (ANY,)):
        self.need = need
        self.proven_on: date | None = None  # the day the last needed result was known
        self._proof: dict[str, tuple] = {}
        self._run: dict[str, list] = {t: [] for t in types}
        self._best: dict[str, tuple[date, tuple]] = {}

    def passed(self, cycle_type: str, known_on: date, trial) -> None:
        """One more pass; of a type that is not asked it counts for nothing."""
        run = self._run.get(cycle_type)
        if run is None:
            return
        run.append((known_on, trial))
        if len(run) < self.need:
            return
        window = run[-self.need :]
        known = max(k for k, _ in window)
        if cycle_type not in self._best or known < self._best[cycle_type][0]:
            self._best[cycle_type] = (known, tuple(t for _, t in window))
            self._settle()

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
        """Passes in a row so far of one type, at most as many as are needed."""
        if self.proven_on is not None or cycle_type in self._best:
            return self.need
        return len(self._run[cycle_type])

    def least(self) -> int:
        """Passes in a row so far of the type that has the fewest."""
        return min((self.count(t) for t in self._run), default=self.need)

    def missing(self) -> list[tuple[str, int]]:
        """(cycle type, passes still missing) of each type whose row is not complete."""
        return [(t, self.need - self.count(t)) for t in self._run if self.count(t) < self.need]
