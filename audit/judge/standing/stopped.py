"""R2 to R4: a recalled part, a legal examination out of date, a failed test, taken out of service by hand."""

from __future__ import annotations

from audit.facts import DocumentFact
from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.lookback.recalled_parts import recalled_parts
from audit.judge.response import Replay
from audit.judge.situation import Situation

from .by_hand import withdrawals
from .tools import event_evidence, event_words, late_words, say

PRESSURE = "pressure examination"
STOP_USE = "stop use"


def _stopped_by_notice(s: Situation) -> UnitStanding | None:
    """A part of a lot whose maker's notice says to stop use, still in."""
    for found in recalled_parts(s.unit, s.settled.clinic.part_recalls, s.as_of):
        if found.out_on is None and found.notice.action == STOP_USE:
            day = max(found.notice.row.happened_on, found.part.row.happened_on)
            words = f"part recall of {found.notice.row.happened_on.isoformat()}, stop use: {found.where} is still in"
            proof = [Evidence(f.row.ref, words) for f in (found.notice, found.part)]
            lifted = "a technician: take the part out, verify by its repair class, and release"
            return say(Word.OUT, "R2", words, day, proof, lifted)
    return None


def pressure_report(s: Situation) -> DocumentFact | None:
    """The newest report of a pressure examination of this unit, or None."""
    if not (s.unit.documents or s.settled.clinic.documents):
        return None
    both = (*s.unit.documents, *(d for d in s.settled.clinic.documents if d.unit == s.unit.ref))
    mine = [d for d in both if d.kind == PRESSURE and d.valid_from <= s.as_of]
    return max(mine, key=lambda d: (d.valid_from, d.row.number, d.row.line), default=None)


def r3(s: Situation) -> UnitStanding | None:
    """R3, out of service: the newest pressure examination has run out, or the rules forbid use without one.

    The last valid day is still good: since the day after it. Without such a day it is the due item that counts: since
    the first day on which it is overdue, None without evidence. Source: that of the due item, else common practice.
    """
    lifted = "an examination by the person the law names, with a report in date"
    report = pressure_report(s)
    if report is not None and report.valid_to is not None and report.valid_to < s.as_of:
        last = report.valid_to.isoformat()
        words = f"the pressure examination was valid until {last}"
        proof = [Evidence(report.row.ref, f"{report.title}, valid until {last}")]
        return say(Word.OUT, "R3", words, report.valid_to + ONE_DAY, proof, lifted)
    for clock in s.late:
        if clock.forbids and clock.subject == PRESSURE:
            words, since, _ = late_words([clock], s.as_of)
            proof = [clock.counts_from] if clock.counts_from else []
            return say(Word.OUT, "R3", words, since, proof, lifted, clock.source)
    return None


def open_replays(s: Situation) -> list[Replay]:
    """Cases that keep the unit out of service, the one that stopped it first before the others."""
    held = [r for r in s.settled.replays if r.withdraws and r.resolved_on is None]
    return sorted(held, key=lambda r: r.out_from)


def r4_case(s: Situation) -> UnitStanding | None:
    """R4, out of service: a failed test whose case still keeps the unit out; the one that stopped it first is named.

    Since the day that failure was known; where the rules stop the unit only from several failures on, since the day
    the one that was too many was known. Source: the failure path of the rules.
    """
    still_open = open_replays(s)
    if not still_open:
        return None
    first = still_open[0]
    words = f"{first.failed.evidence.text}, known {first.failed.known_on.isoformat()}"
    if first.repeat_failed is not None:
        words += "; the repeat failed too"
    if not first.path.withdraws and first.stopped is first.failed:
        words += ", and fell short by its own reading"
    elif not first.path.withdraws:
        words += f"; {len(first.failures)} failed before one was proven again"
    proof = [t.evidence for r in still_open for t in r.failures]
    return say(Word.OUT, "R4", words, first.out_from, proof, f"tests: {first.needs}", first.path.source)


def r4_by_hand(s: Situation) -> UnitStanding | None:
    """R4, out of service: somebody took it out, and no return has ended that; the oldest withdrawal is named.

    Since the day of that withdrawal. Source: common practice, no source.
    """
    held = [w.event for w in withdrawals(s) if w.ended_on is None]
    if not held:
        return None
    lifted = "the clinic or its service company: return it with a reason, and the tests if work was done"
    words = "taken out of service: " + event_words(held[0])
    if len(held) > 1:
        words += f" and {len(held) - 1} more time(s)"
        lifted += f"; {len(held)} withdrawals are open: each return must name the one that it ends"
    return say(Word.OUT, "R4", words, held[0].row.happened_on, [event_evidence(e) for e in held], lifted)
