"""The parts to bring for some stops, added up, with the lots on record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from audit.judge.lookback.matching import keys, name_key, same

from .values import Bring, Lot, Need, Stop, Sure, WorkItem

OUT_OF_DATE = "out of date by then"
_SUREST = {sure: n for n, sure in enumerate(Sure)}


def bring(stops: Iterable[Stop], lots: Sequence[Lot], on: date) -> tuple[Bring, ...]:
    """One line for each part: the same name, number and kit are added up, however sure; the surest lines first.

    A position that several things are to be done to takes its part once. A lot is offered when it may still be
    fitted on `on`; others of the part are named as barred, each with the reason.
    """
    lines: dict[tuple, list[tuple[WorkItem, Need]]] = {}
    for item, need in _once(stops):
        key = (_SUREST[need.sure], name_key(need.kit), name_key(need.name), _number(need.number), need.component)
        lines.setdefault(key, []).append((item, need))
    return tuple(_line(lines[key], lots, on) for key in sorted(lines))


def _once(stops: Iterable[Stop]) -> list[tuple[WorkItem, Need]]:
    """Of all needs of a position the one that is surest, then the one of most pieces."""
    best: dict[tuple, tuple[WorkItem, Need]] = {}
    for item in (item for stop in stops for item in stop.items):
        for need in item.needs:
            # Two different parts may sit at one position; the same part is taken once.
            key = (item.clinic, item.unit, need.place, name_key(need.name), _number(need.number))
            held = best.get(key)
            if held is None or _rank(need) < _rank(held[1]):
                best[key] = (item, need)
    return list(best.values())


def _rank(need: Need):
    return (_SUREST[need.sure], -need.quantity)


def _line(pairs: list[tuple[WorkItem, Need]], lots: Sequence[Lot], on: date) -> Bring:
    need = pairs[0][1]
    mine = [lot for lot in lots if _is_of(lot, need)]
    barred = [(lot, why) for lot in mine if (why := _bar(lot, on))]
    return Bring(
        name=need.name,
        number=need.number,
        component=need.component,
        kit=need.kit,
        quantity=sum(n.quantity for _, n in pairs),
        sure=need.sure,
        where=tuple(sorted({f"{i.clinic_name}, {i.label}: {n.where}" for i, n in pairs})),
        why=tuple(dict.fromkeys(n.why for _, n in pairs if n.why)),
        lots=tuple(sorted((lot for lot in mine if not _bar(lot, on)), key=_oldest_first)),
        barred=tuple(barred),
    )


def _oldest_first(lot: Lot):
    """What goes out of date first is fitted first; common practice, no source."""
    return (lot.expiry is None, lot.expiry or date.max, lot.receipt_lot)


def _bar(lot: Lot, on: date) -> str:
    return lot.doubt or (OUT_OF_DATE if lot.expiry is not None and lot.expiry < on else "")


def _is_of(lot: Lot, need: Need) -> bool:
    """By number where both have one, else by name; of a part whose number nobody knows any of that component."""
    if need.sure is Sure.FITTED or need.number:
        if need.number and lot.number:
            return same(lot.number, need.number)
        return name_key(lot.name) == name_key(need.name)
    return name_key(lot.component) == name_key(need.component)


def _number(number: str) -> str:
    """A number as it is compared: people type spaces and hyphens as they like."""
    return min(keys(number), default="")
