"""Parts fitted beyond their expiry, and parts whose lot nobody can name."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """Each part fitted after its expiry day, and each without a readable lot or own receipt lot.

    A quantity of 0 fitted nothing (see `kits`).
    """
    for job in judged.unit.jobs:
        for part in (p for p in job.parts if p.quantity > 0):
            if part.expiry is not None and part.expiry < part.row.happened_on:
                yield _expired(judged, part)
            if part.lot_state == "unreadable" or (part.lot_state == "not printed" and not part.receipt_lot):
                yield _no_lot(judged, part)


def _expired(judged: Judged, part) -> Finding:
    where = judged.position_name(part.position)
    return Finding(
        rule="part-beyond-expiry",
        severity=Severity.PUT_RIGHT,
        since=part.row.happened_on,
        message=f"{part.name} at {where}: fitted on {day(part.row.happened_on)}, expired on {day(part.expiry)}",
        way_out="replace the part, or record why it may stay and who decided",
        evidence=row_evidence(part, f"{part.name}, lot {part.lot or part.lot_state}"),
        source=PRACTICE,
        owner=COMPANY,
    )


def _no_lot(judged: Judged, part) -> Finding:
    kept = f"; own receipt lot {part.receipt_lot}" if part.receipt_lot else "; no own receipt lot either"
    return Finding(
        rule="lot-not-known",
        severity=Severity.NOTE,
        since=part.row.happened_on,
        message=f"{part.name} at {judged.position_name(part.position)}: lot {part.lot_state}{kept}",
        way_out="cannot be made good; a recall of that part will have to count it in",
        evidence=row_evidence(part, f"{part.name} fitted on {day(part.row.happened_on)}"),
        source=PRACTICE,
        owner=COMPANY,
    )
