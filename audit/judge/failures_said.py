"""What is said of a failure, of its steps and of what it puts in doubt: the same words on page, paper and command.

Days in ISO text. Lines are without a full stop, so that whoever shows them ends the sentence.
"""

from __future__ import annotations

from audit.facts import FollowUpFact

from .judgement import Case, Evidence, LookBack, Step
from .response import ERROR, RETURNED

NO_DECISION = "no decision is on record"
NOTHING_LOGGED = "nothing logged in the window"


def stops(case: Case) -> bool:
    """Whether the failure takes the unit out of service, by what its path asks; else it is the packs alone."""
    return any(step.action in ("withdraw", "return") for step in case.steps)


def before(case: Case) -> str:
    """Before what the missing things must be there: "before it may return", "before this is closed"."""
    return "before it may return" if stops(case) else "before this is closed"


def missing(case: Case) -> str:
    """ "Still missing before it may return: the cause found or repaired"; "" of a failure that is settled."""
    if case.phase in (RETURNED, ERROR):
        return ""
    return f"Still missing {before(case)}: {case.needs or 'nothing that these rules name'}"


def ended(case: Case) -> str:
    """ "returned on 2026-02-18"; where only packs were in doubt "passed on 2026-02-18"; "" while it is open."""
    if case.phase not in (RETURNED, ERROR):
        return ""
    if case.resolved_on is None:
        return case.phase
    word = case.phase if stops(case) or case.phase == ERROR else "passed"
    return f"{word} on {case.resolved_on.isoformat()}"


def told(case: Case) -> tuple[str, ...]:
    """Where the failure stands: when it was known, how many tests passed, what of the packs, what is missing."""
    parts = (f"known {case.known_on.isoformat()}", case.progress, packs(case), missing(case))
    return tuple(part for part in parts if part)


def packs(case: Case) -> str:
    """What is said of the packs, as a line of its own."""
    return case.recall if case.recall.startswith(("recall", "no recall")) else f"packs: {case.recall}"


def step_told(step: Step) -> str:
    """What stands behind the state of a step: " on 2026-06-11, due by 2026-06-12 (the repeat failed too)"."""
    on = f" on {step.done_on.isoformat()}" if step.done_on else ""
    due = f", due by {step.due_on.isoformat()}" if step.due_on else ""
    return on + due + (f" ({step.note})" if step.note else "")


def follow_up_told(followup: FollowUpFact) -> str:
    """A follow-up that is set and not done: "inspection, A. Berg, by 2026-06-17: not done yet"."""
    by = f"by {followup.due_on.isoformat()}" if followup.due_on else ""
    parts = (followup.text or followup.action, followup.owner, by)
    return ", ".join(part for part in parts if part) + ": not done yet"


# ------------------------------------------------------------------------------------------------ what is in doubt


def in_doubt(back: LookBack) -> str:
    """ "3 loads, 1 reading, 2 parts"."""
    several = ((back.loads, "load"), (back.readings, "reading"), (back.parts, "part"))
    return ", ".join(_many(rows, one) for rows, one in several if rows) or NOTHING_LOGGED


def _many(rows: tuple[Evidence, ...], one: str) -> str:
    return f"{len(rows)} {one}" + ("" if len(rows) == 1 else "s")


def window(back: LookBack) -> str:
    """The days that are in doubt: the last good proof is outside, the last day inside."""
    after = f"after {back.after.isoformat()}" if back.after else "from the first record, with no good proof before it"
    return f"{after}, up to and with {back.to.isoformat()}"


def decided(back: LookBack) -> str:
    """ "Decided on 2026-06-12", or that it is still open."""
    return f"Decided on {back.settled_on.isoformat()}" if back.settled_on else f"Still open: {NO_DECISION}"


def look_back_told(back: LookBack) -> tuple[str, ...]:
    """How much lies in which days, after which proof, what is not known, and whether it was decided."""
    parts = (
        f"In doubt: {in_doubt(back)}, {window(back)}",
        f"Last good proof: {back.after_text}" if back.after_text else "",
        f"Not known: {back.unlogged}" if back.unlogged else "",
        decided(back),
    )
    return tuple(part for part in parts if part)
