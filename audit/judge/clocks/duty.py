"""What a duty is judged from, and the due items of all duties of a unit."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from audit.facts import BioTestFact, ClinicFacts, UnitFacts, in_order
from audit.judge.biological import AWAITED, FAILED, PASSED, awaited_until
from audit.judge.judgement import TestVerdict
from audit.judge.proof_after_work import Work
from audit.judge.usage import Usage
from audit.regimes.model import Duty, Regime

from .duties import duties_on

T = TypeVar("T")
_NOT_MADE = object()
NONE_AWAITED = "no result awaited"  # under this name the memo says so, for all days


@dataclass(slots=True)  # never changed once it is made; one a day that is looked at
class DutyFacts:
    """What a duty is computed from. `unit` is None for the duties of the whole place.

    `unproven`: kinds of test of which a failure that stopped the unit is open: until the unit is proven again a
    failed test of it ends nothing that was owed. `unread`: why no test that is awaited ends it, see `why_unread`.
    `memo` holds what was computed from the facts alone; the same facts on several days may share one.
    """

    unit: UnitFacts | None
    clinic: ClinicFacts
    regime: Regime
    as_of: date
    usage: Usage
    verdicts: dict[str, TestVerdict]
    works: tuple[Work, ...]
    memo: dict = field(default_factory=dict, compare=False, repr=False)
    unproven: frozenset[str] = frozenset()
    unread: str = ""

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once. `key` must name the day where the answer depends on it."""
        found = self.memo.get(key, _NOT_MADE)
        if found is _NOT_MADE:
            found = self.memo[key] = make()
        return found

    def duties(self) -> tuple[Duty, ...]:
        """The duties that hold on `as_of`, in the order of the rules."""
        key = ("duties", self.as_of)
        held = self.memo.get(key)
        if held is None:
            held = self.memo[key] = duties_on(self.regime, self.clinic, self.unit, self.as_of)
        return held

    def tests(self) -> list[tuple[BioTestFact, TestVerdict]]:
        """Every spore test with its verdict, in order of the run."""
        made = lambda: [(t, self.verdicts[t.row.origin]) for t in in_order(self.unit.bio_tests)]  # noqa: E731
        return self.once("tests", made)

    def meets(self, test: BioTestFact, verdict: TestVerdict) -> bool:
        """Whether the test meets a duty: passed, awaited within reason, or failed where that stops the unit.

        One that is awaited meets none where `unread` says why.
        """
        if verdict.verdict == AWAITED:
            return not self.unread and self.within_reason(test)
        return verdict.verdict == PASSED or (verdict.verdict == FAILED and self.stops("biological"))

    def within_reason(self, test: BioTestFact) -> bool:
        """Whether the result of the test may still come in time."""
        return self.as_of <= awaited_until(test, self.regime.validity)

    def why_unread(self) -> str:
        """Why no test that is awaited proves anything, in words; "" where it may.

        None has a result yet, or one since the last result is late and not read: a clinic that reads nothing has no
        proof, however many tests wait. Common practice, no source.
        """
        late = None
        for test, verdict in reversed(self.tests()):
            if verdict.verdict in (PASSED, FAILED):
                break
            if verdict.verdict == AWAITED and not self.within_reason(test):
                late = test
        else:
            if late is None:
                return "none has a result yet"
        return "" if late is None else f"that of {late.row.happened_on.isoformat()} is late and not read"

    def counts_from(self, test: BioTestFact) -> date:
        """The day from which a test that passed or failed met a duty: of its cycle, or of its result where none came
        before it or one before it was not read.
        """
        verdict, before = self.verdicts[test.row.origin], False
        for other, said in reversed(self.tests()):
            if other is test:
                before = True
            elif before and said.verdict in (PASSED, FAILED):
                return test.row.happened_on
            elif before and said.verdict == AWAITED:
                break
        return verdict.known_on or test.row.happened_on

    def met_by(self, kind: str) -> tuple[str, ...]:
        """The results of a test of air removal or leakage that meet its duty."""
        return ("pass",) if kind in self.unproven else ("pass", "fail")

    def stops(self, kind: str) -> bool:
        """Whether a failure of that kind stops the unit by itself: only then is having tested enough for a duty."""
        path = self.regime.path(kind)
        return path is not None and path.withdraws and kind not in self.unproven
