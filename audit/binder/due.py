"""What is due on a unit, and what is fitted: due items, options and parts by position in one table."""

from __future__ import annotations

from collections.abc import Iterable

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Paragraph, Table
from audit.binder.spore_words import verdicts_of
from audit.binder.written_on_paper import NO_BREAK, NO_RECORD, dated, day, days, first_upper, labelled, lines
from audit.facts import FitFact, OutcomeFact, PartFact, PositionFact, newest
from audit.judge.judgement import Clock, State

_COLUMNS = (
    Column("Task", 118, names=True),
    Column("Asked", 112),
    Column("Last done", 106),
    Column("Lot (receipt)", 80),
    Column("Next due", 56),
    Column("Record", 38, small=True),
)
_FITTED = {"yes": "", "none": "not fitted", "missing": "should be there, is missing"}
PART_RECALL = "part recall"
_NEVER = "never done since installation on"
_FIRST = ", whichever comes first"  # said once under the table
_IN_GRACE = "*"  # said once under the table


def part_at(scope: Scope, unit: UnitScope, position: str) -> PartFact | None:
    """The part fitted last at a position by the day of the answer, whenever that was."""
    parts = [p for job in unit.facts.jobs for p in job.parts if p.position == position]
    return newest([p for p in parts if p.row.happened_on <= scope.as_of], lambda p: p.row.happened_on)


def _work_at(scope: Scope, unit: UnitScope, position: str) -> OutcomeFact | None:
    """The work done last at a position."""
    done = [o for job in unit.facts.jobs for o in job.outcomes if o.position == position and o.outcome == "done"]
    return newest([o for o in done if o.row.happened_on <= scope.as_of], lambda o: o.row.happened_on)


def _fit_of(scope: Scope, unit: UnitScope, position: PositionFact) -> FitFact | None:
    stated = [f for f in unit.facts.fits if f.position == position.row.origin and f.effective_on <= scope.as_of]
    return newest(stated, lambda f: f.effective_on)


def _fit_words(fit: FitFact | None) -> str:
    """Whether a position is fitted, "" where it plainly is."""
    if fit is None:
        return "not known whether fitted"
    return lines(labelled(_FITTED.get(fit.state, fit.state), fit.note) or _FITTED.get(fit.state, fit.state))


def recalled_parts(unit: UnitScope) -> set[str]:
    """The refs of parts that a notice means."""
    backs = [back for back in (unit.judgement.look_backs if unit.judgement else ()) if back.kind == PART_RECALL]
    fitted = {part.row.ref for job in unit.facts.jobs for part in job.parts}
    # The part that a notice means stands beside the notice; where it does not, among the parts of the window.
    named = [{each.ref for each in back.evidence} & fitted or {each.ref for each in back.parts} for back in backs]
    return set().union(*named)


def lot_words(part: PartFact) -> str:
    """The lot as printed, or why there is none, with the lot of the receipt."""
    printed = part.lot if part.lot_state in ("printed", "") else f"lot {part.lot_state}"
    return lines(printed or "no lot on record", labelled("receipt lot", part.receipt_lot))


def lot_and_receipt(part: PartFact) -> str:
    """S5-2508A (TW-0311); in words where no lot is printed."""
    printed = part.lot if part.lot and part.lot_state in ("printed", "") else ""
    if not printed:
        printed = part.lot_state if part.lot_state not in ("printed", "") else "no lot on record"
    return f"{printed} ({part.receipt_lot})" if part.receipt_lot else printed


def _lot_cell(unit: UnitScope, part: PartFact | None, fit: str) -> Cell:
    told = lot_and_receipt(part) if part else ""
    if part and part.row.ref in recalled_parts(unit):
        told = f"{told}, recalled"
    return Cell(lines(told, fit), bold=(part.lot, "recalled") if part and told.endswith("recalled") else ())


def _last_done(scope: Scope, unit: UnitScope, clock: Clock) -> str:
    """The day something was done, and what it was, in few words where the rows say them."""
    evidence = clock.counts_from
    if evidence is None:
        return NO_RECORD
    row = scope.rows.get(evidence.ref)
    if row is None:
        return dated(evidence.text)
    if evidence.text.startswith(_NEVER):
        return dated(evidence.text.replace(_NEVER, "never since", 1))
    verdicts = verdicts_of(unit)
    for job in unit.facts.jobs:
        for part in job.parts:
            if part.row.ref == evidence.ref:
                return f"{day(part.row.happened_on)}, {part.action.removeprefix('replaced ')}"
        for done in job.outcomes:
            if done.row.ref == evidence.ref:
                return f"{day(done.row.happened_on)}, {done.outcome}"
    for test in unit.facts.bio_tests:
        if test.row.ref == evidence.ref and test.row.origin in verdicts:
            return f"{day(test.row.happened_on)}, {verdicts[test.row.origin].verdict}"
    return dated(evidence.text.removeprefix(f"{clock.title}, "))


def short_title(clock: Clock) -> str:
    """The name of a due item without what stands in brackets behind it: Spore test."""
    return clock.title.split(" (")[0]


def _asked(clock: Clock) -> str:
    """How often, without the action or the kind of paper, which its name says."""
    action = f"{clock.action} " if clock.action else ""
    subject = f"{clock.subject}: " if clock.subject else ""
    return clock.rule.removeprefix(action).removeprefix(subject).replace(_FIRST, "")


