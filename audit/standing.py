"""May this unit be used: the ordered rules R1 to R11; the first that holds gives the answer.

| rule | holds when | word |
| --- | --- | --- |
| R1 | decommissioned, on loan elsewhere, stored as a spare, not installed yet | Not in use |
| R2 | a safety finding of class "do not use" is open | Out of service |
| R3 | the last valid day of the pressure examination has passed | Out of service |
| R4 | a failed test not yet resolved; or taken out of service by hand | Out of service |
| R5 | work done and its tests or its release are not complete | Waiting for proof |
| R6 | only the biological result is pending, and somebody at the clinic accepted that until a day | Limited |
| R7 | released with a limitation | Limited |
| R8 | a duty of the rules is overdue | In service, overdue |
| R9 | a line of the maintenance plan is overdue or without evidence | In service, overdue |
| R10 | a known gap in the evidence within the last 24 months | In service |
| R11 | none of these | In service |

The order is common practice, no source; each rule's own source is shown where there is one.
"""

from __future__ import annotations

from datetime import date

from .biological import PASSED, evidence_of
from .dates import ONE_DAY, add_months, days_words
from .facts import DocumentFact, GapFact, UnitEventFact, in_order
from .judgement import Evidence, Source, Standing, State, Word
from .situation import Situation
from .usage import STORED, placement_on
from .work import CLASS_WORDS, LIMITED, NOT_RELEASED, PENDING, RELEASED, Work, class_letter, evidence_of_job

PRACTICE = Source("common practice, no source")
GAP_MONTHS = 24
PRESSURE = "pressure examination"


def stand(s: Situation) -> Standing:
    """The first rule that holds on the day; `holds_until` is left None (see `audit.holding`)."""
    for rule in (_r1, _r2, _r3, _r4_case, _r4_by_hand, _r5, _r6, _r7, _r8, _r9, _r10):
        found = rule(s)
        if found is not None:
            return found
    return _r11(s)


def _say(word, rule, reason, since, proof, lifted_by, source=PRACTICE) -> Standing:
    return Standing(word, rule, reason, since, tuple(proof), lifted_by, None, source)


# ------------------------------------------------------------------------------------------------ not in use


def _r1(s: Situation) -> Standing | None:
    lifted = "the clinic: install it or place it in use again"
    event = _last_event(s, ("decommissioned", "loaner out"), ("installed", "loaner in", "returned"))
    if event is not None:
        proof = [_event_evidence(event)]
        return _say(Word.NOT_IN_USE, "R1", _event_words(event), event.row.happened_on, proof, lifted)
    placed = placement_on(s.unit, s.as_of)
    if placed is not None and placed.use == STORED:
        words = f"stored as a spare since {placed.effective_on.isoformat()}; tests come first when it returns to use"
        proof = [Evidence(placed.row.ref, f"placement: {placed.room}, {placed.use}")]
        return _say(Word.NOT_IN_USE, "R1", words, placed.effective_on, proof, lifted)
    if s.as_of < s.settled.usage.begin:
        return _say(Word.NOT_IN_USE, "R1", "not installed or placed in use yet", None, [], lifted)
    return None


def _last_event(s: Situation, stops, starts) -> UnitEventFact | None:
    """The newest of the events in `stops` that no later event in `starts` has undone."""
    found = None
    for event in in_order(s.unit.events):
        if event.kind in stops:
            found = event
        elif event.kind in starts:
            found = None
    return found


def _event_words(event: UnitEventFact) -> str:
    by = f" by {event.by}" if event.by else ""
    reason = f": {event.reason}" if event.reason else ""
    return f"{event.kind} on {event.row.happened_on.isoformat()}{by}{reason}"


def _event_evidence(event: UnitEventFact) -> Evidence:
    return Evidence(event.row.ref, _event_words(event))


# ------------------------------------------------------------------------------------------------ out of service


