"""Which parts a recall notice in the books means: asked before one is fitted, and marked wherever one is offered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date

from django.db.models import Q

from records import access
from records.models import Clinic, Fit, FittedPart, PartLot, PartRecall, Unit

from .errors import InputPlace, Problem

FOUND = "found in place"
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015_./]+")
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")


def notices_for(clinic: Clinic) -> list[PartRecall]:
    """The notices in force in the books of the clinic and of the companies that serve it, the oldest first."""
    serving = access.agreements().filter(clinic=clinic).values("company_id")
    owned = Q(owner=clinic.pk) | Q(owner__in=serving)
    return list(PartRecall.objects.in_force().filter(owned).order_by("happened_on", "id"))


def means(notice: PartRecall, *, name: str, number: str, lots: Iterable[str], on: date) -> bool:
    """Whether the notice means such a part fitted on that day; the days it names are inclusive.

    Numbers and lots are compared without case, separators and leading zeros, as judgement looks back at them: it is
    better to ask about one part too many. A part without a lot may be of every one.
    """
    if notice.number and number:
        part = _same(notice.number, number)
    else:
        part = _name(notice.part) == _name(name)
    known = [lot for lot in lots if lot]
    lot = not notice.lot or not known or any(_same(notice.lot, each) for each in known)
    first, last = notice.made_from or date.min, notice.made_to or date.max
    return part and lot and first <= on <= last


def recalled_on(unit: Unit, notices: Iterable[PartRecall], on: date) -> Iterator[tuple[FittedPart, PartRecall]]:
    """Each part that a notice means and that nothing on record shows to have come out by `on`, with each such notice.

    `unit` and the rows of the unit are first versions. What sits at one place is told apart by days alone: of two
    parts of one day neither is shown to have come out.
    """
    held = [p for p in FittedPart.objects.in_force().filter(unit=unit) if p.quantity and p.happened_on <= on]
    gone = list(Fit.objects.in_force().filter(unit=unit, state__in=("none", "missing"), effective_on__lte=on))
    notices = list(notices)
    for part in held:
        if any(_takes_out(other, part) for other in held) or any(_leaves_empty(fit, part) for fit in gone):
            continue
        said = {"name": part.name, "number": part.number, "lots": (part.lot, part.receipt_lot)}
        yield from ((part, notice) for notice in notices if means(notice, **said, on=part.happened_on))


def taken_out(rows: Iterable[FittedPart]) -> dict:
    """By the origin of each part that something on record shows to have come out the first such day. Two queries."""
    rows = list(rows)
    units = {row.unit_id for row in rows}
    held = [p for p in FittedPart.objects.in_force().filter(unit__in=units) if p.quantity]
    gone = list(Fit.objects.in_force().filter(unit__in=units, state__in=("none", "missing")))
    days = {}
    for part in rows:
        found = [p.happened_on for p in held if p.unit_id == part.unit_id and _takes_out(p, part)]
        found += [f.effective_on for f in gone if f.unit_id == part.unit_id and _leaves_empty(f, part)]
        if found:
            days[part.origin] = min(found)
    return days


def _takes_out(other: FittedPart, part: FittedPart) -> bool:
    """Whether another part came to the place of one on a later day, or sits there by the lot printed on it."""
    if other.happened_on <= part.happened_on or other.position_id != part.position_id:
        return False
    if part.position_id is None and not _same(other.number or other.name, part.number or part.name):
        return False
    return other.action != FOUND or (other.lot_state == "printed" and not _same(other.lot, part.lot))


def _leaves_empty(fit: Fit, part: FittedPart) -> bool:
    return (
        part.position_id is not None and fit.position_id == part.position_id and fit.effective_on > part.happened_on
    )


def doubt_of(notices: Iterable[PartRecall], lot: PartLot, on: date) -> str:
    """What is said of a lot in stock that a notice means if it is fitted on that day; "" for none."""
    for notice in notices:
        part = {"name": lot.part.name, "number": lot.part.number, "lots": (lot.lot, lot.receipt_lot), "on": on}
        if means(notice, **part):
            return words_of(notice)
    return ""


def words_of(notice: PartRecall) -> str:
    """The notice in a few words."""
    said = f"{notice.reason} ({notice.action})"
    return f"in doubt by the notice of {notice.happened_on} from {notice.issued_by}: {said}"


def fitted(place: InputPlace, part: dict, notices: Iterable[PartRecall], on: date) -> Iterator[Problem]:
    """A part that a notice means is asked about when it is fitted; one that was only found in place is not."""
    if part.get("action") == FOUND or part.get("quantity") == 0:
        return
    lot = part.get("part_lot")
    held = {
        "name": part.get("name") or (lot.part.name if lot else ""),
        "number": part.get("number") or (lot.part.number if lot else ""),
        "lots": [part.get("lot"), part.get("receipt_lot"), *((lot.lot, lot.receipt_lot) if lot else ())],
    }
    for notice in notices:
        if means(notice, **held, on=on):
            yield Problem(
                place / ("part_lot" if lot else "lot"),
                f"{held['name']} is {words_of(notice)}. Fit another one. If it was really fitted, confirm it; it is "
                "recorded and flagged.",
                confirm="recalled-part",
            )
            return


def _keys(text: str) -> frozenset[str]:
    groups = [g for g in _SEPARATORS.split(text.casefold()) if g]
    if not groups:
        return frozenset()
    return frozenset({"".join(_ZEROS.sub("", g) for g in groups), _ZEROS.sub("", "".join(groups))})


def _same(one: str, other: str) -> bool:
    return not _keys(one).isdisjoint(_keys(other))


def _name(text: str) -> str:
    return " ".join(text.casefold().split())
