"""The spore tests run in a visit and the chemical indicators read in it, for the report of the visit."""

from __future__ import annotations

from collections.abc import Collection

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Section, Table
from audit.binder.spore_words import SporeKinds, verdicts_of
from audit.binder.written_on_paper import labelled, lines


def in_cycle(scope: Scope, unit: UnitScope, n: int, rows: Collection[str]) -> list[Section]:
    """The section of the tests of a unit whose origins are among `rows`, [] where none is; `n` numbers the unit."""
    tests = [test for test in scope.inside(unit.facts.bio_tests) if test.row.origin in rows]
    indicators = [each for each in scope.inside(unit.facts.chemical) if each.row.origin in rows]
    if not (tests or indicators):
        return []
    kinds, verdicts = SporeKinds.of(tests) if tests else None, verdicts_of(unit)
    told = [
        (
            Cell("Spore test (biological indicator)"),
            Cell(
                lines(
                    f"lot {test.lot.lot}", kinds.told_in_full(test, verdicts.get(test.row.origin), whole_cycle=True)
                )
            ),
            scope.proof(test),
        )
        for test in tests
    ]
    told += [
        (
            Cell(f"Chemical indicator, type {each.type}"),
            Cell("; ".join(filter(None, (each.result, each.where, labelled("lot", each.lot)))),
                 strong=each.result != "pass"),
            scope.proof(each),
        )
        for each in indicators
    ]  # fmt: skip
    columns = (Column("In a cycle of the visit", 130), Column("Result", 342), Column("Record", 38, small=True))
    return [Section(f"cycle-{n}", "Tests in a cycle", 3, (Table("", columns, tuple(told), ""),))]