def _r2(s: Situation) -> Standing | None:
    open_ones = open_safety(s)
    if not open_ones:
        return None
    first = open_ones[0]
    words = f"open safety finding, class do not use: {first[1]}"
    lifted = "a technician: work on it, a passing check of the safety devices (V6), and a release"
    return _say(Word.OUT, "R2", words, first[0], [e for _, _, e in open_ones], lifted)


def open_safety(s: Situation) -> list[tuple[date, str, Evidence]]:
    """Safety findings without a V6 (or V10) passed and a release since, oldest first.

    A finding is one of safety when its class is "do not use", when the decision is to condemn, or when a failed part
    (grade 3) was left as it is. The job that found it may also resolve it, unless it condemned the part.
    """
    jobs = in_order(s.unit.jobs)
    out = []
    for n, job in enumerate(jobs):
        found = [(f.row, f"{f.component or 'unit'}: {f.seen}", f.decision) for f in job.findings if _is_safety(f)]
        if class_letter(job.class_stated) == "X" and not found:
            found = [(job.row, job.class_reason or "class stated by the technician", "")]
        for row, words, decision in found:
            later = jobs[n + 1 :] if decision == "condemn" else jobs[n:]
            if not _made_safe(later):
                day = row.happened_on
                out.append((day, words, Evidence(row.ref, f"safety finding of {day.isoformat()}: {words}")))
    return out


def _is_safety(finding) -> bool:
    left_failed = finding.grade >= 3 and finding.decision == "leave"
    return finding.decision == "condemn" or class_letter(finding.repair_class) == "X" or left_failed


def _made_safe(jobs) -> bool:
    proven = False
    for job in jobs:
        proven = proven or any(t.code in ("V6", "V10") and t.result == "pass" for t in job.tests)
        if proven and job.conclusion is not None and job.conclusion.conclusion == RELEASED:
            return True
    return False


def pressure_report(s: Situation) -> DocumentFact | None:
    """The newest report of a pressure examination of this unit, or None."""
    both = (*s.unit.documents, *(d for d in s.settled.clinic.documents if d.unit == s.unit.ref))
    mine = [d for d in both if d.kind == PRESSURE and d.valid_from <= s.as_of]
    return max(mine, key=lambda d: (d.valid_from, d.row.number, d.row.line), default=None)


def _r3(s: Situation) -> Standing | None:
    report = pressure_report(s)
    if report is None or report.valid_to is None or report.valid_to >= s.as_of:
        return None
    last = report.valid_to.isoformat()
    words = f"the pressure examination was valid until {last}"
    proof = [Evidence(report.row.ref, f"{report.title}, valid until {last}")]
    lifted = "an examination by the person the law names, with a report in date"
    return _say(Word.OUT, "R3", words, report.valid_to + ONE_DAY, proof, lifted)


def open_replays(s: Situation):
    """Cases that keep the unit out of service, oldest first."""
    return [r for r in s.settled.replays if r.path.withdraws and r.resolved_on is None]


def _r4_case(s: Situation) -> Standing | None:
    still_open = open_replays(s)
    if not still_open:
        return None
    first = still_open[0]
    words = f"{first.failed.evidence.text}, known {first.failed.known_on.isoformat()}"
    if first.repeat_failed is not None:
        words += "; the repeat failed too"
    proof = [t.evidence for r in still_open for t in (r.failed, *r.also_failed)]
    return _say(Word.OUT, "R4", words, first.failed.known_on, proof, f"tests: {first.needs}", first.path.source)


def withdrawn_by_hand(s: Situation) -> UnitEventFact | None:
    """The withdrawal still in force: not returned since, nor closed with a case that was proven and signed."""
    event = _last_event(s, ("withdrawn",), ("returned", "installed", "loaner in"))
    if event is None:
        return None
    for replay in s.settled.replays:
        within = replay.failed.known_on <= event.row.happened_on
        proven = replay.resolved_on is not None and event.row.happened_on <= replay.resolved_on
        signed = [f for f in replay.followups if f.action == "return" and f.done_on]
        if within and proven and any(f.done_on >= replay.resolved_on for f in signed):
            return None
    return event


