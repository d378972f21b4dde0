"""The books of parts of an organisation as facts. Ten queries, whatever there is in them."""

from __future__ import annotations

from collections.abc import Iterable

from audit.facts.stock import (
    BookRow,
    FittedFact,
    RecallNoticeFact,
    RecallToldFact,
    ReceiptFact,
    StockFacts,
    StockMoveFact,
    StockPlaceFact,
)
from records import models as m
from records.log.recalls import FOUND


def stock_facts(owner) -> StockFacts:
    """All that is in force in the books: rows entered in error are left out, corrected ones are as corrected."""
    parts = {part.origin: part for part in m.Part.objects.newest().filter(owner=owner.pk)}
    lots = _rows(m.PartLot, owner, "part")
    kept = {lot.origin for lot in lots}
    moves = [row for row in _rows(m.StockMove, owner, "lot", "place", "to_place") if row.lot.origin in kept]
    fitted = m.FittedPart.objects.in_force().filter(part_lot__origin__in=kept, quantity__gt=0).exclude(action=FOUND)
    fitted = fitted.select_related("entry__logged_by", "part_lot", "unit", "clinic", "job__worked_by")
    return StockFacts(
        ref=str(owner.ref),
        slug=owner.slug,
        name=owner.name,
        places=tuple(_place(row) for row in _rows(m.StockPlace, owner, "keeper")),
        lots=tuple(_lot(row, parts.get(row.part.origin, row.part)) for row in lots),
        moves=tuple(_move(row) for row in moves),
        fitted=tuple(_fitted(row) for row in fitted.order_by("happened_on", "entry_id", "line")),
        recalls=tuple(_notice(row) for row in _rows(m.PartRecall, owner)),
        told=tuple(_told(row) for row in _rows(m.RecallTold, owner, "recall", "clinic", "told_by", "told_to")),
    )


def _rows(model, owner, *along: str) -> Iterable:
    rows = model.objects.in_force().filter(owner=owner.pk).select_related("entry__logged_by", *along)
    return list(rows.order_by("entry__number", "line"))


def _row(row) -> BookRow:
    entry = row.entry
    return BookRow(
        ref=str(row.ref), origin=str(row.origin), number=entry.number, line=row.line, happened_on=row.happened_on,
        logged_at=entry.logged_at, logged_by=str(entry.logged_by), corrected=row.ref != row.origin,
    )  # fmt: skip


def _place(row) -> StockPlaceFact:
    return StockPlaceFact(_row(row), row.name, row.kind, str(row.keeper) if row.keeper else "")


def _lot(row, part) -> ReceiptFact:
    return ReceiptFact(_row(row), part.name, part.number, part.component, row.lot, row.receipt_lot, row.expiry)


def _move(row) -> StockMoveFact:
    to, fitted = str(row.to_place.origin) if row.to_place else "", str(row.fitted or "")
    place, lot = str(row.place.origin), str(row.lot.origin)
    return StockMoveFact(_row(row), lot, row.kind, row.quantity, place, to, fitted, row.reason)


def _fitted(row) -> FittedFact:
    lot, by = str(row.part_lot.origin), str(row.job.worked_by)
    return FittedFact(_row(row), lot, row.quantity, row.clinic.name, row.unit.label, by)


def _notice(row) -> RecallNoticeFact:
    made = row.made_from, row.made_to
    return RecallNoticeFact(_row(row), row.part, row.number, row.lot, *made, row.issued_by, row.reason, row.action)


def _told(row) -> RecallToldFact:
    people = str(row.told_by), str(row.told_to)
    return RecallToldFact(_row(row), str(row.recall.origin), row.clinic.name, *people, row.how, row.said)
