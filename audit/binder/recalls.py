"""Notices that a lot of a part is in doubt, and what they mean for the units here."""

from __future__ import annotations

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, Table
from audit.binder.written_on_paper import counted, dated, day, lines, span
from audit.facts import PartRecallFact, in_order
from audit.judge.failures_said import in_doubt

PART_RECALL = "part recall"


def _fitted_between(recall: PartRecallFact) -> str:
    if recall.made_from and recall.made_to:
        return f"fitted {span(recall.made_from, recall.made_to)}"
    if recall.made_from:
        return f"fitted from {day(recall.made_from)} on"
    return f"fitted up to and with {day(recall.made_to)}" if recall.made_to else "whenever it was fitted"


def _found(scope: Scope, recall: PartRecallFact) -> str:
    """What the look-backs say that rest on this notice, one unit to a line."""
    refs = {recall.row.ref, recall.row.origin}
    told = []
    for unit in scope.units:
        for back in unit.judgement.look_backs if unit.judgement else ():
            if back.kind == PART_RECALL and any(each.ref in refs for each in back.evidence):
                state = f"decided on {day(back.settled_on)}" if back.settled_on else "still open"
                # The part that the notice means stands beside it, see `judge.lookback.recalled_parts`; it was fitted
                # in a visit that is not among those of the window.
                fitted = [each for each in back.evidence if each.ref not in refs] or back.parts
                parts = "; ".join(dated(each.text) for each in fitted) or counted(0, "part")
                told.append(f"{unit.label}: {parts}; {in_doubt(back)}; {state}")
    return "\n".join(told)


def part_recalls_table(scope: Scope) -> Table:
    """Every notice received up to the day of the answer, the newest first: an old one may still hold."""
    columns = (
        Column("Received", 56),
        Column("Part, number, lot", 96, names=True),
        Column("Notice: which, why, what to do", 140),
        Column("Found on the units here", 180),
        Column("Record", 38, small=True),
    )
    rows = []
    for recall in reversed(in_order(scope.facts.part_recalls)):
        found = _found(scope, recall)
        rows.append(
            (
                Cell(day(recall.row.happened_on)),
                Cell(
                    lines(
                        recall.part,
                        recall.number or "every number",
                        f"lot {recall.lot}" if recall.lot else "every lot",
                    )
                ),
                Cell(lines(_fitted_between(recall), recall.issued_by, recall.reason, f"to do: {recall.action}")),
                Cell(found or "no part of this notice is on record here", strong=bool(found)),
                scope.proof(recall),
            )
        )
    return Table("Part recalls", columns, tuple(rows), "Part recalls: no notice on record.")
