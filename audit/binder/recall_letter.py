"""The letter about a part recall to one clinic: its own units alone, and what the notice asks. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from audit.binder.sections import Binder, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.written_on_paper import day

START = "contents"  # a letter lists no pages: its head stands where they would be led back to

# What the clinic is to do, by what the notice asks for. Common practice, no source.
_ASKS = {
    "stop use": "Do not use these units from now on. Tag each of them. They return to use when the part was "
    "replaced and the tests after that work were passed.",
    "replace": "The part is to be replaced. Agree the day with us, and follow the notice until then.",
    "inspect": "The part is to be inspected as the notice says. Agree the day with us, and follow the notice until "
    "then.",
    "use until": "The part is to be replaced by the day that the notice allows. Agree an earlier day with us.",
}
_LOADS = (
    "Loads that were run while the part was in: the record of each unit lists them as loads affected. Somebody at "
    "your clinic decides about each of them and records it. Keep packs of these loads aside until then."
)


@dataclass(frozen=True, slots=True)
class LetterNotice:
    """The notice as the books have it; "" for `number` or `lot` means all of them."""

    received: date
    issued_by: str
    part: str
    number: str
    lot: str
    reason: str
    action: str


@dataclass(frozen=True, slots=True)
class LetterPart:
    """A part of the clinic that the notice means or may mean. `unsure` is why it only may; `state` open or done."""

    unit: str
    serial: str
    part: str
    fitted_on: date
    unsure: str
    state: str


def recall_letter(
    company: str, clinic: str, notice: LetterNotice, parts: Sequence[LetterPart], today: date
) -> Binder:
    """The letter as a binder of one section; with no part it says that none was found, as of `today`."""
    head = KeyValues(
        "",
        (
            ("To", Cell(clinic)),
            ("From", Cell(company)),
            ("Date", Cell(day(today))),
            ("Notice", Cell(f"received {day(notice.received)} from {notice.issued_by}")),
            ("Part", Cell(_which(notice))),
            ("Why", Cell(notice.reason)),
            ("The notice asks", Cell(notice.action, strong=True)),
        ),
    )
    open_parts = [part for part in parts if part.state == "open"]
    said = [Paragraph(_summary(parts, open_parts), "strong")]
    if open_parts:
        said += [Paragraph(_ASKS.get(notice.action, "Do what the notice asks."))]
    blocks = [head, *said, *([_table(parts), Paragraph(_LOADS)] if parts else [])]
    blocks += [Paragraph("The notice itself and the maker’s instructions stand above this letter.", "small")]
    return Binder(
        title=f"Part recall: {clinic}, {day(today)}",
        clinic=clinic,
        period=f"notice of {day(notice.received)}",
        from_on=notice.received,
        to_on=today,
        as_of=today,
        known_at=None,
        forbidding=0,
        sections=(Section(START, "Part recall", 1, tuple(blocks)),),
    )


def _which(notice: LetterNotice) -> str:
    number = notice.number or "every number"
    return f"{notice.part}, {number}, " + (f"lot {notice.lot}" if notice.lot else "every lot")


def _summary(parts, open_parts) -> str:
    if not parts:
        return "By our record no part that the notice means was fitted on a unit of yours."
    units = len({part.unit for part in open_parts})
    if not units:
        return "By our record nothing is left to do on your units: see the list."
    return f"{units} of your units {'has' if units == 1 else 'have'} such a part in, or may have."


def _table(parts: Sequence[LetterPart]) -> Table:
    columns = (
        Column("Unit", 120, names=True),
        Column("Part and lot", 170),
        Column("Fitted", 70),
        Column("State", 150),
    )
    rows = tuple(
        (
            Cell(f"{p.unit}\nserial {p.serial}"),
            Cell(p.part + (f"\nmay be one of them: {p.unsure}" if p.unsure else "")),
            Cell(day(p.fitted_on)),
            Cell("open" if p.state == "open" else p.state, strong=p.state == "open"),
        )
        for p in parts
    )
    return Table("", columns, rows)
