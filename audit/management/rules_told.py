"""What `regimes` prints of a proposal and of what other rules would change, as plain lines."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Clock
from audit.judge.otherwise import ChangeOfRules, DueChange
from audit.regimes import Regime
from audit.regimes.choosing import RulesProposal
from audit.regimes.compare import NOT_ASKED, RuleDifference
from audit.regimes.held import in_brackets
from audit.regimes.in_words import CAUTION, RuleLine


def proposal_lines(found: RulesProposal) -> Iterator[str]:
    """Every set of rules proposed, the nearest first, then what must be known and what to ask whom."""
    for each in found.rules:
        yield f"{each.regime.id}: {each.regime.title}, {_edition(each.regime)}"
        yield from (f"  Why: {reason}." for reason in each.reasons)
        yield from (f"  Asks: {line.head}: {line.text}. {line.source}" for line in each.asks)
        yield from (f"  Left open: {gap.subject}. Ask: {gap.ask}." for gap in each.left_open)
    yield from found.said
    if found.questions:
        yield "What to ask, and whom:"
        yield from (f"  {question} {whom[:1].upper()}{whom[1:]}." for question, whom in found.questions)
    yield CAUTION


def difference_lines(before: Regime, after: Regime, found: tuple[RuleDifference, ...]) -> Iterator[str]:
    """Rule by rule under its subject, what is asked before and after, each with its source."""
    yield f"Now:  {before.title} ({before.id}), {_edition(before)}"
    yield f"Then: {after.title} ({after.id}), {_edition(after)}"
    subject = ""
    for each in found:
        if each.subject != subject:
            subject = each.subject
            yield f"\n{subject}"
        yield f"  {each.asks}: {each.head}"
        yield f"    now:  {_rule(each.before)}"
        yield f"    then: {_rule(each.after)}"
    if not found:
        yield "They ask the same."
    yield f"\n{CAUTION}"


def _edition(one: Regime) -> str:
    return f"{one.edition}, from {one.valid_from}{in_brackets(one.valid_from_grade)}"


def _rule(line: RuleLine | None) -> str:
    return f"{line.text or line.head}. {line.source}" if line else NOT_ASKED


def change_lines(change: ChangeOfRules) -> Iterator[str]:
    """Unit by unit the answer and what is due on the day, under both rules; only what is not the same."""
    for unit in change.units:
        if unit.answers_otherwise:
            yield f"{unit.label}: {unit.before.word}: {unit.before.reason}"
            yield f"  then {unit.after.word}: {unit.after.reason}"
        else:
            yield f"{unit.label}: {unit.before.word}, as now"
        yield from (f"  {_due(each)}" for each in unit.due)
    yield from (f"The whole place: {_due(each)}" for each in change.place)
    if not change.changes:
        yield f"On {change.day} no answer and no day is another."


def _due(change: DueChange) -> str:
    return f"{change.title}: now {_clock(change.before)}; then {_clock(change.after)}"


def _clock(clock: Clock | None) -> str:
    if clock is None:
        return NOT_ASKED
    return f"{clock.state.words}{f', due {clock.due_on}' if clock.due_on else ''}"
