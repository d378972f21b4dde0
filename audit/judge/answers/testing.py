"""Answers about tests and checks: each period, the last one, controls, lots, entries, after events, signatures."""

from __future__ import annotations

from audit.facts import BioTestFact, in_order
from audit.judge.biological import FAILED, PASSED, evidence_of
from audit.judge.clocks.duties import EVENT, IMPLANT
from audit.judge.judgement import Coverage, DueKind, Evidence, Lapse

from .asked import (
    IN_PART,
    MOST,
    NO,
    NO_RECORD,
    NOT_ASKED,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    Question,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
)

BIOLOGICAL = "biological"
_NOT_KEPT = ("missed", "invalid", "met late")


def tested_each_period(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the duties of the subject `about` (spore tests where it names none) were kept in every period."""
    return _of_coverages(place, view, question, place.coverage(view, question.about or BIOLOGICAL))


def tested_after_events(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the tests after an installation, a move or a major repair were done before use."""
    return _of_coverages(place, view, question, place.coverage(view, question.about or BIOLOGICAL, EVENT))


def implants_tested(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether each load with an implant held a spore test, its result known before the release."""
    reply = _of_coverages(place, view, question, place.coverage(view, BIOLOGICAL, IMPLANT))
    early = view.findings("implant-released-early")
    if not early:
        return reply
    said = joined(f.message for f in early)
    proof = tuple(e for f in early for e in f.evidence)[-MOST:]
    answer = NO if reply.answer == NO else IN_PART
    return Reply(answer, f"{reply.words} {said}.", (*reply.evidence, *proof), _both(reply.gap, early[0].way_out))


def checks_signed(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether every check that the rules want signed was done and signed."""
    signed = {d.id for d in place.regime.duties if d.signed}
    return _of_coverages(place, view, question, [c for c in view.said.coverage if c.duty in signed])


def _of_coverages(place: AskedPlace, view: View, question: Question, kept: list[Coverage]) -> Reply:
    if not kept:
        return _nothing_covered(place, view, question)
    due = sum(c.due for c in kept)
    proof = _newest(view, kept)
    words = " ".join(f"{c.title}, {c.first.isoformat()} to {c.last.isoformat()}: {c.words}" for c in kept)
    if not due:
        return Reply(NOT_ASKED, words, proof)
    met = sum(c.met + c.awaited for c in kept)
    if not met and not any(c.met_late for c in kept):
        answer = NO if any(c.tests or c.invalid for c in kept) else NO_RECORD
    else:
        answer = YES if met == due else IN_PART
    lapses = [x for c in kept for x in c.lapses if x.result in _NOT_KEPT]
    proof = (*proof, *(e for x in lapses for e in x.evidence[-1:] if x.result != "missed"))[: MOST + 1]
    return Reply(answer, words, tuple(dict.fromkeys(proof)), _gap(lapses, question))


def _nothing_covered(place: AskedPlace, view: View, question: Question) -> Reply:
    if not view.said.coverage:
        return none_found(question, "Nothing is counted for this unit.")
    return Reply(NOT_ASKED, f"The rules followed ({place.regime.title}) ask no such test of this unit.")


def _newest(view: View, kept: list[Coverage]) -> tuple[Evidence, ...]:
    """What each of the duties counts from now."""
    duties = {c.duty for c in kept}
    return tuple(c.counts_from for c in view.clocks(DueKind.DUTY) if c.code in duties and c.counts_from is not None)


def _gap(lapses: list[Lapse], question: Question) -> str:
    """What is missing: only what was missed or does not count can still be found."""
    short = [x for x in lapses if x.result != "met late"]
    if not short:
        return ""
    told = joined(_span(x) for x in short)
    return _both(f"nothing that counts for {told}", question.gap)


def _span(lapse: Lapse) -> str:
    start, end = lapse.start.isoformat(), lapse.end.isoformat()
    return start if start == end else f"{start} to {end}"


def _both(*texts: str) -> str:
    return "; ".join(t for t in texts if t)


# ------------------------------------------------------------------------------------------------ single tests


def last_test(place: AskedPlace, view: View, question: Question) -> Reply:
    """The day of the last spore test with a result."""
    verdicts = view.verdicts
    known = [t for t in in_order(view.facts.bio_tests) if verdicts[t.row.origin].verdict in (PASSED, FAILED)]
    if not known:
        return none_found(question, "No spore test with a result is on record.")
    last = known[-1]
    days = (place.as_of - last.row.happened_on).days
    verdict = verdicts[last.row.origin]
    words = f"Last one on {day_of(last)}, {verdict.verdict}, {number(days, 'day')} ago; {len(known)} on record."
    return Reply(YES, words, (evidence_of(last, verdict),))


def matching_control(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether each spore test had a control of the same lot that grew."""

    def good(test: BioTestFact) -> bool:
        control = test.control_lot
        return (
            control is not None and control.lot == test.lot.lot and any(r.control == "growth" for r in test.readings)
        )

    return _tests(place, view, question, good, "with a control of the same lot that grew", wait=True)


def lots_in_date(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the indicator of each spore test was in date on the day of the cycle."""

    def good(test: BioTestFact) -> bool:
        return test.lot.expiry is not None and test.lot.expiry >= test.row.happened_on

    return _tests(place, view, question, good, "with an indicator in date on the day, by the lot on record")


def test_entries_complete(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether each spore test names its lot, its cycle and who ran and read it (or the laboratory's report)."""

    def good(test: BioTestFact) -> bool:
        read = all(r.read_by or r.report for r in test.readings)
        return bool(test.lot.lot and test.cycle_type and test.run_by and read)

    return _tests(place, view, question, good, "with lot, type of cycle, who ran and who read it")


def _tests(place: AskedPlace, view: View, question: Question, good, what: str, *, wait: bool = False) -> Reply:
    """How many of the spore tests of two years are good; `wait`: those without a reading are left out."""
    tests = [t for t in place.recent(view.facts.bio_tests) if t.readings or not wait]
    bad = [t for t in tests if not good(t)]
    shown, verdicts = bad or tests[-1:], view.verdicts
    proof = tuple(evidence_of(t, verdicts[t.row.origin]) for t in shown[-MOST:])
    gap = _both(f"not so: {joined(day_of(t) for t in bad)}", question.gap) if bad else ""
    return how_many_good(question, tests, bad, "spore test", f"{{}} {what}.", proof, gap)


def water_known(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the water was measured within a year, with a value, and passed."""
    checks = [c for c in place.recent(view.facts.checks, RECENT_MONTHS) if c.kind == "water"]
    checks = [c for c in checks if c.result in ("pass", "fail")]
    if not checks:
        return none_found(question, "No water check of the last 12 months is on record.")
    last = checks[-1]
    value = "no value" if last.value is None else f"{last.value} {last.unit_of_measure}".strip()
    words = f"{number(len(checks), 'water check')} in the last 12 months; the last on {day_of(last)}: {value}, "
    words += f"{last.result}."
    proof = cited([(last, f"water check of {day_of(last)}: {value}, {last.result}")])
    if last.result == "fail":
        return Reply(NO, words, proof, "a check that passes")
    if last.value is None:
        return Reply(IN_PART, words, proof, f"its value; {question.gap}")
    return Reply(YES, words, proof)
