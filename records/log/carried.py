"""A recalled part that goes along with a unit: found in place where it stands now, with the notice that means it."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from datetime import date

from records import access
from records.models import Clinic, FittedPart, Job, JobConclusion, PartRecall, Position, Unit, Visit

from . import may_be_logged, recalls
from .submission import submission

_RECALLED = "recalled parts"
ELSEWHERE = "another place"
BEFORE_IT_CAME = "the record of the unit from before it came here"
_PART = ("name", "number", "lot", "lot_state", "receipt_lot", "expiry", "quantity")


@dataclass(frozen=True)
class MovedUnit:
    """A unit that came: by whom it was moved, to where, its record here, and for which company."""

    by: object
    request_key: object
    to: Clinic
    on: date
    here: Unit
    company: object


def carry_recalled(came: MovedUnit, found: list[tuple[FittedPart, PartRecall]], inputs: dict) -> None:
    """The recalled parts in the unit, as found in place, and the notices that the books here lack; one entry.

    `found`: each part of the record elsewhere with each notice that means it; nothing is written where there is none.
    """
    there = set(map(_as_marked, FittedPart.objects.in_force().filter(unit=came.here, happened_on=came.on)))
    parts = {part.pk: part for part, _ in found if _as_marked(part) not in there}
    notices = _lacking(came, found)
    if not parts and not notices:
        return
    key = uuid.uuid5(uuid.UUID(str(came.request_key)), _RECALLED)
    entry = {"logged_for": came.company, "paper": BEFORE_IT_CAME}
    with submission(came.to, came.by, key, "recalled parts of a unit moved here", inputs, **entry) as s:
        for row in notices:
            s.add(row)
        if parts:
            _found_in_place(s, came, parts, [notice for _, notice in found])


def _lacking(came: MovedUnit, found: list[tuple[FittedPart, PartRecall]]) -> list[PartRecall]:
    known, made = recalls.notices_for(came.to), []
    for part, notice in found:
        said = {"name": part.name, "number": part.number, "lots": (part.lot, part.receipt_lot), "on": came.on}
        if not any(recalls.means(n, **said) and n.action == notice.action for n in (*known, *made)):
            made.append(_notice_here(came, part, notice))
    return made


def _as_marked(part: FittedPart) -> tuple[str, ...]:
    return part.name, part.number, part.lot, part.receipt_lot


def _found_in_place(s, came: MovedUnit, parts: dict[int, FittedPart], notices: list[PartRecall]) -> None:
    mine = {"clinic": came.to, "happened_on": came.on, "zone": may_be_logged.zone_of(came.to)}
    servicer = (came.company or came.to).name
    visit = s.add(Visit(company=came.company, servicer=servicer, technician=came.by.signed(), **mine))
    job = Job(unit=came.here, visit=visit, reason="part recall", worked_by=came.by.signed(), **mine)
    job.contamination = "not declared"
    mine |= {"unit": came.here, "job": s.add(job)}
    here = {p.code: p for p in Position.objects.in_force().filter(unit=came.here)}
    for part in parts.values():
        place = access.as_corrected([part.position])[0] if part.position_id else None
        kept = {name: getattr(part, name) for name in _PART}
        position = here.get(place.code) if place else None
        s.add(FittedPart(position=position, action=recalls.FOUND, old_part="not known", **kept, **mine))
    asks = "; ".join(dict.fromkeys(f"notice of {n.happened_on}: {n.action}" for n in notices))
    words = f"nothing was done here: this came with the unit, as its record said before ({asks})"
    s.add(JobConclusion(conclusion="not worked on", reason=words[:500], **mine))


def _notice_here(came: MovedUnit, part: FittedPart, notice: PartRecall) -> PartRecall:
    """The notice as this clinic's own: of the very lot in the unit; without one, of what was found on that day."""
    lot = part.lot or part.receipt_lot
    day = None if lot else came.on
    row = PartRecall(owner=came.to.organisation_ptr, part=part.name, number=part.number, lot=lot)
    row.made_from, row.made_to, row.action = day, day, notice.action
    row.issued_by = _naming_nobody(notice.issued_by, part.clinic)[:160]
    words = f"{notice.reason} (notice of {notice.happened_on}; the part came with the unit)"
    row.reason = _naming_nobody(words, part.clinic)[:500]
    row.happened_on, row.zone = notice.happened_on, may_be_logged.zone_of(came.to)
    return row


def _naming_nobody(text: str, left: Clinic) -> str:
    return re.sub(re.escape(left.name), ELSEWHERE, text, flags=re.IGNORECASE)
