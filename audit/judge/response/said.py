"""Words shared by the steps of a case: their states, and a follow-up in one line."""

from __future__ import annotations

from audit.facts import FollowUpFact
from audit.facts.names import PASSKEY, SIGNED, TOLD, given_words
from audit.judge.biological import plain_text
from audit.judge.judgement import Evidence, Step

DONE, OPEN, LATE, NOT_NEEDED = "done", "open", "late", "not needed"
BY_COMPANY = ("find cause", "repair")  # the actions of steps that a technician does


def undone(step: Step) -> bool:
    """Whether a step is still to be done, in time or late."""
    return step.state in (OPEN, LATE) and step.done_on is None


def followup_evidence(followup: FollowUpFact) -> Evidence:
    """A follow-up in one line: done when and by whom, with what outcome."""
    row = followup.done_row or followup.row
    day = f" on {followup.done_on.isoformat()}" if followup.done_on else ""
    by = f" by {followup.done_by}" if followup.done_by else ""
    if by and row.logged_by and plain_text(row.logged_by) != plain_text(followup.done_by):
        by += f", {given_words(TOLD, row.logged_by)}"
    elif by and followup.done_given in (SIGNED, PASSKEY):
        by += f", {given_words(followup.done_given, row.logged_by)}"
    outcome = followup.outcome or followup.text
    return Evidence(row.ref, f"{followup.action}{day}{by}: {outcome}")