def _r4_by_hand(s: Situation) -> Standing | None:
    event = withdrawn_by_hand(s)
    if event is None:
        return None
    lifted = "the clinic or its service company: return it with a reason, and the tests if work was done"
    words = "taken out of service: " + _event_words(event)
    return _say(Word.OUT, "R4", words, event.row.happened_on, [_event_evidence(event)], lifted)


# ------------------------------------------------------------------------------------------------ after work


def _accepted(s: Situation, work: Work) -> bool:
    """Whether somebody at the clinic accepted a pending result, and the deadline (inclusive) has not passed."""
    own = work.concluded_by.conclusion if work.concluded_by else None
    if own is None or work.conclusion != PENDING or not own.acceptor or own.deadline is None:
        return False
    return s.as_of <= own.deadline


def why_waiting(s: Situation, work: Work) -> str:
    """What the work still lacks before the unit may be used, or ""; a pending result accepted is no lack."""
    if not work.done:
        return ""
    if work.failed:
        return f"verification failed: {', '.join(work.failed)}"
    if not work.conclusion:
        return "work started, not concluded"
    if work.conclusion == NOT_RELEASED:
        return "not released after work"
    if work.missing:
        return f"verification not complete: {', '.join(work.missing)}"
    if work.biological_missing and not _accepted(s, work):
        return f"{work.biological_missing} more negative spore test(s) in a row"
    return ""


def way_back(work: Work) -> str:
    """What ends the wait: pass what failed, complete what is missing, release, return to use."""
    steps = []
    if work.failed:
        steps.append(f"pass {', '.join(work.failed)}")
    if work.missing:
        steps.append(f"complete {', '.join(work.missing)}")
    if work.biological_missing:
        steps.append(f"{work.biological_missing} more negative spore test(s) in a row")
    return "; then ".join([*steps, "release the unit, and the clinic returns it to use"])


def _r5(s: Situation) -> Standing | None:
    for work in s.settled.works:
        lack = why_waiting(s, work)
        if lack:
            day = work.job.row.happened_on
            words = f"work of {day.isoformat()} ({CLASS_WORDS.get(work.repair_class, 'routine')}): {lack}"
            lifted = f"the technician: {way_back(work)}"
            return _say(Word.WAITING, "R5", words, day, [evidence_of_job(work)], lifted, work.asked.source)
    return None


def _r6(s: Situation) -> Standing | None:
    for work in s.settled.works:
        if work.done and work.biological_missing and _accepted(s, work):
            own = work.concluded_by.conclusion
            last = own.deadline.isoformat()
            words = f"spore test pending after work, accepted by {own.acceptor} until {last}"
            if own.limitation:
                words += f"; {own.limitation}"
            lifted = "a negative result; a positive one takes the unit out of service"
            proof = [evidence_of_job(work), Evidence(own.row.ref, words)]
            return _say(Word.LIMITED, "R6", words, own.row.happened_on, proof, lifted)
    return None


def _r7(s: Situation) -> Standing | None:
    concluded = [w for w in s.settled.works if w.done and w.job.conclusion]
    if not concluded or concluded[-1].job.conclusion.conclusion != LIMITED:
        return None
    own = concluded[-1].job.conclusion
    words = f"released with a limitation: {own.limitation or own.reason}"
    proof = [evidence_of_job(concluded[-1]), Evidence(own.row.ref, words)]
    return _say(Word.LIMITED, "R7", words, own.row.happened_on, proof, "a later job released without limitation")


# ------------------------------------------------------------------------------------------------ overdue


