"""Facts of an organisation's books of parts: where parts lie, what became of each lot, who was told of a recall.

Judgement reads none of them; they are what the open file format carries of a stock. How many lie where is computed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class BookRow:
    """Where a fact of the books comes from: the row, its entry in the ledger of the books, the two kinds of time."""

    ref: str  # of the version in force
    origin: str  # of the first version; what other facts point to
    number: int  # of the ledger entry; larger is later
    line: int  # within the entry
    happened_on: date
    logged_at: datetime
    logged_by: str
    corrected: bool = False  # an earlier version exists


@dataclass(frozen=True, slots=True)
class StockPlaceFact:
    """A store or a van. `keeper`: whose van it is, "" for nobody's alone."""

    row: BookRow
    name: str
    kind: str  # store, van
    keeper: str


@dataclass(frozen=True, slots=True)
class ReceiptFact:
    """A lot of a kind of part as it was received. `lot` as printed, "" for none; `expiry` None: it carries none."""

    row: BookRow
    part: str
    number: str
    component: str
    lot: str
    receipt_lot: str
    expiry: date | None


@dataclass(frozen=True, slots=True)
class StockMoveFact:
    """What became of parts of a lot. `quantity` of a count is what lies there.

    `lot`, `place` and `to_place` are origins in this file, `fitted` that of a row of `FittedFact`; "" for none.
    """

    row: BookRow
    lot: str
    kind: str  # received, moved, fitted, returned, thrown away, counted
    quantity: int
    place: str
    to_place: str
    fitted: str
    reason: str


@dataclass(frozen=True, slots=True)
class FittedFact:
    """A part of a lot that a visit fitted: it stands in the ledger of the clinic, whose entry `row` names."""

    row: BookRow
    lot: str
    quantity: int
    clinic: str  # its name
    unit: str  # its label
    worked_by: str


@dataclass(frozen=True, slots=True)
class RecallNoticeFact:
    """A notice on a part, of one lot or of all (""). Days of make are inclusive, None where the notice names none."""

    row: BookRow
    part: str
    number: str
    lot: str
    made_from: date | None
    made_to: date | None
    issued_by: str
    reason: str
    action: str  # replace, inspect, use until, stop use


@dataclass(frozen=True, slots=True)
class RecallToldFact:
    """A clinic was told of a notice. `recall` is its origin in this file."""

    row: BookRow
    recall: str
    clinic: str  # its name
    told_by: str
    told_to: str
    how: str  # letter, mail, telephone, in person
    said: str


@dataclass(frozen=True, slots=True)
class StockFacts:
    """The books of one organisation, each list in the order of its rows."""

    ref: str
    slug: str
    name: str
    places: tuple[StockPlaceFact, ...] = ()
    lots: tuple[ReceiptFact, ...] = ()
    moves: tuple[StockMoveFact, ...] = ()
    fitted: tuple[FittedFact, ...] = ()
    recalls: tuple[RecallNoticeFact, ...] = ()
    told: tuple[RecallToldFact, ...] = ()


WORDS: dict[type, dict[str, tuple]] = {
    StockPlaceFact: {"kind": ("store", "van")},
    StockMoveFact: {"kind": ("received", "moved", "fitted", "returned", "thrown away", "counted")},
    RecallNoticeFact: {"action": ("replace", "inspect", "use until", "stop use")},
    RecallToldFact: {"how": ("letter", "mail", "telephone", "in person")},
}
