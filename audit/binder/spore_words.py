"""One spore test in words: what is nearly always the same, its readings, the box it came from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

from audit.binder.scope import UnitScope
from audit.binder.usual import most
from audit.binder.written_on_paper import dated, day, first_upper, labelled, number, quantity
from audit.facts import BioReadingFact, BioTestFact, LotFact
from audit.judge.judgement import TestVerdict

_RECORDED = {"pass": "passed", "fail": "failed"}
_CONTROL = {"growth": "which grew", "no growth": "which did not grow"}


@dataclass(frozen=True, slots=True)
class Kind:
    """What is nearly always the same of a spore test; a test that differs in one of these is told in full."""

    program: str
    chamber: str
    purpose: str
    site: str
    mechanical: str
    chemical: str
    place: str
    own_control: bool  # the control is of the same lot
    control: str  # what its control showed

    @classmethod
    def of(cls, test: BioTestFact) -> Kind:
        own = test.control_lot is not None and test.control_lot.ref == test.lot.ref
        control = test.readings[-1].control if test.readings else ""
        return cls(
            test.cycle_type, test.chamber, test.purpose, test.site, test.mechanical, test.chemical, test.place, own,
            control,
        )  # fmt: skip

    def words(self) -> list[str]:
        """Each part of it in words, "" where a part says nothing."""
        return [word for _, word in self.named_words()]

    def named_words(self) -> list[tuple[str, str]]:
        """(name of the part, what it says), in the order in which they are told."""
        return [
            ("program", f"program {self.program}" if self.program else "program not stated"),
            ("chamber", "load not stated" if self.chamber == "not stated" else f"{self.chamber} chamber"),
            ("purpose", f"purpose: {self.purpose}"),
            ("mechanical", f"mechanical result {_RECORDED.get(self.mechanical, self.mechanical)}"),
            ("chemical", f"chemical result {_RECORDED.get(self.chemical, self.chemical)}"),
            ("place", f"placed {self.place}" if self.place else ""),
            ("own_control", "control of the same lot" if self.own_control else "no control of the same lot"),
            ("control", _CONTROL.get(self.control, f"control: {self.control or 'not read'}")),
            ("site", f"read in the {self.site}" if self.site else "place of reading not stated"),
        ]


def verdicts_of(unit: UnitScope) -> dict[str, TestVerdict]:
    return {v.test: v for v in unit.judgement.verdicts} if unit.judgement else {}


def is_plain(test: BioTestFact, verdict: TestVerdict | None, usual: Kind) -> bool:
    """A test of which its line says all: it passed, was read once on the day it was known, and is as the others."""
    reading = test.readings[0] if len(test.readings) == 1 else None
    return (
        verdict is not None
        and verdict.verdict == "passed"
        and reading is not None
        and not reading.report
        and reading.known_on == reading.row.happened_on
        and not test.implant
        and Kind.of(test) == usual
    )


# ------------------------------------------------------------------------------------------------ in full


def _reading(reading: BioReadingFact, test: BioTestFact) -> str:
    """One look at a test, in a sentence."""
    hours = f"after {quantity(reading.incubated_hours, 'h')}" if reading.incubated_hours is not None else ""
    heat = f"at {quantity(reading.incubator_temperature, '°C')}" if reading.incubator_temperature is not None else ""
    known = f"known on {day(reading.known_on)}" if reading.known_on != reading.row.happened_on else ""
    by = f"by {reading.read_by}" if reading.read_by else ""
    how = " ".join(part for part in (hours, heat, by) if part)
    told = ", ".join(part for part in (how, known, labelled("report", reading.report)) if part)
    hours_missing = "" if reading.incubated_hours is not None else "; hours not entered"
    results = f"{reading.test} in the test, {reading.control} in the control"
    return f"Read on {day(reading.row.happened_on)} {told}: {results}{hours_missing}.".replace("  ", " ")


def lot_words(lot: LotFact) -> str:
    """The box of a spore test as its label says: DS-5222 (Spore vial, expires 31 Dec 2026, 24 h at 55 to 60 °C)."""
    low, high = number(lot.incubation_low, ""), number(lot.incubation_high, "")
    heat = f" at {low} to {quantity(lot.incubation_high, '°C')}" if low and high else ""
    hours = f"at least {quantity(lot.incubation_hours, 'h')}{heat}"
    return f"{lot.lot} ({lot.name}, expiry {day(lot.expiry, 'not printed')}, {hours})"


CYCLE = ("program", "chamber", "mechanical", "chemical")  # what is said of a failed test whatever the others are


def usual_of(tests: Iterable[BioTestFact]) -> Kind:
    """What most of these tests are, part by part. Raises StopIteration without any test."""
    kinds = [Kind.of(test) for test in tests if test.readings] or [Kind.of(test) for test in tests]
    parts = (most(getattr(kind, each.name) for kind in kinds) for each in fields(Kind))
    return Kind(*parts)


def told_in_full(test: BioTestFact, verdict: TestVerdict | None, usual: Kind, always: tuple[str, ...] = ()) -> str:
    """One test in a few sentences; what is as `usual` is left out but for the parts in `always`."""
    own = Kind.of(test)
    other = [
        word
        for (name, word), as_usual in zip(own.named_words(), usual.words(), strict=True)
        if word and (word != as_usual or name in always)
    ]
    implant = "implant load" if test.implant else ""
    lot = "" if own.own_control else f"lot {lot_words(test.lot)}"
    run = f"run by {test.run_by}" if test.run_by else "nobody named as running it"
    cycle = f"Cycle {test.cycle_number}" if test.cycle_number else "Cycle without a number"
    head = ", ".join(part for part in (cycle, *other, implant, lot, _control(test), run) if part)
    said = f"{first_upper(verdict.verdict)}: {dated(verdict.reason)}." if verdict else "Not judged."
    read = " ".join(_reading(reading, test) for reading in test.readings) or "No reading yet."
    return f"{said} {head}. {read}"


def _control(test: BioTestFact) -> str:
    if test.control_lot is None:
        return "no control run"
    return "" if test.control_lot.ref == test.lot.ref else f"control of lot {lot_words(test.control_lot)}"