def _overdue(s: Situation, rule: str, prefix: str, lifted: str) -> Standing | None:
    hit = [c for c in s.clocks if c.id.startswith(prefix) and c.state in (State.OVERDUE, State.NO_EVIDENCE)]
    if not hit:
        return None
    late = [c for c in hit if c.state is State.OVERDUE]
    first = min(late, key=lambda c: (c.overdue_on, c.id)) if late else hit[0]
    words = f"no evidence: {first.title}"
    if late:
        words = (
            f"overdue since {first.overdue_on.isoformat()} ({days_words(first.days_overdue(s.as_of))}): {first.title}"
        )
    words += f" and {len(hit) - 1} more" if len(hit) > 1 else ""
    proof = [c.counts_from for c in hit if c.counts_from is not None]
    since = None if len(late) < len(hit) else first.overdue_on
    return _say(Word.OVERDUE, rule, words, since, proof, lifted, first.source)


def _r8(s: Situation) -> Standing | None:
    return _overdue(s, "R8", "duty:", "the clinic: do the test today")


def _r9(s: Situation) -> Standing | None:
    return _overdue(s, "R9", "plan:", "the service company: do it, or a recorded postponement with its end")


# ------------------------------------------------------------------------------------------------ in service


def known_gaps(s: Situation) -> list[GapFact]:
    """Known gaps of the unit or the whole place that touch the 24 months up to the day, oldest first."""
    from_clinic = [g for g in s.settled.clinic.gaps if g.unit in ("", s.unit.ref)]
    gaps = [g for g in (*s.unit.gaps, *from_clinic) if g.from_on <= s.as_of]
    start = add_months(s.as_of, -GAP_MONTHS)
    return sorted((g for g in gaps if g.to_on > start), key=lambda g: (g.from_on, g.row.number, g.row.line))


def _r10(s: Situation) -> Standing | None:
    gaps = known_gaps(s)
    if not gaps:
        return None
    first = gaps[0]
    words = f"gap noted: {first.what}, {first.from_on.isoformat()} to {first.to_on.isoformat()} ({first.why})"
    proof = [Evidence(g.row.ref, f"{g.what}: accepted by {g.accepted_by}") for g in gaps]
    return _say(Word.IN_SERVICE, "R10", words, first.row.happened_on, proof, "nobody: it can only be explained")


def _r11(s: Situation) -> Standing:
    proof = [e for e in (_last_good_test(s), _last_release(s)) if e is not None]
    stop = min((c for c in s.clocks if c.overdue_on), key=lambda c: (c.overdue_on, c.id), default=None)
    words = "no open failure, nothing overdue"
    words += f"; last proof: {proof[0].text}" if proof else "; no proof on record"
    if stop is not None:
        words += f"; next stop: {stop.title}, due {stop.due_on.isoformat()}"
    return _say(Word.IN_SERVICE, "R11", words, _in_service_since(s), proof, "nothing to lift")


def _last_good_test(s: Situation) -> Evidence | None:
    tests = [(t, s.settled.verdicts[t.row.origin]) for t in in_order(s.unit.bio_tests)]
    good = [(t, v) for t, v in tests if v.verdict == PASSED]
    return evidence_of(*good[-1]) if good else None


def _last_release(s: Situation) -> Evidence | None:
    released = [w for w in s.settled.works if w.done and w.job.conclusion]
    return evidence_of_job(released[-1]) if released else None


def _in_service_since(s: Situation) -> date | None:
    """The newest day on which something that had stopped the unit ended; the begin of use when nothing had."""
    days = [r.resolved_on for r in s.settled.replays if r.resolved_on and r.path.withdraws]
    days += [e.row.happened_on for e in s.unit.events if e.kind in ("installed", "returned", "loaner in")]
    days += [w.concluded_by.conclusion.row.happened_on for w in s.settled.works if w.done and w.concluded_by]
    placed = placement_on(s.unit, s.as_of)
    if placed is not None and len(s.unit.placements) > 1:
        days.append(placed.effective_on)
    if not days:
        return s.settled.usage.begin if s.settled.usage.begin_known else None
    return max(days)
