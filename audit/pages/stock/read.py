"""The rows of a company's parts, read in a fixed number of queries and made what `audit.planning.stock` asks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from audit.planning.round import Lot, Notice, means
from audit.planning.stock import NOT_FITTED, NOT_IN_BAG, LotAccount, StockStep, account, barred
from records import models as m
from records.forms.base import standing_rows
from records.log.recalls import FOUND


@dataclass(frozen=True, slots=True)
class Held:
    """A lot with where it is. `barred` is why it must not be fitted today; `notices` are those that mean it."""

    row: m.PartLot
    account: LotAccount
    barred: str
    notices: tuple[m.PartRecall, ...]


@dataclass(frozen=True)
class Stock:
    """Every lot of the books, by name of its part and the day it came; the places by ref."""

    lots: tuple[Held, ...]
    places: dict[str, m.StockPlace] = field(default_factory=dict)
    notices: list[m.PartRecall] = field(default_factory=list)  # of the books, the newest first

    def name(self, place: str) -> str:
        found = self.places.get(place)
        return found.name if found else "a place entered in error"


def notices_of(company) -> list[m.PartRecall]:
    """The recall notices in force in the books, the newest first."""
    return list(m.PartRecall.objects.in_force().filter(owner=company.pk).order_by("-happened_on", "-id"))


def places_of(company) -> list[m.StockPlace]:
    """The company's places, vans after stores, by name: first versions as corrected."""
    return standing_rows(
        m.StockPlace.objects.filter(owner=company.pk).select_related("keeper").order_by("kind", "name")
    )


def stock_of(company, today: date, *, lot: m.PartLot | None = None) -> Stock:
    """Where each lot of the company is, or that one alone. Nine queries at most."""
    rows = (
        m.PartLot.objects.filter(owner=company.pk).select_related("part").order_by("part__name", "happened_on", "id")
    )
    lots = standing_rows(rows if lot is None else rows.filter(origin=lot.origin))
    parts = {p.origin: p for p in standing_rows(m.Part.objects.filter(owner=company.pk))}
    for each in lots:
        each.part = parts.get(each.part.origin, each.part)
    places = {str(p.origin): p for p in places_of(company)}
    notices = notices_of(company)
    steps = _steps(company, lots, places.values())
    return Stock(tuple(_held(each, steps[each.origin], notices, today) for each in lots), places, notices)


def in_stock_words(row: m.PartLot) -> Lot:
    """The lot as the round's list of parts has it."""
    part = row.part
    return Lot(part.name, part.number, part.component, row.lot, row.receipt_lot, row.expiry)


def meaning(notices: Iterable[m.PartRecall], row: m.PartLot) -> tuple[m.PartRecall, ...]:
    """Those of the notices that mean the lot, or may: nobody can show that one without a printed lot is not meant."""
    lot = in_stock_words(row)
    return tuple(n for n in notices if means(Notice(n.part, n.number, n.lot if row.lot else "", ""), lot))


def _words(notice: m.PartRecall, row: m.PartLot) -> str:
    sure = means(Notice(notice.part, notice.number, notice.lot, ""), in_stock_words(row))
    return f"{'recalled' if sure else 'may be of a lot recalled'} by {notice.issued_by}: {notice.action}"


def _held(row: m.PartLot, steps: list[StockStep], notices, today: date) -> Held:
    found = meaning(notices, row)
    doubt = "; ".join(_words(n, row) for n in found)
    return Held(row, account(steps, today), barred(row.expiry, doubt, today), found)


def _steps(company, lots, places) -> dict:
    """By the origin of each lot what became of it: the movements in the books, and what visits fitted."""
    found = defaultdict(list)
    said: dict = {}
    wanted = [lot.pk for lot in lots]
    moves = m.StockMove.objects.in_force().filter(owner=company.pk, lot__in=wanted)
    for row in moves.select_related("lot", "place", "to_place"):
        if row.kind == "fitted":
            said[row.fitted] = (str(row.place.origin), str(row.ref))
            continue
        to = str(row.to_place.origin) if row.to_place else ""
        order = (row.entry_id, row.line)
        found[row.lot.origin].append(
            StockStep(
                row.happened_on,
                order,
                row.kind,
                row.quantity,
                str(row.place.origin),
                to,
                "",
                row.reason,
                str(row.ref),
            )
        )
    vans = _vans(places)
    fitted = m.FittedPart.objects.in_force().filter(part_lot__in=wanted).exclude(action=FOUND)
    for row in fitted.select_related("part_lot", "unit", "clinic", "job__worked_by"):
        if not row.quantity:
            found[row.part_lot.origin] += _stayed(row)
            continue
        place, ref = said.get(row.origin, ("", ""))
        van = vans.get(row.job.worked_by.person_id, "")
        words = f"{row.unit.label}, {row.clinic.name}"
        order = (row.entry_id, row.line)
        step = StockStep(row.happened_on, order, "fitted", row.quantity, place, "", van, words, ref, str(row.origin))
        found[row.part_lot.origin].append(step)
    return found


def _stayed(row: m.FittedPart) -> list[StockStep]:
    """A piece of a kit that was not fitted: nothing of the lot moved."""
    if not row.kit_pieces:
        return []
    kind = NOT_IN_BAG if row.kit_fate == NOT_IN_BAG else NOT_FITTED
    words = f"{row.kit_fate}, {row.kit}: {row.unit.label}, {row.clinic.name}"
    return [StockStep(row.happened_on, (row.entry_id, row.line), kind, row.kit_pieces, "", words=words)]


def _vans(places) -> dict[int, str]:
    """By person the van that is theirs; nobody with several of them."""
    held = defaultdict(list)
    for place in places:
        if place.kind == "van" and place.keeper_id:
            held[place.keeper.person_id].append(str(place.origin))
    return {person: refs[0] for person, refs in held.items() if len(refs) == 1}
