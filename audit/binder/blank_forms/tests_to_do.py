"""Tests and checks to be done by the people of the place, one line each, as their rules ask."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from audit.binder.blank_forms.about import FormSubject
from audit.binder.blank_forms.values import Boxes, FormEntry, FormTable, said, tick
from audit.binder.sections import Column
from audit.binder.written_on_paper import day, lines, number, tied
from audit.facts import BioTestFact, LotFact, in_order, newest
from audit.judge.biological import AWAITED
from audit.judge.clocks.duties import EVENT, IMPLANT
from audit.judge.cycle_types import named, types_in_use, types_tested
from audit.judge.exposure import needs, program_on
from audit.regimes.model import SUBJECTS, Duty
from records.wording import PURPOSE_WORDS, PURPOSES

EACH_DAY = ("day-of-use", "day-of-use-and-cycle-type")
RESULTS = ("pass", "fail", "not done")
# Which value a check has, where it has one.
_VALUES = {
    "air leak": "rise, unit, over how many minutes",
    "air removal": "lot of the test sheet",
    "thermometer comparison": "indicated, recorded, unit",
    "water": "conductivity, unit",
    "automatic control": "time, temperature, pressure",
}
_MOST_TYPES = 3
# Why a test was run is asked of each: it is routine only where somebody says so, as on the forms of the screen.
WHY_RUN = tick(PURPOSES[0], "other", stacked=True)
WHY_NOTE = f"Why it was run, other than routine: write which under remarks ({'; '.join(PURPOSE_WORDS.values())})."


def is_routine(duty: Duty) -> bool:
    """A test or check that the people of the place repeat: no work, no paper, nothing after an event."""
    return SUBJECTS[duty.subject] in ("test", "check") and duty.every not in (EVENT, IMPLANT)


def each_day(about: FormSubject) -> list[Duty]:
    """Tests and checks of each day of use, without the spore test, which has its own place."""
    return [d for d in about.duties() if is_routine(d) and d.every in EACH_DAY and d.subject != "biological"]


def rarer(about: FormSubject) -> list[Duty]:
    """Tests and checks asked less often than each day of use, without the spore test."""
    return [d for d in about.duties() if is_routine(d) and d.every not in EACH_DAY and d.subject != "biological"]


def spore_duty(about: FormSubject) -> Duty | None:
    """The repeated spore test that the rules ask, None where they ask none."""
    return next((d for d in about.duties() if is_routine(d) and d.subject == "biological"), None)


def cycle_types(about: FormSubject) -> tuple[str, ...]:
    """The cycle types run on this unit in the last twelve months, as they were written last."""
    on, unit = about.as_of, about.unit
    written = {named(t.cycle_type): t.cycle_type for t in in_order(unit.bio_tests)}
    written |= {named(load.program): load.program for load in in_order(unit.loads)}
    types = types_in_use(unit, on, on) or types_tested(unit, on, on)
    return tuple(written[each].strip() for each in types[:_MOST_TYPES])


def limit_of(about: FormSubject, duty: Duty) -> str:
    """The limit that the last leak test was held against; "" where none is on record or the check has none."""
    if duty.subject != "air leak" or not about.unit.leaks:
        return ""
    last = in_order(about.unit.leaks)[-1]
    return f"at most {number(last.limit)} kPa a minute ({last.limit_source})"


def what(about: FormSubject, duty: Duty, cycle_type: str = "") -> FormEntry:
    """What is to be done, how often, up to which limit."""
    title = f"{duty.title}, cycle type {cycle_type}" if cycle_type else duty.title
    signed = "doesn't count unless signed" if duty.signed else ""
    return said(lines(title, duty.words, limit_of(about, duty), signed))


def _another_type(about: FormSubject, duty: Duty) -> FormEntry:
    return replace(what(about, duty), hint="another cycle type: which", room=True)


def _line(about: FormSubject, duty: Duty, cycle_type: str = "") -> tuple[FormEntry, ...]:
    value = FormEntry(hint=_VALUES.get(duty.subject, ""))
    return (what(about, duty, cycle_type), FormEntry(), WHY_RUN, value, tick(*RESULTS, stacked=True), FormEntry())


def check_lines(about: FormSubject, duties) -> tuple[tuple[FormEntry, ...], ...]:
    """One line for each duty; for each cycle type where the duty speaks of those, with a blank one for another."""
    found = []
    for duty in duties:
        if duty.every == "day-of-use-and-cycle-type":
            found += [_line(about, duty, each) for each in cycle_types(about)]
            found.append((_another_type(about, duty), *_line(about, duty)[1:]))
        else:
            found.append(_line(about, duty))
    return tuple(found)


def check_table(about: FormSubject, duties, others: int) -> FormTable:
    """The lines of the duties and so many blank ones for what the rules don't ask."""
    columns = (
        Column("Test or check", 31),
        Column("Cycle number, time", 13),
        Column("Why it was run", 13),
        Column("Value or lot", 18),
        Column("Result", 11),
        Column("Done by, signature", 14),
    )
    blank = (
        FormEntry(hint="another test or check: what"),
        FormEntry(),
        WHY_RUN,
        FormEntry(),
        tick(*RESULTS, stacked=True),
        FormEntry(),
    )
    note = f"{WHY_NOTE} Not done needs its reason, a failure what was seen: write both under remarks."
    return FormTable("Tests and checks", columns, (*check_lines(about, duties), *((blank,) * others)), 7.0, note)


