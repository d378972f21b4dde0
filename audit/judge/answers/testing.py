"""Answers about tests and checks: each period, the last one, controls, lots, entries, after events, signatures."""

from __future__ import annotations

from audit.facts import BioTestFact, in_order, within
from audit.facts.dates import add_days
from audit.judge.biological import AWAITED, FAILED, PASSED, evidence_of, plain_text, same_product_and_lot
from audit.judge.clocks.counters import counter_of
from audit.judge.clocks.duties import EVENT, IMPLANT
from audit.judge.judgement import Coverage, DueKind, Evidence, Lapse, State

from .asked import (
    IN_PART,
    LONG_MONTHS,
    MOST,
    NO,
    NO_RECORD,
    NOT_ASKED,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
    since,
    with_beyond,
)
from .cycles import UNTOLD_DAYS, CyclesRun, run_of

BIOLOGICAL = "biological"
_BY_LOADS = ("day-of-use", "day-of-use-and-cycle-type", IMPLANT)  # due by the loads on record
_NOT_KEPT = ("missed", "invalid", "met late")
_MOVES = ("installed", "relocated")
_PROVEN = (State.OK, State.NOT_APPLICABLE)
_LATE = (State.OVERDUE, State.NO_EVIDENCE)


def tested_each_period(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the duties of the subject `about` (spore tests where it names none) were kept in every period.

    One that is overdue on the day is not kept, though it was asked of no period yet, as where rules changed.
    """
    kept = place.coverage(view, question.about or BIOLOGICAL)
    reply, duties = _of_coverages(place, view, question, kept), {c.duty for c in kept}
    if reply.answer not in (YES, NOT_ASKED):
        return reply
    late = [c for c in view.clocks(DueKind.DUTY) if c.code in duties and c.state in _LATE]
    if not late:
        return reply
    told = joined(f"{c.title}: {c.state}{f' since {c.overdue_on}' if c.overdue_on else ''}" for c in late)
    answer = IN_PART if reply.answer == YES else NO
    return Reply(answer, f"{reply.words} {told}.", reply.evidence, f"{told}; {question.gap}")


def tested_after_events(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the tests after an installation, a move or a major repair were done before use.

    An event that still waits for its tests counts, though its time is not over: it was asked, and is not shown.
    """
    kept = place.coverage(view, question.about or BIOLOGICAL, EVENT)
    reply, duties = _of_coverages(place, view, question, kept), {c.duty for c in kept}
    waiting = [c for c in view.clocks(DueKind.DUTY) if c.code in duties and c.state not in _PROVEN]
    if not waiting and reply.answer == NOT_ASKED:
        return _of_move(place, view, question, reply)
    if reply.answer == NO_RECORD and (begun := _not_passed(view, kept)):
        told = joined(f"{view.verdicts[t.row.origin].verdict} on {day_of(t)}" for t in begun)
        proof = (*reply.evidence, *(evidence_of(t, view.verdicts[t.row.origin]) for t in begun))[:MOST]
        reply = Reply(NO, f"{reply.words} Spore tests since: {told}.", proof, reply.gap)
    if not waiting or reply.answer not in (YES, NOT_ASKED):
        return reply
    told = joined(
        f"{c.title} after {c.counts_from.text if c.counts_from else 'it'}: {c.note or c.state}" for c in waiting
    )
    proof = tuple(c.counts_from for c in waiting if c.counts_from is not None)
    answer = IN_PART if reply.answer == YES else NO
    return Reply(
        answer, f"{reply.words} Not proven yet: {told}.", (*reply.evidence, *proof), f"{told}; {question.gap}"
    )


def _not_passed(view: View, kept: list[Coverage]) -> list[BioTestFact]:
    """The spore tests that failed, or were not read, after an event whose tests were missed: they are a record."""
    missed = [x for c in kept for x in c.lapses if x.result == "missed"]
    tests = dict.fromkeys(t for x in missed for t in within(view.facts.bio_tests, x.start, x.end))
    return [t for t in tests if view.verdicts[t.row.origin].verdict in (FAILED, AWAITED)]


def _of_move(place: AskedPlace, view: View, question: AskedQuestion, reply: Reply) -> Reply:
    """Where the rules name no test after the last installation or move: what was begun since and is not read yet
    proves nothing, and is said. Common practice, no source."""
    moves = [e for e in place.recent(view.facts.events) if e.kind in _MOVES]
    if not moves:
        return reply
    tests = since(view.facts.bio_tests, moves[-1].row.happened_on)
    unread = [t for t in tests if view.verdicts[t.row.origin].verdict == AWAITED]
    if not unread or any(view.verdicts[t.row.origin].verdict == PASSED for t in tests):
        return reply
    told = f"{moves[-1].kind} on {day_of(moves[-1])}: {number(len(unread), 'spore test')} since, none read yet"
    proof = (*reply.evidence, *(evidence_of(t, view.verdicts[t.row.origin]) for t in unread))[:MOST]
    return Reply(NO, f"{reply.words} {told[:1].upper()}{told[1:]}.", proof, _both(told, question.gap))


def implants_tested(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each load with an implant held a spore test, its result known before the release."""
    reply = _of_coverages(place, view, question, place.coverage(view, BIOLOGICAL, IMPLANT))
    early = view.findings("implant-released-early")
    if not early:
        return reply
    said = joined(f.message for f in early)
    proof = tuple(e for f in early for e in f.evidence)[-MOST:]
    answer = NO if reply.answer == NO else IN_PART
    return Reply(answer, f"{reply.words} {said}.", (*reply.evidence, *proof), _both(reply.gap, early[0].way_out))


def checks_signed(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether every check that the rules want signed was done and signed."""
    signed = {d.id for d in place.regime.duties if d.signed}
    return _of_coverages(place, view, question, [c for c in view.said.coverage if c.duty in signed])


def _of_coverages(place: AskedPlace, view: View, question: AskedQuestion, kept: list[Coverage]) -> Reply:
    """The duties of the rules and of the clinic's own together, each counted for itself; "yes" only where all were
    kept and nothing that they count by is unknown."""
    if not kept:
        return _nothing_covered(place, view, question)
    due = sum(c.due for c in kept)
    proof = _newest(view, kept)
    unknown = _unknown(place, view, kept)
    words = " ".join(f"{c.title}, {c.first.isoformat()} to {c.last.isoformat()}: {c.words}" for c in kept)
    words = " ".join([words, *(f"{u[:1].upper()}{u[1:]}." for u in unknown)])
    if not due:
        if _unlogged(place, view, kept):
            return Reply(NO_RECORD, words, (), _both(joined(unknown), question.gap))
        return Reply(NOT_ASKED, words, proof)
    met = sum(c.met + c.awaited for c in kept)
    if not met and not any(c.met_late for c in kept):
        answer = NO if any(c.tests or c.invalid for c in kept) else NO_RECORD
    else:
        answer = YES if met == due and not unknown else IN_PART
    lapses = [x for c in kept for x in c.lapses if x.result in _NOT_KEPT]
    proof = (*proof, *(e for x in lapses for e in x.evidence[-1:] if x.result != "missed"))[: MOST + 1]
    return Reply(answer, words, tuple(dict.fromkeys(proof)), _gap(lapses, unknown, question))


def _unknown(place: AskedPlace, view: View, kept: list[Coverage]) -> list[str]:
    """What is not known of that by which the duties count: use before the record, hours, loads, results."""
    every = {place.every(c.duty) for c in kept}
    usage, first = view.usage, min(c.first for c in kept)
    out = []
    if not usage.begin_known and usage.begin > first:
        out.append(f"it is on record from {usage.begin.isoformat()}; whether it was used before is not known")
    if "hours-or-days" in every and not hours_known(place, view):
        out.append("hours of use are not known: counted by days alone")
    if every & set(_BY_LOADS) and not _cycles(place, view).complete:
        out.append(f"counted by the loads on record; {_cycles(place, view).words.rstrip('.')}")
    if any(c.awaited for c in kept) and view.findings("result-awaited-too-long"):
        out.append("a result is awaited for too long")
    elif EVENT in every and any(c.awaited for c in kept):
        out.append("a result is awaited: it is not proven yet")
    return out


def _unlogged(place: AskedPlace, view: View, kept: list[Coverage]) -> bool:
    """Whether nothing was due only because the loads that would ask it are not logged."""
    return any(place.every(c.duty) in _BY_LOADS for c in kept) and _cycles(place, view).missing > 0


def _cycles(place: AskedPlace, view: View) -> CyclesRun:
    return run_of(place, view, LONG_MONTHS)


def hours_known(place: AskedPlace, view: View) -> bool:
    """Whether the hours counter tells of the whole time, or the minutes of every load, none of them unlogged."""
    counter, begin = counter_of(view.facts, "hours"), max(view.usage.begin, place.since(LONG_MONTHS))
    if counter is not None and len(counter.days) > 1 and (counter.fell_on is None or counter.fell_on <= begin):
        first, last = add_days(begin, UNTOLD_DAYS), add_days(place.as_of, -UNTOLD_DAYS)
        if counter.days[0] <= first and counter.days[-1] >= last:
            return True
    loads = place.recent(view.facts.loads)
    return bool(loads) and all(x.minutes is not None for x in loads) and _cycles(place, view).complete


def _nothing_covered(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    if not view.said.coverage:
        return none_found(question, "Nothing is counted for this unit.")
    return Reply(NOT_ASKED, f"The rules followed ({place.regime.title}) ask no such test of this unit.")


def _newest(view: View, kept: list[Coverage]) -> tuple[Evidence, ...]:
    """What each of the duties counts from now."""
    duties = {c.duty for c in kept}
    return tuple(c.counts_from for c in view.clocks(DueKind.DUTY) if c.code in duties and c.counts_from is not None)


def _gap(lapses: list[Lapse], unknown: list[str], question: AskedQuestion) -> str:
    """What is missing: only what was missed or does not count, or is not known, can still be found."""
    short = [x for x in lapses if x.result != "met late"]
    if not short and not unknown:
        return ""
    told = f"nothing that counts for {joined(_span(x) for x in short)}" if short else ""
    return _both(told, *unknown, question.gap)


def _span(lapse: Lapse) -> str:
    start, end = lapse.start.isoformat(), lapse.end.isoformat()
    return start if start == end else f"{start} to {end}"


def _both(*texts: str) -> str:
    return "; ".join(t for t in texts if t)


# ------------------------------------------------------------------------------------------------ single tests


def last_test(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """The day of the last spore test with a result, and how many newer ones have none."""
    verdicts, tests = view.verdicts, in_order(view.facts.bio_tests)
    known = [t for t in tests if verdicts[t.row.origin].verdict in (PASSED, FAILED)]
    if not known:
        return none_found(question, "No spore test with a result is on record.")
    last = known[-1]
    days = (place.as_of - last.row.happened_on).days
    verdict = verdicts[last.row.origin]
    newer = len(tests) - 1 - tests.index(last)
    one = "Last one with a result" if newer else "Last one"
    words = f"{one} on {day_of(last)}, {verdict.verdict}, {number(days, 'day')} ago; "
    words += f"{number(newer, 'newer one')}, of {day_of(tests[-1])}, without a result that counts; " if newer else ""
    words += f"{len(known)} with a result on record."
    return Reply(YES, words, (evidence_of(last, verdict),))


def matching_control(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each spore test had a control of the same lot of the same product that grew.

    A lot that is not known is no match. Tests not read yet are left out, but for those whose control is no match.
    """

    def good(test: BioTestFact) -> bool:
        return _matched(test) and (not test.readings or _control_grew(test))

    what = "with a control of the same lot that grew"
    return _tests(place, view, question, good, what, lambda t: t.readings or not _matched(t))


def _matched(test: BioTestFact) -> bool:
    control, own = test.control_lot, test.lot
    if control is None or not own.lot.strip():
        return False
    return control is own or same_product_and_lot(own, control)


def _control_grew(test: BioTestFact) -> bool:
    """Whether the newest reading that states the control states growth."""
    stated = [r.control for r in in_order(test.readings) if r.control in ("growth", "no growth")]
    return stated[-1:] == ["growth"]


def lots_in_date(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the indicator of each spore test was of a known lot, in date on the day of the cycle."""

    def good(test: BioTestFact) -> bool:
        lot = test.lot
        return bool(plain_text(lot.lot)) and lot.expiry is not None and lot.expiry >= test.row.happened_on

    return _tests(place, view, question, good, "with an indicator in date on the day, by the lot on record")


def test_entries_complete(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether each spore test names its lot, its cycle and who ran and read it (or the laboratory's report).

    A test that is complete but not read yet is left out.
    """

    def run(test: BioTestFact) -> bool:
        return all(text.strip() for text in (test.lot.lot, test.cycle_type, test.run_by))

    def good(test: BioTestFact) -> bool:
        return run(test) and all(r.read_by.strip() or r.report.strip() for r in test.readings)

    what = "with lot, type of cycle, who ran and who read it"
    return with_beyond(question, _tests(place, view, question, good, what, lambda t: t.readings or not run(t)))


def _tests(place: AskedPlace, view: View, question: AskedQuestion, good, what: str, only=lambda test: True) -> Reply:
    """How many of the spore tests of two years are good; `only`: those that are looked at, the others are told."""
    held = place.recent(view.facts.bio_tests)
    tests = [t for t in held if only(t)]
    bad = [t for t in tests if not good(t)]
    shown, verdicts = bad or tests[-1:], view.verdicts
    proof = tuple(evidence_of(t, verdicts[t.row.origin]) for t in shown[-MOST:])
    gap = _both(f"not so: {joined(day_of(t) for t in bad)}", question.gap) if bad else ""
    told = f"{{}} {what}." + (f" {len(held) - len(tests)} not read yet." if len(held) > len(tests) else "")
    return how_many_good(question, tests, bad, "spore test", told, proof, gap)


def water_known(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the water was measured within a year, with a value, and passed."""
    checks = [c for c in place.recent(view.facts.checks, RECENT_MONTHS) if c.kind == "water"]
    checks = [c for c in checks if c.result in ("pass", "fail")]
    if not checks:
        return none_found(question, "No water check of the last 12 months is on record.")
    last = checks[-1]
    value = "no value" if last.value is None else f"{last.value} {last.unit_of_measure}".strip()
    words = f"{number(len(checks), 'water check')} in the last 12 months; the last on {day_of(last)}: {value}, "
    words += f"{last.result}."
    same = [c for c in checks if c.row.happened_on == last.row.happened_on]
    proof = cited((c, f"water check of {day_of(c)}: {c.result}") for c in same)
    if last.result == "fail":
        return Reply(NO, words, proof, "a check that passes")
    if any(c.result == "fail" for c in same) and any(c.row.happened_at is None for c in same):
        return Reply(
            IN_PART,
            f"{words} Another of that day failed, and which came last is not known.",
            proof,
            "a check that passes",
        )
    if last.value is None or not last.unit_of_measure.strip():
        missing = "its value" if last.value is None else "the unit of its value"
        return Reply(IN_PART, words, proof, f"{missing}; {question.gap}")
    return Reply(YES, words, proof)
