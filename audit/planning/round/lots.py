"""Receipts of parts that a notice puts in doubt."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from audit.judge.lookback.matching import name_key, same

from .values import Lot


@dataclass(frozen=True, slots=True)
class Notice:
    """A part recall: which part and lot it means. "" for `number` or `lot` means all of them."""

    part: str
    number: str
    lot: str
    words: str


def with_doubts(lots: Iterable[Lot], notices: Iterable[Notice]) -> tuple[Lot, ...]:
    """The lots, those that a notice means with its words. Compared as where parts on a unit are looked back at."""
    notices = tuple(notices)
    return tuple(replace(lot, doubt=next((n.words for n in notices if means(n, lot)), "")) for lot in lots)


def means(notice: Notice, lot: Lot) -> bool:
    """Whether the notice means a lot in stock, whenever it is going to be fitted."""
    if notice.number and lot.number:
        part = same(notice.number, lot.number)
    else:
        part = name_key(notice.part) == name_key(lot.name)
    return part and (not notice.lot or same(notice.lot, lot.lot) or same(notice.lot, lot.receipt_lot))
