"""Parts of a recalled lot that were fitted on the unit, and the loads run with them.

Which part a notice means: its number (or its name where either carries no number) and its lot as printed or as
received, compared as in `matching`; a notice without a lot means all parts of that number fitted from `made_from` to
`made_to`, both inclusive. A part of that number and those days whose lot is unreadable or not printed may be one of
them: nobody can show that it is not. Rows with a quantity of 0 fitted nothing. Common practice, no source; the
traceability it rests on: 21 CFR 806.2 (consignee, correction, removal) and 820.35(b) (what a service record names).

In doubt: loads since the part was fitted, up to the day the notice was received, and no later than the day the part
came out; where it was fitted after the notice, up to the day it came out or the day judged.

Of two parts of one day at one place both times say which came first. Without them neither of two that were fitted is
shown to have come out; what was found in place was there before another was fitted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import JobFact, PartFact, PartRecallFact, UnitFacts, in_order
from audit.judge.biological import run_of, shown_before
from audit.judge.judgement import Evidence, LookBack

from .inside import History, compose, part_words
from .matching import keys, name_key, same
from .span import KNOWN, DoubtSpan, Point

RECALL = "part recall"
FOUND = "found in place"


@dataclass(frozen=True, slots=True)
class Recalled:
    """A part on the unit that a notice means, or may mean."""

    notice: PartRecallFact
    part: PartFact
    job: JobFact
    unsure: str  # why it only may be one of them; "" when it is
    earlier: PartFact | None  # the part at the position before it
    out_on: date | None  # the day it came out; None: still in
    out: Evidence | None

    @property
    def where(self) -> str:
        """Number and lot in words, for a message."""
        lot = self.part.lot or self.part.receipt_lot
        return f"{self.part.name} {self.part.number}, " + (f"lot {lot}" if lot else f"lot {self.part.lot_state}")


def recalled_parts(unit: UnitFacts, notices, as_of: date) -> list[Recalled]:
    """Every part of the unit that one of the notices means or may mean: by notice, then in order of fitting.

    Whether it is still in is said of the end of `as_of`.
    """
    if not notices:
        return []
    fitted = _fitted(unit)
    return [found for notice in in_order(notices) for found in _of_notice(unit, notice, fitted, as_of)]


def _fitted(unit: UnitFacts) -> list[tuple[PartFact, JobFact]]:
    job_of = {id(p): j for j in unit.jobs for p in j.parts if p.quantity > 0}
    return [(p, job_of[id(p)]) for p in in_order(p for j in unit.jobs for p in j.parts if p.quantity > 0)]


def _of_notice(unit: UnitFacts, notice: PartRecallFact, fitted, as_of: date) -> Iterator[Recalled]:
    held: dict[tuple, list[PartFact]] = {}  # what sat at each position, the last one last
    for part, job in fitted:
        before = held.setdefault(_place(part), [])
        earlier = next((p for p in reversed(before) if shown_before(run_of(p), run_of(part))), None)
        why = meant(notice, part)
        known = part.action == FOUND and earlier is not None and meant(notice, earlier) is not None
        if why is not None and not known:
            out_on, out = _came_out(unit, part, fitted, as_of)
            yield Recalled(notice, part, job, why, earlier, out_on, out)
        before.append(part)


def _place(part: PartFact) -> tuple:
    """Where the part sits; away from listed positions only a part of the same number takes its place."""
    return (part.position,) if part.position else ("", min(keys(part.number or part.name), default=""))


def meant(notice: PartRecallFact, part: PartFact) -> str | None:
    """None: not meant; "": meant; else why it may be meant."""
    if notice.number and part.number:
        if not same(notice.number, part.number):
            return None
    elif name_key(notice.part) != name_key(part.name):
        return None
    if notice.lot and (same(notice.lot, part.lot) or same(notice.lot, part.receipt_lot)):
        return ""
    if not _within(notice, part.row.happened_on):
        return None
    if not notice.lot:
        return ""
    return None if part.lot_state == "printed" and keys(part.lot) else f"lot {part.lot_state or 'not recorded'}"


def _within(notice: PartRecallFact, day: date) -> bool:
    first, last = notice.made_from, notice.made_to
    return (first is None or first <= day) and (last is None or day <= last)


def _came_out(unit: UnitFacts, part: PartFact, fitted, as_of: date) -> tuple[date | None, Evidence | None]:
    """The day another part was at its position, or nothing was."""
    found = []
    for other, _ in fitted:
        taken = other.action != FOUND or not (same(other.lot, part.lot) or other.lot_state != "printed")
        if _place(other) == _place(part) and taken and _shown_later(other, part):
            found.append((other.row.happened_on, Evidence(other.row.ref, part_words(other))))
            break
    for fit in in_order(unit.fits) if part.position else ():
        gone = fit.state in ("none", "missing") and part.row.happened_on < fit.effective_on <= as_of
        if fit.position == part.position and gone:
            found.append((fit.effective_on, Evidence(fit.row.ref, f"{part.name}: {fit.state}")))
    return min(found, key=lambda f: f[0], default=(None, None))


def _shown_later(other: PartFact, part: PartFact) -> bool:
    """Whether the other one is shown to have come to the place after the part."""
    if part.row.happened_on == other.row.happened_on and part.action == FOUND != other.action:
        return not shown_before(run_of(other), run_of(part))
    return shown_before(run_of(part), run_of(other))


# ------------------------------------------------------------------------------------------------ the look-back


def part_recalls(history: History) -> Iterator[tuple[date, LookBack]]:
    """(day known, look-back) of each recalled part on the unit."""
    for found in recalled_parts(history.unit, history.clinic.part_recalls, history.as_of):
        yield _one(history, found)


def _one(history: History, found: Recalled) -> tuple[date, LookBack]:
    notice, part = found.notice, found.part
    received, fitted = notice.row.happened_on, part.row.happened_on
    start = _start(found)
    known = received if received >= fitted else history.as_of
    to, why = known, KNOWN if received >= fitted else "after the day judged"
    if found.out_on is not None and found.out_on <= to:
        to, why = found.out_on, "after the part came out"
    maybe = f" (may be one of them: {found.unsure})" if found.unsure else ""
    trigger = f"part recall received {received.isoformat()}: {found.where}{maybe}"
    back = compose(
        history,
        RECALL,
        trigger,
        DoubtSpan(
            start, to, why, "before it can have been fitted" if part.action == FOUND else "before it was fitted"
        ),
        nothing="found in place, fitted by nobody on record: since when it was there is not known",
        evidence=(
            Evidence(notice.row.ref, f"notice of {received.isoformat()} by {notice.issued_by}: {notice.reason}"),
            Evidence(part.row.ref, part_words(part)),
        ),
        asked=f"the notice asks: {notice.action}" if notice.action else "",
        settled_on=history.decided({notice.row.origin, part.row.origin}) or found.out_on,
        without=frozenset({found.job.row.origin}),
    )
    return max(received, fitted), back


def _start(found: Recalled) -> Point | None:
    part, earlier = found.part, found.earlier
    if part.action != FOUND:
        day = part.row.happened_on
        text = f"fitted on {day.isoformat()} by {found.job.worked_by or 'nobody named'}"
        return Point(day, part.row.happened_at, "", text, found.job.row.origin)
    if earlier is None:
        return None
    day = earlier.row.happened_on
    text = f"found in place; the part before it was fitted on {day.isoformat()}"
    return Point(day, earlier.row.happened_at, "", text)
