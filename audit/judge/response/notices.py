"""Who must be told of a failure, by when, and whether they were.

The day on which the failure was known is day 0; the last day is inclusive. Business days are Monday to Friday
without public holidays. A deadline in hours is held against the clock where both times are known; else it is counted
in whole days, rounded down: the stricter reading.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from audit.facts import FollowUpFact, in_order
from audit.facts.dates import add_days
from audit.judge.business_days import add_business_days
from audit.judge.judgement import Step
from audit.regimes.model import NoticeRule

from .replay import Replay
from .said import DONE, LATE, NOT_NEEDED, OPEN, followup_evidence
from .trials import Trial

ACTION = "notify"


def title_of(rule: NoticeRule) -> str:
    """How a notice reads as a step."""
    return f"Tell {rule.who}"


def due_on(rule: NoticeRule, known_on: date) -> date:
    """The last day, inclusive, on which the notice is in time."""
    if rule.measure == "business days":
        return add_business_days(known_on, rule.within, rule.holidays)
    return add_days(known_on, rule.within // 24 if rule.measure == "hours" else rule.within)


def notice_steps(replay: Replay, as_of: date) -> tuple[tuple[Step, ...], frozenset[str]]:
    """A step for each notice the rules ask, and the refs of the follow-ups that answer them."""
    rules = replay.path.notices
    told = [f for f in in_order(replay.followups) if f.action == ACTION] if rules else []
    steps, used = [], set()
    for rule in rules:
        mine = [f for f in told if _answers(f, rule, told, rules)]
        used |= {f.row.ref for f in mine}
        steps.append(_step(replay, rule, mine, as_of))
    return tuple(steps), frozenset(used)


def _answers(followup: FollowUpFact, rule: NoticeRule, told, rules) -> bool:
    """Whether a follow-up is about a notice: it names who is told, or there is only one of each."""
    words = f"{followup.text} {followup.outcome}".casefold()
    return _name(rule) in words or (len(told) == 1 and len(rules) == 1)


def _name(rule: NoticeRule) -> str:
    """Who is told, without the article and without what follows a comma."""
    return rule.who.casefold().partition(",")[0].removeprefix("the ").strip()


def _step(replay: Replay, rule: NoticeRule, mine: list[FollowUpFact], as_of: date) -> Step:
    proof = tuple(followup_evidence(f) for f in mine)
    cause = replay.failed if rule.when == "always" else replay.failed_again
    done = min((f for f in mine if f.done_on is not None), key=lambda f: f.done_on, default=None)
    done_on = done.done_on if done else None
    if cause is None:
        state = DONE if done else NOT_NEEDED
        return Step(ACTION, title_of(rule), state, done_on, proof, rule.source, "asked once a repeat fails too")
    last = due_on(rule, cause.known_on)
    late = _late(rule, cause, done, last) if done else as_of > last
    state = LATE if late else (DONE if done else OPEN)
    note = f"was due {last.isoformat()}" if late else f"due by {last.isoformat()}"
    note += f" ({words_of(rule)} from {cause.known_on.isoformat()}{f'; {rule.note}' if rule.note else ''})"
    return Step(ACTION, title_of(rule), state, done_on, proof, rule.source, note, last)


def words_of(rule: NoticeRule) -> str:
    """ "within 1 business day", "within 24 hours", "the same day"."""
    if not rule.within:
        return "the same day"
    unit = rule.measure.removesuffix("s") if rule.within == 1 else rule.measure
    return f"within {rule.within} {unit}"


def _late(rule: NoticeRule, cause: Trial, done: FollowUpFact, last: date) -> bool:
    at: datetime | None = done.done_at
    if rule.measure == "hours" and at is not None and cause.known_at is not None:
        return at > cause.known_at + timedelta(hours=rule.within)
    return done.done_on > last
