"""One spore test in words: of which kind it is, its readings, the box it came from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from audit.binder.scope import UnitScope
from audit.binder.usual import Kinds, most
from audit.binder.written_on_paper import dated, day, first_upper, labelled, number, quantity
from audit.facts import BioReadingFact, BioTestFact, LotFact
from audit.judge.judgement import TestVerdict

_RECORDED = {"pass": "passed", "fail": "failed"}
_CONTROL = {"growth": "the control grew", "no growth": "the control did not grow"}
_OTHER_PERSONS = 3  # tests that others than usual ran or read and that are told in full; of more each line names them
_SAID_BY_READINGS = 7  # of a kind: what the control showed
_OF_CYCLE = (0, 1, 3, 4)  # of a kind: program, chamber, mechanical and chemical result


def verdicts_of(unit: UnitScope) -> dict[str, TestVerdict]:
    """What each spore test counts for, by its origin; empty for a unit that was not judged."""
    return {v.test: v for v in unit.judgement.verdicts} if unit.judgement else {}


def names_of(test: BioTestFact) -> tuple[str, ...]:
    """Who ran it and who read it."""
    return (test.run_by, *(reading.read_by for reading in test.readings))


def _kind(test: BioTestFact) -> tuple[str, ...]:
    """What of a test is the same in most of a unit, each part in words, "" where a part says nothing."""
    own = test.control_lot is not None and test.control_lot.ref == test.lot.ref
    control = test.readings[-1].control if test.readings else ""
    return (
        f"program {test.cycle_type}" if test.cycle_type else "program not stated",
        "load not stated" if test.chamber == "not stated" else f"{test.chamber} chamber",
        f"purpose: {test.purpose}",
        f"mechanical result {_RECORDED.get(test.mechanical, test.mechanical)}",
        f"chemical result {_RECORDED.get(test.chemical, test.chemical)}",
        f"placed {test.place}" if test.place else "",
        "control of the same lot" if own else "no control of the same lot",
        _CONTROL.get(control, f"control: {control or 'not read'}"),
        f"read in the {test.site}" if test.site else "place of reading not stated",
    )


def _by(test: BioTestFact) -> str:
    names = dict.fromkeys(name for name in names_of(test) if name)
    run, read = test.run_by, [reading.read_by for reading in test.readings if reading.read_by]
    if len(names) == 1 and run and len(read) == len(test.readings):
        return f"run and read by {run}"
    told = [f"run by {run}" if run else "nobody named as running it"]
    told += [f"read by {', '.join(dict.fromkeys(read))}"] if read else []
    return ", ".join(told)


@dataclass(frozen=True, slots=True)
class SporeKinds:
    """The kinds of test of one unit. `named`: each line names who ran and read it, for they are several.

    `reported`: most are known from a report, which each line then names with the day on which it came.
    """

    kinds: Kinds
    named: bool
    reported: bool

    @classmethod
    def of(cls, tests: Iterable[BioTestFact]) -> SporeKinds:
        """Raises ValueError without any test."""
        tests = tuple(tests)
        usual = most(_by(test) for test in tests)
        named = sum(_by(test) != usual for test in tests) > _OTHER_PERSONS
        read = [test for test in tests if test.readings] or list(tests)
        reported = sum(bool(test.readings and test.readings[-1].report) for test in read) * 2 > len(read)
        return cls(Kinds.of([_all(test, named) for test in read]), named, reported)

    def kind(self, test: BioTestFact) -> tuple[str, ...]:
        return _all(test, self.named)

    def is_plain(self, test: BioTestFact, verdict: TestVerdict | None) -> bool:
        """A test of which its line says all: it passed, was read once on the day it was known, and is of a kind."""
        reading = test.readings[0] if len(test.readings) == 1 else None
        return (
            verdict is not None
            and verdict.verdict == "passed"
            and reading is not None
            and (self.reported or not reading.report)
            and (self.reported or reading.known_on == reading.row.happened_on)
            and not test.implant
            and self.kind(test) in self.kinds.known
        )

    def told_in_full(self, test: BioTestFact, verdict: TestVerdict | None, *, whole_cycle: bool = False) -> str:
        """One test in a few sentences; what is as in most is left out, `whole_cycle`: but for what its cycle was."""
        usual = self.kinds.known[0]
        parts = [
            word
            for n, (word, same) in enumerate(zip(_all(test, True), usual, strict=False))
            if word and n != _SAID_BY_READINGS and (word != same or (whole_cycle and n in _OF_CYCLE))
        ]
        own = test.control_lot is not None and test.control_lot.ref == test.lot.ref
        control = "no control run" if test.control_lot is None else f"control of lot {lot_words(test.control_lot)}"
        lots = () if own else (f"lot {lot_words(test.lot)}", control)
        run = f"run by {test.run_by}" if test.run_by else "nobody named as running it"
        cycle = f"Cycle {test.cycle_number}" if test.cycle_number else "Cycle without a number"
        head = ", ".join((cycle, *parts, *(("implant load",) if test.implant else ()), *lots, run))
        said = f"{first_upper(verdict.verdict)}: {dated(verdict.reason)}." if verdict else "Not judged."
        read = " ".join(_reading(reading) for reading in test.readings) or "No reading yet."
        return f"{said} {head}. {read}"


def _all(test: BioTestFact, named: bool) -> tuple[str, ...]:
    return _kind(test) if named else (*_kind(test), _by(test))


def _reading(reading: BioReadingFact) -> str:
    """One look at a test, in a sentence."""
    hours = f"after {quantity(reading.incubated_hours, 'h')}" if reading.incubated_hours is not None else ""
    heat = f"at {quantity(reading.incubator_temperature, '°C')}" if reading.incubator_temperature is not None else ""
    known = f"known on {day(reading.known_on)}" if reading.known_on != reading.row.happened_on else ""
    by = f"by {reading.read_by}" if reading.read_by else ""
    how = " ".join(part for part in (f"Read on {day(reading.row.happened_on)}", hours, heat, by) if part)
    told = ", ".join(part for part in (how, known, labelled("report", reading.report)) if part)
    missing = "" if reading.incubated_hours is not None else "; hours not entered"
    return f"{told}: {reading.test} in the test, {reading.control} in the control{missing}."


def lot_words(lot: LotFact) -> str:
    """The box of a spore test as its label says: DS-5222 (Spore vial, expiry 31 Dec 2026, at least 24 h)."""
    low, high = number(lot.incubation_low, ""), number(lot.incubation_high, "")
    heat = f" at {low} to {quantity(lot.incubation_high, '°C')}" if low and high else ""
    hours = f"at least {quantity(lot.incubation_hours, 'h')}{heat}"
    return f"{lot.lot} ({lot.name}, expiry {day(lot.expiry, 'not printed')}, {hours})"
