"""Checks by the people of the place: failed and not passed since, not done, or not signed where a signature is asked.

A failed automatic control or safety check, or check of the air detector, opens a case of its own (see `open_case`).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts import UserCheckFact, in_order
from audit.judge.judgement import Evidence, Finding, Severity
from audit.regimes.model import SUBJECTS, Duty, Regime

from .tools import CLINIC, PRACTICE, Judged, day

_CASES = ("automatic control", "safety check", "air detector")
_SHOWN = 5


def check(judged: Judged) -> Iterator[Finding]:
    """Up to three for each kind of check."""
    checks = in_order(judged.unit.checks)
    for kind in dict.fromkeys([c.kind for c in checks]):
        rows = [c for c in checks if c.kind == kind]
        open_rows = _since_pass(rows)
        if kind not in _CASES:
            yield from _failed(judged, kind, [c for c in open_rows if c.result == "fail"])
        yield from _not_done(judged, kind, [c for c in open_rows if c.result == "not done"])
        yield from _not_signed(judged, kind, rows)


def _since_pass(rows: list[UserCheckFact]) -> list[UserCheckFact]:
    """The rows after the last pass, oldest first; of one day a pass comes last only where times show it."""
    n = next((n for n in range(len(rows) - 1, -1, -1) if rows[n].result == "pass"), 0)
    while n and rows[n - 1].row.happened_on == rows[n].row.happened_on:
        n -= 1
    rows = sorted(rows[n:], key=_passes_first)  # before the day of the last pass nothing is after it
    last = next((n for n in range(len(rows) - 1, -1, -1) if rows[n].result == "pass"), -1)
    return rows[last + 1 :]


def _passes_first(check: UserCheckFact) -> tuple:
    """Passes without a time first of their day, then by time, other results without a time last."""
    at = check.row.happened_at
    rank = 1 if at is not None else 0 if check.result == "pass" else 2
    return check.row.happened_on, rank, at.timestamp() if at is not None else 0, check.result != "pass"


def _failed(judged: Judged, kind: str, failed: list[UserCheckFact]) -> Iterator[Finding]:
    if not failed:
        return
    newest = failed[-1]
    value = "" if newest.value is None else f" ({newest.value} {newest.unit_of_measure}".rstrip() + ")"
    yield Finding(
        rule="check-failed",
        severity=Severity.PUT_RIGHT,
        since=failed[0].row.happened_on,
        message=f"{kind} check failed on {day(newest.row.happened_on)}{value}, {len(failed)} time(s) since the last "
        "pass; none passed since",
        way_out="put right what it shows, check again and record it",
        evidence=_shown(failed),
        source=_source(judged.now.regime, judged, kind, judged.now.as_of),
        owner=CLINIC,
    )


def _not_done(judged: Judged, kind: str, rows: list[UserCheckFact]) -> Iterator[Finding]:
    if not rows:
        return
    newest = rows[-1]
    why = f": {newest.note}" if newest.note else "; no reason recorded"
    yield Finding(
        rule="check-not-done",
        severity=Severity.NOTE,
        since=rows[0].row.happened_on,
        message=f"{kind} check recorded as not done {len(rows)} time(s) since the last pass, last on "
        f"{day(newest.row.happened_on)}{why}",
        way_out="do the check and record it",
        evidence=_shown(rows),
        source=_source(judged.now.regime, judged, kind, judged.now.as_of),
        owner=CLINIC,
    )


def _not_signed(judged: Judged, kind: str, rows: list[UserCheckFact]) -> Iterator[Finding]:
    """Checks not signed on days on which the edition then in force asked a signature."""
    bare = [c for c in rows if not c.signed_by.strip() and c.result != "not done"]
    bare = [c for c in bare if _asks_signature(judged, kind, c.row.happened_on)]
    if not bare:
        return
    done = [c for c in rows if c.result != "not done"]
    duty = _asks_signature(judged, kind, bare[-1].row.happened_on)
    newest = bare[-1] is done[-1]
    yield Finding(
        rule="check-not-signed",
        severity=Severity.PUT_RIGHT if newest else Severity.NOTE,
        since=bare[0].row.happened_on,
        message=f"{kind} check not signed {len(bare)} time(s), last on {day(bare[-1].row.happened_on)}: these rules "
        "count only a check that is signed, so it does not meet the duty",
        way_out="sign each record before the unit is used again" + ("" if newest else "; the next one was signed"),
        evidence=_shown(bare),
        source=duty.source,
        owner=CLINIC,
    )


def _asks_signature(judged: Judged, kind: str, on: date) -> Duty | None:
    return next((d for d in _duties(judged.now.regime.on(on), judged, kind) if d.signed), None)


def _duties(regime: Regime, judged: Judged, kind: str) -> Iterator[Duty]:
    equipment = judged.unit.equipment_type
    for duty in regime.duties:
        if duty.subject == kind and SUBJECTS[kind] == "check" and (not duty.equipment or equipment in duty.equipment):
            yield duty


def _source(regime: Regime, judged: Judged, kind: str, on: date):
    return next((d.source for d in _duties(regime.on(on), judged, kind)), PRACTICE)


def _shown(rows: list[UserCheckFact]) -> tuple[Evidence, ...]:
    """The newest few rows."""
    return tuple(Evidence(c.row.ref, f"{c.kind} of {day(c.row.happened_on)}: {c.result}") for c in rows[-_SHOWN:])
