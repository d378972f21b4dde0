"""People with what they are trained or licensed for, and measuring instruments with their calibrations."""

from __future__ import annotations

from datetime import date

from audit.binder.named import named_table
from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, Section, Table
from audit.binder.written_on_paper import day, lines, span
from audit.facts import CredentialFact, InstrumentFact, in_order

_HOLDERS = ("clinic", "service company")


def validity(valid_from: date, valid_to: date | None, as_of: date) -> str:
    """How a paper stands on the day: not yet valid, valid, past its last valid day. Both days inclusive."""
    if valid_from > as_of:
        return "not yet valid"
    if valid_to is None:
        return "valid, no end stated"
    return "valid" if valid_to >= as_of else "past its last valid day"


def _holder(value: str) -> tuple[int, str]:
    return (_HOLDERS.index(value) if value in _HOLDERS else len(_HOLDERS), value)


def _by_person(credential: CredentialFact) -> tuple:
    return (_holder(credential.holder), credential.person.casefold(), credential.kind, credential.valid_from,
            credential.row.number, credential.row.line)  # fmt: skip


def credentials_table(scope: Scope) -> Table:
    """All on file on the day of the answer, by holder and person; not cut to the period."""
    columns = (
        Column("Person, of", 110, names=True),
        Column("What for", 162),
        Column("Kind", 60),
        Column("Valid", 80),
        Column("On the day of the answer", 60),
        Column("Record", 38, small=True),
    )
    rows = []
    for held in sorted(scope.facts.credentials, key=_by_person):
        state = validity(held.valid_from, held.valid_to, scope.as_of)
        rows.append(
            (
                Cell(lines(held.person, held.holder)),
                Cell(held.title),
                Cell(held.kind),
                Cell(span(held.valid_from, held.valid_to) if held.valid_to else f"from {day(held.valid_from)}"),
                Cell(state, strong=state.startswith(("past", "not"))),
                scope.proof(held),
            )
        )
    empty = "Training, licences and other credentials: no record found."
    return Table("Training, licences and other credentials", columns, tuple(rows), empty)


def _standing_of(scope: Scope, instrument: InstrumentFact) -> str:
    calibrations = in_order(instrument.calibrations)
    if not calibrations:
        return "no calibration on record"
    last = calibrations[-1]
    if last.result in ("out of tolerance", "no result"):
        return f"last calibration: {last.result}"
    return "holds" if last.valid_to >= scope.as_of else "past its last valid day"


def instruments_table(scope: Scope) -> Table:
    columns = (
        Column("Instrument, kind", 118, names=True),
        Column("Serial number", 64),
        Column("Held by", 70),
        Column("Last calibrated", 62),
        Column("Holds to", 62),
        Column("On the day of the answer", 96),
        Column("Record", 38, small=True),
    )
    rows = []
    for instrument in sorted(scope.facts.instruments, key=lambda i: (_holder(i.holder), i.name.casefold(), i.serial)):
        last = next(iter(reversed(in_order(instrument.calibrations))), None)
        state = _standing_of(scope, instrument)
        rows.append(
            (
                Cell(lines(instrument.name, instrument.kind)),
                Cell(instrument.serial or "not stated"),
                Cell(instrument.holder),
                Cell(day(last.row.happened_on) if last else "no record found"),
                Cell(day(last.valid_to) if last else "no day on record"),
                Cell(state, strong=state != "holds"),
                scope.proof(instrument),
            )
        )
    return Table("Measuring instruments", columns, tuple(rows), "Measuring instruments: no record found.")


def calibrations_table(scope: Scope) -> Table:
    """Every calibration up to the day of the answer: one from before the period may be what a reading rests on."""
    columns = (
        Column("Instrument", 104, names=True),
        Column("Day", 62),
        Column("Certificate", 62),
        Column("Result", 70),
        Column("As found", 114),
        Column("Holds to", 60),
        Column("Record", 38, small=True),
    )
    named = sorted(scope.facts.instruments, key=lambda i: (i.name.casefold(), i.serial))
    rows = tuple(
        (
            Cell(instrument.name),
            Cell(day(done.row.happened_on)),
            Cell(done.certificate),
            Cell(done.result, strong=done.result in ("out of tolerance", "no result")),
            Cell(done.as_found),
            Cell(day(done.valid_to)),
            scope.proof(done),
        )
        for instrument in named
        for done in in_order(instrument.calibrations)
    )
    return Table("Calibrations", columns, rows, "Calibrations: no record found.")


def people_section(scope: Scope) -> Section:
    """Who is named in the period, who was trained, and with which instruments was measured."""
    tables = [named_table(scope), credentials_table(scope), instruments_table(scope)]
    if scope.facts.instruments:
        tables.append(calibrations_table(scope))
    asked = (credentials_table(scope).caption,)  # an inspector asks for it: without a row it says so
    kept = [table for table in tables if table.rows or table.caption in asked]
    return Section("people", "People and instruments", 2, tuple(kept))
