"""What gauges and chemical indicators showed in one cycle, from every row that tells of it.

A cycle is told of by its spore test, by the load logged with it and by chemical indicators, of the same day and cycle
number. One of them that failed is a failure; recorded as passing is what one of them says and none contradicts; else
it is not recorded. CDC 2003 (MMWR 52 RR-17), narrative on positive spore tests, rests the repeat on these results.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from audit.facts import BioTestFact, UnitFacts

PASS, FAIL, NOT_RECORDED = "pass", "fail", "not recorded"
PENETRATION = 2  # type of ISO 11140-1 made for air-removal tests: it says nothing of goods


class CycleResults:
    """Results by cycle, looked up in the rows of a unit once; `positive`: origins of its positive spore tests."""

    def __init__(self, unit: UnitFacts, positive: Collection[str] = ()):
        self._positive = positive
        self._bad = {_cycle(f) for f in (*unit.loads, *unit.chemical, *unit.bio_tests) if self._failed(f)}
        self._told: dict[tuple[date, str], list[tuple[str, str]]] = {}
        for load in unit.loads:
            if load.cycle_number and (load.mechanical or load.chemical):
                self._put(load, load.mechanical, load.chemical)
        for strip in unit.chemical:
            if strip.cycle_number and strip.type != PENETRATION:
                self._put(strip, "", strip.result)

    def _put(self, fact, mechanical: str, chemical: str) -> None:
        self._told.setdefault((fact.row.happened_on, fact.cycle_number), []).append((mechanical, chemical))

    def _failed(self, fact) -> bool:
        row = (getattr(fact, name, "") for name in ("mechanical", "chemical", "result"))
        return FAIL in row or getattr(fact, "packs", "") == "wet" or fact.row.origin in self._positive

    def failed(self, fact) -> bool:
        """Whether anything of the cycle failed, by the row itself or by another one of the same day and number."""
        return self._failed(fact) or (bool(fact.cycle_number) and _cycle(fact) in self._bad)

    def of(self, test: BioTestFact) -> tuple[str, str]:
        """(mechanical, chemical) of the cycle of a spore test: pass, fail or not recorded."""
        beside = self._told.get((test.row.happened_on, test.cycle_number), ()) if test.cycle_number else ()
        told = [(test.mechanical, test.chemical), *beside]
        return _worst(m for m, _ in told), _worst(c for _, c in told)


def _cycle(fact) -> tuple[date, str]:
    return fact.row.happened_on, fact.cycle_number


def _worst(results) -> str:
    held = set(results)
    return FAIL if FAIL in held else PASS if PASS in held else NOT_RECORDED