def last_lot(about: FormSubject) -> LotFact | None:
    """The box that the newest spore test came from."""
    tests = in_order(about.unit.bio_tests)
    return tests[-1].lot if tests else None


def lot_words(lot: LotFact | None) -> str:
    if lot is None:
        return ""
    return f"{lot.lot}, expires {day(lot.expiry, 'no day printed')}"


def spore_boxes(about: FormSubject, duty: Duty) -> Boxes:
    """A spore test with its control, from the cycle to the reading. What it shows is never filled in."""
    lot = lot_words(last_lot(about))
    hint = f"last box: {lot}" if lot else "from the label of the box in hand"
    caption = f"{duty.title}: {duty.words}"
    return Boxes(
        caption,
        (
            (
                FormEntry("Day, time of the cycle"),
                FormEntry("Cycle number"),
                FormEntry("Cycle type", hint=", ".join(cycle_types(about))),
                FormEntry("Chamber", ticks=("empty", "full")),
                FormEntry("Load held an implant", ticks=("yes", "no")),
                FormEntry("Run by"),
            ),
            (
                FormEntry("Why it was run", ticks=PURPOSES, hint="all but routine: it ran after that", weight=2.2),
                FormEntry("Place in the chamber where the test stood", hint="as the rules or the maker ask it"),
            ),
            (
                FormEntry("Lot, expiry of the test", hint=hint, weight=1.5),
                FormEntry("Lot, expiry of the control", hint="the same lot as the test", weight=1.5),
                FormEntry("Gauges, printout", ticks=("pass", "fail")),
                FormEntry("Chemical indicators", ticks=("pass", "fail")),
            ),
            (
                FormEntry("Into the incubator at", hint="or: posted on, to which laboratory"),
                FormEntry("Temperature there, °C"),
                FormEntry("Read on, at"),
                FormEntry("Read by"),
            ),
            (
                FormEntry("Test shows", ticks=("growth", "no growth", "no result")),
                FormEntry("Control shows", ticks=("growth", "no growth", "not stated")),
                FormEntry("Laboratory, report number"),
            ),
        ),
    )


def spore_table(about: FormSubject, duty: Duty, rows: int) -> FormTable:
    """Spore tests with their controls, one to a line, where the rules ask many."""
    columns = (
        Column("Day, time, cycle number", 11),
        Column("Cycle type; empty or full", 10.5),
        Column("Place in the chamber", 9),
        Column("Why it was run", 9.5),
        Column("Lot, expiry: test, control", 12),
        Column("Gauges, printout", 7.5),
        Column("Chem. ind.", 7.5),
        Column("In; read on, at, by", 10.5),
        Column("Test shows", 11.2),
        Column("Control shows", 11.2),
    )
    passed, shown = tick("pass", "fail", stacked=True), tick("growth", "no growth", stacked=True)
    types = cycle_types(about)
    hints = [*types, *([""] * rows)] if rows < 7 else [""] * rows
    found = tuple(
        (
            FormEntry(),
            FormEntry(hint=hint),
            FormEntry(),
            WHY_RUN,
            FormEntry(),
            passed,
            passed,
            FormEntry(),
            shown,
            shown,
        )
        for hint in hints[:rows]
    )
    lot = lot_words(last_lot(about))
    note = f"Last box: {lot}. " if lot else ""
    note += (
        "The control comes from the same lot as the test. Cycle types: "
        + (", ".join(types) or "none on record")
        + f". {WHY_NOTE}"
    )
    return FormTable(f"{duty.title}: {duty.words}", columns, found, note=note)


