"""A return signed although the tests that prove it were not complete."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Evidence, Finding, Severity

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case with a return signed before the day the unit was proven."""
    for replay in judged.settled.replays:
        if not replay.path.withdraws:
            continue
        end = replay.resolved_on
        signed = [
            ((f.done_row or f.row).ref, f.done_on)
            for f in replay.followups
            if f.action == "return" and f.done_on is not None
        ]
        signed += [
            (e.row.ref, e.row.happened_on)
            for e in judged.unit.events
            if e.kind == "returned" and e.row.happened_on > replay.failed.known_on
        ]
        early = sorted((s for s in signed if end is None or s[1] < end), key=lambda s: s[1])
        if early:
            ref, on = early[0]
            yield Finding(
                rule="return-without-proof",
                severity=Severity.FORBIDS if end is None else Severity.PUT_RIGHT,
                since=on,
                message=f"return signed on {day(on)} without its proof: "
                + (replay.needs if end is None else f"proven only on {day(end)}"),
                way_out="keep it out of service until the tests are complete" if end is None else "explain it",
                evidence=(Evidence(ref, f"return signed on {day(on)}"), replay.failed.evidence),
                source=replay.path.source,
                owner=CLINIC,
            )
