"""R8 and R9: something overdue, or without any evidence; and what is still to be done before the first load today."""

from __future__ import annotations

from audit.judge.clocks.used_days import EACH_DAY, not_done_today
from audit.judge.judgement import Clock, DueKind, UnitStanding, Word
from audit.judge.response import Replay
from audit.judge.situation import Situation
from audit.regimes.model import SUBJECTS, Duty

from .stopped import PRESSURE
from .tools import late_words, say


def _late(s: Situation, wanted, word: Word, rule: str, lifted: str, more: str = "") -> UnitStanding | None:
    hit = [c for c in s.late if wanted(c)]
    if not hit:
        return None
    words, since, first = late_words(hit, s.as_of)
    more += open_failure(s) + before_first_load(s) if word.may_be_used else ""
    proof = [c.counts_from for c in hit if c.counts_from is not None]
    return say(word, rule, words + more, since, proof, lifted, first.source)


def due_today(s: Situation) -> list[Duty]:
    """The duties of each day of use that are still to be done today, before the first load; none while out of use."""
    return [d for d in s.duty.duties() if d.every in EACH_DAY and not_done_today(s.duty, d)]


def before_first_load(s: Situation) -> str:
    """What is said of them beside another answer, with "; " before each; "" for none."""
    return "".join(f"; {d.title} due before the first load today" for d in due_today(s))


def r5_today(s: Situation) -> UnitStanding | None:
    """R5, waiting for proof: a test of each day of use is not done yet today, and the rules forbid use until it is.

    Since the day itself. Source: that of the duty.
    """
    waiting = [d for d in due_today(s) if d.forbids]
    if not waiting:
        return None
    first = waiting[0]
    words = f"today's test is not done: {first.title} due before the first load today"
    words += f" and {len(waiting) - 1} more" if len(waiting) > 1 else ""
    proof = [c.counts_from for c in s.clocks if c.code in {d.id for d in waiting} and c.counts_from is not None]
    return say(Word.WAITING, "R5", words, s.as_of, proof, "the clinic: do it, before the first load", first.source)


def is_test(clock: Clock) -> bool:
    """Whether the due item is a test or a check the rules ask, not planned service or a paper."""
    return clock.kind is DueKind.DUTY and SUBJECTS.get(clock.subject, "test") in ("test", "check")


def r8_forbidding(s: Situation) -> UnitStanding | None:
    """R8, out of service: something is overdue or without evidence, and the rules forbid use until it is done.

    Not the pressure examination (`r3`) nor tests after an event (`r5_event`). Since the first day on which it was
    overdue, None where anything is without evidence. Source: that of the due item.
    """

    def wanted(clock):
        return clock.forbids and clock.subject != PRESSURE and not s.follows_event(clock)

    more = "; these rules forbid use until it is done"
    return _late(s, wanted, Word.OUT, "R8", "the clinic: do what is overdue, before use", more)


def r8(s: Situation) -> UnitStanding | None:
    """R8, in service but overdue: a test or a check is overdue or without evidence.

    Since the first day on which the oldest was overdue, None where any is without evidence. Source: the due item's.
    """
    return _late(s, is_test, Word.OVERDUE, "R8", "the clinic: do the test today")


def _still_open(s: Situation) -> list[Replay]:
    """Cases that nothing has ended, the one known first before the others."""
    return [r for r in s.settled.replays if r.resolved_on is None]


def open_failure(s: Situation) -> str:
    """What is said of an open failure beside another answer, with "; " before it; "" for none."""
    still_open = _still_open(s)
    if not still_open:
        return ""
    more = f" and {len(still_open) - 1} more" if len(still_open) > 1 else ""
    return f"; a failure is open: {still_open[0].failed.evidence.text}{more}"


def r9(s: Situation) -> UnitStanding | None:
    """R9, in service but overdue: planned service, validation or a paper is overdue or without evidence.

    Since the first day on which the oldest was overdue, None where any is without evidence. Source: the due item's.
    """
    lifted = "whoever is to do it: do it, or a recorded postponement with its end"
    return _late(s, lambda c: not is_test(c), Word.OVERDUE, "R9", lifted)
