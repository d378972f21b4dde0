"""What gauges and chemical indicators showed in one cycle, from every row that tells of it.

A cycle is told of by its spore test, by the load logged with it and by chemical indicators, of the same day and cycle
number. One of them that failed is a failure; recorded as passing is what one of them says and none contradicts; else
it is not recorded. CDC 2003 (MMWR 52 RR-17), narrative on positive spore tests, rests the repeat on these results.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator

from audit.facts import BioTestFact, ChemicalFact, LoadFact, UnitFacts, happened_on, in_order
from audit.judge.biological import cycle_key

PASS, FAIL, NOT_RECORDED = "pass", "fail", "not recorded"
PENETRATION = 2  # type of ISO 11140-1 made for air-removal tests: it says nothing of goods


class CycleResults:
    """Results by cycle, each looked up among the rows of its day; `positive`: origins of positive spore tests."""

    def __init__(self, unit: UnitFacts, positive: Collection[str] = ()):
        self._positive = positive
        self._rows = [in_order(rows) for rows in (unit.loads, unit.chemical, unit.bio_tests)]

    def failed(self, fact) -> bool:
        """Whether anything of the cycle failed, by the row itself or by another one of the same day and number."""
        return self._failed(fact) or any(self._failed(f) for f in self._beside(fact))

    def of(self, test: BioTestFact) -> tuple[str, str]:
        """(mechanical, chemical) of the cycle of a spore test: pass, fail or not recorded."""
        told = [(test.mechanical, test.chemical), *(_told(f) for f in self._beside(test))]
        return _worst(m for m, _ in told), _worst(c for _, c in told)

    def _failed(self, fact) -> bool:
        wet = isinstance(fact, LoadFact) and fact.packs == "wet"
        strip = isinstance(fact, ChemicalFact) and fact.result == FAIL
        return wet or strip or FAIL in _told(fact) or fact.row.origin in self._positive

    def _beside(self, fact) -> Iterator:
        """The rows of the same cycle, by day and number."""
        day, number = fact.row.happened_on, cycle_key(fact)
        for rows in self._rows if number else ():
            n = bisect_left(rows, day, key=happened_on)
            while n < len(rows) and happened_on(rows[n]) == day:
                if cycle_key(rows[n]) == number and rows[n] is not fact:
                    yield rows[n]
                n += 1


def _told(fact) -> tuple[str, str]:
    """(mechanical, chemical) as one row tells them; an indicator of an air-removal test says nothing of goods."""
    if isinstance(fact, ChemicalFact):
        return "", "" if fact.type == PENETRATION else fact.result
    return fact.mechanical, fact.chemical


def _worst(results) -> str:
    held = set(results)
    return FAIL if FAIL in held else PASS if PASS in held else NOT_RECORDED
