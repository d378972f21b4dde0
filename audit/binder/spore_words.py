"""One spore test in words: what is nearly always the same, its readings, the box it came from."""

from __future__ import annotations

from dataclasses import dataclass

from audit.binder.scope import UnitScope
from audit.binder.written_on_paper import dated, day, first_upper, labelled, number, quantity
from audit.facts import BioReadingFact, BioTestFact, LotFact
from audit.judge.judgement import TestVerdict

_RECORDED = {"pass": "passed", "fail": "failed"}


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
        """Each part of it in words."""
        return [
            f"program {self.program}" if self.program else "program not stated",
            "load not stated" if self.chamber == "not stated" else f"{self.chamber} chamber",
            f"purpose: {self.purpose}",
            f"mechanical result {_RECORDED.get(self.mechanical, self.mechanical)}",
            f"chemical result {_RECORDED.get(self.chemical, self.chemical)}",
            *([f"placed {self.place}"] if self.place else []),
            "control of the same lot" if self.own_control else "no control of the same lot",
            f"control: {self.control or 'not read'}",
            f"read at the {self.site}" if self.site else "place of reading not stated",
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


def told_in_full(test: BioTestFact, verdict: TestVerdict | None, usual: Kind | None = None) -> str:
    """One test in a few sentences; what is as `usual` is left out."""
    own = Kind.of(test)
    if usual is None:
        parts = own.words()
    else:
        names = own.words()
        parts = [word for word in names if word not in usual.words()]
    if test.implant:
        parts.append("implant load")
    if usual is None or not own.own_control:
        parts.append(f"lot {lot_words(test.lot)}")
        parts.append(_control(test))
    run = f"run by {test.run_by}" if test.run_by else "nobody named as running it"
    head = ", ".join([f"Cycle {test.cycle_number}" if test.cycle_number else "Cycle without a number", *parts, run])
    said = f"{first_upper(verdict.verdict)}: {dated(verdict.reason)}." if verdict else "Not judged."
    read = " ".join(_reading(reading, test) for reading in test.readings) or "No reading yet."
    return f"{said} {head}. {read}"


def _control(test: BioTestFact) -> str:
    if test.control_lot is None:
        return "no control run"
    return "" if test.control_lot.ref == test.lot.ref else f"control of lot {lot_words(test.control_lot)}"
