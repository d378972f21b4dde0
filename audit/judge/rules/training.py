"""Work done by somebody whose training or licence on record did not hold that day.

Only where credentials of that person and that kind are on record: that there are none at all says nothing here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts import CredentialFact, in_order
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback.matching import name_key
from audit.judge.proof_after_work import Work, evidence_of_job

from .tools import COMPANY, PRACTICE, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each job worked and kind of credential that did not hold; to be put right until later work is in order.

    Where the first credential of the kind begins only after the work, the record merely begins there: a note.
    """
    held: dict[str, dict[str, list[CredentialFact]]] = {}
    for one in in_order(judged.settled.clinic.credentials):
        held.setdefault(name_key(one.person), {}).setdefault(one.kind, []).append(one)
    worked = [w for w in judged.settled.works if w.done] if held else []
    newest = worked[-1] if worked else None
    for work in worked:
        for kind, rows in held.get(name_key(work.job.worked_by), {}).items():
            on = work.job.row.happened_on
            if not any(_holds(c, on) for c in rows):
                yield _finding(work, kind, rows, work is newest)


def _holds(credential: CredentialFact, on: date) -> bool:
    return credential.valid_from <= on and (credential.valid_to is None or on <= credential.valid_to)


def _finding(work: Work, kind: str, rows: list[CredentialFact], newest: bool) -> Finding:
    on, who = work.job.row.happened_on, work.job.worked_by
    ended = [c for c in rows if c.valid_to is not None and c.valid_to < on]
    last = max(ended, key=lambda c: c.valid_to, default=None)
    shown = last or min(rows, key=lambda c: c.valid_from)
    state = f"ended on {day(last.valid_to)}" if last else f"begins only on {day(shown.valid_from)}"
    return Finding(
        rule="credential-not-valid",
        severity=Severity.PUT_RIGHT if last and newest else Severity.NOTE,
        since=on,
        message=f"work of {day(on)} was done by {who}, whose {kind} on record ({shown.title}) {state}",
        way_out="record what held that day, or have the work looked at by somebody whose credential holds",
        evidence=(evidence_of_job(work), Evidence(shown.row.ref, f"{kind}: {shown.title}, {state}")),
        source=PRACTICE,
        owner=COMPANY,
    )