def _put_off(clock: Clock) -> bool:
    """Whether its day was put off at a visit, which tells by whom and why."""
    return clock.note.startswith("postponed on ")


def _next(scope: Scope, clock: Clock) -> Cell:
    late = clock.days_overdue(scope.as_of)
    worst = clock.state in (State.OVERDUE, State.NO_EVIDENCE)
    projected = "projected from counters" if clock.projected else ""
    put_off = "put off" if _put_off(clock) else ""
    due = day(clock.due_on, "")
    said = clock.state.value if worst or not due else ""
    if clock.state is State.IN_GRACE and due:
        due = f"{due}{NO_BREAK}{_IN_GRACE}"
    return Cell(lines(due, f"overdue by {days(late)}" if late else said, put_off, projected), strong=worst)


def _clock_row(scope: Scope, unit: UnitScope, clock: Clock) -> tuple[Cell, ...]:
    position = next((p for p in unit.facts.positions if p.row.origin == clock.position), None)
    fit = _fit_of(scope, unit, position) if position else None
    part = part_at(scope, unit, clock.position) if clock.position else None
    fitted = _fit_words(fit) if position and (fit is None or fit.state != "yes") else ""
    refs = [clock.counts_from.ref] if clock.counts_from else []
    refs += [part.row.ref] if part else []
    refs += [fit.row.ref] if fit and fitted else []
    return (
        Cell(lines(short_title(clock), "while it is not met the unit may not be used" if clock.forbids else "")),
        Cell(_asked(clock)),
        Cell("" if clock.state is State.NOT_APPLICABLE else _last_done(scope, unit, clock)),
        _lot_cell(unit, part, fitted),
        _next(scope, clock) if clock.state is not State.NOT_APPLICABLE else Cell(""),
        scope.refs(refs),
    )


def _position_row(scope: Scope, unit: UnitScope, position: PositionFact) -> tuple[Cell, ...]:
    """A position that no due item is about: the part that sits there, else what was done there."""
    fit, part = _fit_of(scope, unit, position), part_at(scope, unit, position.row.origin)
    work = _work_at(scope, unit, position.row.origin)
    fitted = _fit_words(fit) if fit is None or fit.state != "yes" else ""
    done = ""
    if part:
        done = f"{day(part.row.happened_on)}, {part.action.removeprefix('replaced ')}"
    elif work:
        done = f"{day(work.row.happened_on)}, {work.action}"
    elif not fitted:
        done = "no work on record"
    return (
        Cell(position.name),
        Cell(""),
        Cell(done),
        _lot_cell(unit, part, fitted),
        Cell(""),
        scope.proof(part or work, fit if fitted or not (part or work) else None),
    )


def due_table(scope: Scope, unit: UnitScope) -> Table:
    """Each due item with the part that it is about, then the positions that none is about."""
    clocks = unit.judgement.clocks if unit.judgement else ()
    told = [clock for clock in clocks if clock.state is not State.NOT_APPLICABLE or clock.position]
    about = {clock.position for clock in told}
    rest = [p for p in sorted(unit.facts.positions, key=lambda p: p.code) if p.row.origin not in about]
    rows = (
        *(_clock_row(scope, unit, clock) for clock in told),
        *(_position_row(scope, unit, position) for position in rest),
    )
    empty = "What is due, and what is fitted: no plan, no duty and no position is on record for this unit."
    lines_ = tuple(range(len(rows)))
    return Table("What is due, and what is fitted", _COLUMNS, rows, empty, ruled=lines_, tight=True)


def _sources(scope: Scope, clocks: Iterable[Clock]) -> str:
    """Where each due item stands, those of one source together; the one of most items is that of all others."""
    found: dict[str, list[str]] = {}
    for clock in clocks:
        found.setdefault(scope.cite(clock.source), []).append(short_title(clock))
    named = sorted(((cite, titles) for cite, titles in found.items() if cite), key=lambda each: len(each[1]))
    told = [f"{', '.join(dict.fromkeys(titles))}: {cite}" for cite, titles in named[:-1]]
    told += [f"{'All others' if told else 'Source'}: {cite}" for cite, _ in named[-1:]]
    return "".join(f" {each}." for each in told)


def due_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """The table, then where the due items stand, and what is to be said of some of them."""
    clocks = unit.judgement.clocks if unit.judgement else ()
    table = due_table(scope, unit)
    told = [clock for clock in clocks if clock.state is not State.NOT_APPLICABLE]
    fitted = {clock.id for clock in clocks if clock.state is State.NOT_APPLICABLE and clock.position}
    noted = [clock for clock in clocks if clock.note and clock.id not in fitted and not _put_off(clock)]
    notes = [f"{short_title(clock)}: {dated(clock.note)}." for clock in noted]
    plain = [c for c in clocks if c.state is State.NOT_APPLICABLE and not c.position and not c.note]
    notes += [f"{clock.title}: not asked." for clock in plain]
    first = " Of two limits the one that comes first counts." if any(_FIRST in c.rule for c in told) else ""
    receipt = " In brackets: lot of the receipt." if any("(" in row[3].text for row in table.rows) else ""
    grace = any(_IN_GRACE in row[4].text for row in table.rows)
    receipt += f" {_IN_GRACE} past its day, within its days of grace." if grace else ""
    words = first_upper(f"{' '.join(notes)}{_sources(scope, told)}{first}{receipt}".strip())
    return (table, Paragraph(words, "small")) if words and table.rows else (table,)