def awaited(about: FormSubject) -> tuple[BioTestFact, ...]:
    """Spore tests run and not read yet, oldest first."""
    waiting = {v.test for v in about.judged.verdicts if v.verdict == AWAITED}
    return tuple(t for t in in_order(about.unit.bio_tests) if t.row.origin in waiting)


def reading_table(about: FormSubject) -> FormTable | None:
    """The spore tests that wait for their reading; None without any."""
    tests = awaited(about)
    if not tests:
        return None
    columns = (
        Column("Spore test to read", 30),
        Column("Read on, at; temperature", 20),
        Column("Test shows", 17),
        Column("Control shows", 17),
        Column("Read by", 16),
    )
    shown = ("growth", "no growth")
    rows = tuple(
        (_waiting(test), FormEntry(), tick(*shown, stacked=True), tick(*shown, stacked=True), FormEntry())
        for test in tests
    )
    return FormTable("Spore tests waiting for their reading", columns, rows)


def _waiting(test: BioTestFact) -> FormEntry:
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    where = (
        "sent to a laboratory" if test.site == "laboratory" else f"label: {test.lot.incubation_hours} hours at least"
    )
    return said(lines(f"run {day(test.row.happened_on)}{cycle}", f"lot {test.lot.lot}; {where}"))


def load_table(about: FormSubject, rows: int, days: tuple[date, ...] = ()) -> FormTable:
    """Places for loads; with `days` each says on which of them it ran."""
    when = "Day, start" if days else "Start"
    columns = (
        Column("Cycle number", 10),
        Column(when, 9),
        Column("Program, loaded by", 12),
        Column("Packs, pouches, cassettes", 11),
        Column("Contents, by number", 12),
        Column("Implant", 8.5),
        Column("Minutes, °, gauge", 12),
        Column("Gauges, printout", 9.5),
        Column("Chem. ind.", 8.5),
        Column("Packs", 8),
        Column("Wrapping", 9.5),
        Column("Load", 13),
        Column("Released by, when", 12),
    )
    passed = tick("pass", "fail", stacked=True)
    line = (
        FormEntry(),
        FormEntry(),
        FormEntry(),
        FormEntry(),
        FormEntry(),
        tick("yes"),
        FormEntry(),
        passed,
        passed,
        tick("dry", "wet", stacked=True),
        tick("whole", "torn", stacked=True),
        tick("released", "rejected", stacked=True),
        FormEntry(),
    )
    note = (
        f"{_next_cycle(about)}Every cycle has a line: loads, tests, aborted and empty ones; no number is missing. "
        "Write how many packs, pouches and cassettes it held, and of the exposure minutes, temperature and pressure "
        f"with their units. Without a printout or the readings written down a load is not released. {_needs(about)}"
        f"{_implants(about)}"
        "Never name a person treated."
    )
    return FormTable("Loads", columns, (line,) * rows, 7.0, note, grows=True)


def _needs(about: FormSubject) -> str:
    """What each program on record must reach on the day of the form; "" where none is."""
    names = dict.fromkeys(p.name for p in about.unit.programs)
    limits = (program_on(about.unit, name, about.asked_on) for name in names)
    told = [f"{p.name}: {tied(needs(p))}" for p in limits if p is not None and needs(p)]
    return f"The programs need: {'; '.join(told)}. " if told else ""


def _implants(about: FormSubject) -> str:
    """What the rules ask of a load that holds an implant; "" for nothing."""
    asked = next((d for d in about.duties() if d.every == IMPLANT), None)
    return f"{asked.title} ({asked.source}). " if asked else ""


def _next_cycle(about: FormSubject) -> str:
    """The cycle number that was logged last, of a load or a test; "" without any."""
    unit = about.unit
    cycles = [
        x for facts in (unit.loads, unit.bio_tests, unit.air_removal, unit.checks) for x in facts if x.cycle_number
    ]
    last = newest(cycles, lambda x: x.row.happened_on)
    return f"Last on record: cycle {last.cycle_number} of {day(last.row.happened_on)}. " if last else ""
