"""The sheet of a service visit to one unit: what to confirm, what is due, what was fitted, which tests come after."""

from __future__ import annotations

from audit.binder.after_work import counter_words
from audit.binder.blank_forms import work
from audit.binder.blank_forms.about import (
    CAUTION,
    LINE,
    FormSubject,
    chamber,
    copied,
    maker_model,
    outranked,
    page_name,
    room_of,
    standing,
)
from audit.binder.blank_forms.values import Boxes, FormBlock, FormEntry, FormTable, PaperForm, said, tick
from audit.binder.blank_forms.worked_on import worked_on
from audit.binder.sections import Column, Paragraph
from audit.binder.written_on_paper import NO_RECORD, day, lines, unit_title
from records.wording import CONTAMINATION, JOB_REASONS, MAKE_SAFE_IF_FITTED, MAKE_SAFE_STEPS, NOT_ON_THIS_UNIT

VISIT_SHEET = "Visit sheet"


def _identification(about: FormSubject) -> FormTable:
    unit = about.unit
    columns = (
        Column("Read the plate", 20),
        Column("On record", 36),
        Column("As read", 12),
        Column("If it differs: what the plate says", 32),
    )
    known = (
        ("Serial number", unit.serial),
        ("Maker, model", maker_model(about)),
        ("Type, chamber; UDI", f"{chamber(about)}; {unit.udi or 'none on the plate'}"),
    )
    rows = tuple((said(name), said(text or NO_RECORD), tick("the same"), FormEntry()) for name, text in known)
    return FormTable("Identification, to be confirmed before any work", columns, rows)


def _arrival(about: FormSubject) -> Boxes:
    """Counters, who came when and why, what the clinic says of the unit."""
    cycles, hours = (counter_words(about.unit, counter) for counter in ("cycles", "hours"))
    return Boxes(
        "",
        (
            (
                FormEntry("Cycle counter now", hint=f"on record: {cycles}"),
                FormEntry("Hour counter now", hint=f"on record: {hours}"),
                FormEntry("Board changed: last of the old counter"),
            ),
            (
                FormEntry("Arrived at"),
                FormEntry("Left at"),
                FormEntry("Technician", weight=1.6),
                FormEntry("Company, report number", weight=1.6),
            ),
            (
                FormEntry("Reason", ticks=JOB_REASONS, weight=2.4),
                FormEntry("Contamination, stated by the clinic", ticks=CONTAMINATION, weight=1.8),
                FormEntry("Stated by, signature", weight=1.3),
            ),
            (FormEntry("Complaint in the user's words; messages, cycle numbers"),),
        ),
    )


def _make_safe() -> FormTable:
    """The steps in their order, one to a line: two side by side, the left ones read downwards open a hot unit."""
    columns = (Column("Make safe, in this order", 57), Column("Done", 24), Column("At, or why not", 19))
    rows = tuple(
        (said(f"{n}. {step}"), tick("done", *([NOT_ON_THIS_UNIT] if key in MAKE_SAFE_IF_FITTED else [])), FormEntry())
        for n, (key, step, _) in enumerate(MAKE_SAFE_STEPS, start=1)
    )
    note = "The maker's order where another. Not done: stop, open nothing. No zero on the gauge: say what instead."
    return FormTable("", columns, rows, note=note)


def _conclusion() -> Boxes:
    return Boxes(
        "Class and conclusion",
        (
            (
                FormEntry(
                    "Repair class",
                    ticks=("routine", "significant", "major", "do not use"),
                    hint="why that class",
                    room=True,
                ),
                FormEntry(
                    "Conclusion",
                    ticks=("released", "limited", "pending", "not released", "not worked on"),
                    hint="limited to what, accepted by whom; pending: accepted by whom, until which day; else why",
                    room=True,
                    weight=1.3,
                ),
            ),
            (
                FormEntry("Technician releases: name, credential", weight=1.4),
                FormEntry("Signature"),
                FormEntry("Day, time", weight=0.7),
            ),
            (
                FormEntry(
                    "Clinic returns to use: name, role",
                    ticks=("left out of use", "refused: why", "nobody present"),
                    room=True,
                    weight=1.4,
                ),
                FormEntry("Signature"),
                FormEntry("Day, time", weight=0.7),
            ),
        ),
    )


def _getting_in(about: FormSubject) -> Paragraph | None:
    """Where it is and whom to ask for; nothing where nobody has said it."""
    told = "; ".join(f"{name}: {' '.join(text.split())}" for name, text in about.getting_in)
    return Paragraph(f"{told}.", "small") if told else None


def _head(about: FormSubject) -> Boxes:
    on = FormEntry("Day of the visit", day(about.on) if about.on else "", strong=True, weight=20)
    unit = FormEntry("Unit, room", lines(about.unit.label, room_of(about)), strong=True, weight=22)
    return Boxes("", ((unit, standing(about, 58), on),), tall=8.0)


def visit_sheet(about: FormSubject) -> PaperForm:
    """The sheet of a visit to one unit."""
    page = page_name(VISIT_SHEET, about, day(about.on) if about.on else LINE)
    blocks: list[FormBlock | None] = [
        _head(about),
        _getting_in(about),
        outranked(about),
        _identification(about),
        _arrival(about),
        Paragraph(CAUTION, "small"),
        _make_safe(),
        work.open_items(about),
        work.tasks(about),
        *work.not_due(about),
        work.fits(about),
        work.readings(about),
        work.parts(about),
        work.tests(about),
        worked_on(about),
        _conclusion(),
        *copied(about, page),
    ]
    kept = tuple(block for block in blocks if block is not None)
    return PaperForm(
        f"visit-{about.unit.ref}", f"{VISIT_SHEET}: {unit_title(about.unit.label)}", about.unit.label, page, kept
    )
