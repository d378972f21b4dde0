"""What somebody else entered in the name of who decides: it decides nothing, and the item says who does.

| told | what it does | open until |
| --- | --- | --- |
| a return to use by hand | ends no withdrawal and no refusal | its person signs it, or enters a return |
| that a pending result is accepted | nothing: the unit waits for the result | the clinic signs that it took it back |
| that a failure was confined to one load | limits no recall, is no cause | its person enters it |
| a repair or a cause found | counts as the word of who entered it: a note | whoever did it enters it |

Returns as a step of a case stand in `return_without_proof`, signatures of a visit in `after_work`. 21 CFR 11.100(a),
11.200(a)(2); which of them are decisions is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import FollowUpFact, UnitEventFact
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.proof_after_work import PENDING, Work, evidence_of_job
from audit.judge.response import Replay, title_of_case
from audit.judge.response.said import followup_evidence
from audit.judge.standing import only_told, returns_that_count, withdrawals

from .tools import CLINIC, SIGNED, Judged, day

_SHOWN = 20


def check(judged: Judged) -> Iterator[Finding]:
    """One item for all returns by hand, one for each visit and for each case; cheap where nothing was told."""
    told = [e for e in judged.unit.events if e.told_return]
    if told:
        yield from _returns(judged, told)
    for work in judged.settled.works:
        if work.conclusion == PENDING and work.biological_missing and only_told(work):
            yield _acceptance(judged, work)
    for replay in judged.settled.replays:
        steps = [f for f in replay.followups if f.told]
        if steps:
            yield from _confined(replay, steps)
            yield from _causes(replay, steps)


def _returns(judged: Judged, told: list[UnitEventFact]) -> Iterator[Finding]:
    standing = {w.event.row.origin: w.ended_on is None for w in withdrawals(judged.now)}
    counted = [e.row.happened_on for e in returns_that_count(judged.now)]
    held = [e for e in told if standing.get(e.ends, not any(on >= e.row.happened_on for on in counted))]
    if not held:
        return
    last = held[-1]
    who = last.by or "the person named"
    many = f"{len(held)} returns to use were told, not signed, the last" if len(held) > 1 else "the return to use"
    yield Finding(
        rule="return-only-told",
        severity=Severity.PUT_RIGHT,
        since=held[0].row.happened_on,
        message=f"{many} of {day(last.row.happened_on)}: {who}, {last.given_words}: that ends no withdrawal",
        way_out=f"{who} signs it on the page of that record with an own account, or enters the return and names the "
        "withdrawal that it ends; until then it stays out where it was taken out",
        evidence=tuple(
            Evidence(e.row.ref, f"returned on {day(e.row.happened_on)}: {e.by}, {e.given_words}")
            for e in held[-_SHOWN:]
        ),
        source=SIGNED,
        owner=CLINIC,
    )


def _acceptance(judged: Judged, work: Work) -> Finding:
    own = work.concluded_by.conclusion
    done = day(work.job.row.happened_on)
    over = own.deadline is not None and judged.now.as_of > own.deadline
    return Finding(
        rule="acceptance-only-told",
        severity=Severity.PUT_RIGHT if over else Severity.FORBIDS,
        since=own.row.happened_on,
        message=f"work of {done}: that {own.acceptor} accepts the pending spore test was entered by "
        f"{own.row.logged_by or 'somebody else'} and signed by nobody at the clinic: it is not accepted",
        way_out="enter the result"
        + ("" if over else f", or {own.acceptor} signs the return to use of that visit with an own account")
        + "; until then the unit is not used",
        evidence=(evidence_of_job(work),),
        source=SIGNED,
        owner=CLINIC,
    )


def _confined(replay: Replay, steps: list[FollowUpFact]) -> Iterator[Finding]:
    told = [f for f in steps if f.action == "confine"]
    if told and not _own(replay, "confine") and replay.failed_again is None:
        yield _of_case(
            "confined-only-told", Severity.PUT_RIGHT, replay, told,
            "that limits no recall, and is no cause found",
            f"{told[-1].done_by} enters it with an own account; until then recall as if it were not confined",
        )  # fmt: skip


def _causes(replay: Replay, steps: list[FollowUpFact]) -> Iterator[Finding]:
    told = [f for f in steps if f.action in ("repair", "find cause") and not _own(replay, f.action)]
    if told:
        yield _of_case(
            "cause-only-told", Severity.NOTE, replay, told,
            f"it counts as the word of {(told[-1].done_row or told[-1].row).logged_by or 'who entered it'}",
            "whoever did it enters it with an own account; of a technician from outside keep the report, and log "
            "the visit with what was done",
        )  # fmt: skip


def _own(replay: Replay, action: str) -> bool:
    """Whether a step of that action was entered as done by its own person, or nothing says that it was not."""
    return any(f.action == action and f.done_on is not None and not f.told for f in replay.followups)


def _of_case(
    rule: str, severity: Severity, replay: Replay, told: list[FollowUpFact], what: str, way_out: str
) -> Finding:
    return Finding(
        rule=rule,
        severity=severity,
        since=told[0].done_on,
        message=f"{title_of_case(replay)}: {followup_evidence(told[-1]).text}: {what}",
        way_out=way_out,
        evidence=tuple(followup_evidence(f) for f in told),
        source=SIGNED,
        owner=CLINIC,
    )
