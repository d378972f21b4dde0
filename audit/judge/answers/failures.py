"""Answers about failed tests: the response followed, the unit kept out, packs recalled, the authority told."""

from __future__ import annotations

from audit.facts import in_order
from audit.facts.dates import add_days
from audit.judge.biological import FAILED, PASSED, evidence_of
from audit.judge.judgement import Case, Evidence, Step

from .asked import (
    IN_PART,
    LONG_MONTHS,
    MOST,
    NO,
    NOT_ASKED,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    cited,
    day_of,
    joined,
    none_found,
    number,
)
from .cycles import UNTOLD_DAYS
from .in_between import between
from .testing import BIOLOGICAL

ERROR, RETURNED = "entered in error", "returned"
_OUT = ("loads-while-out", "loads-while-withdrawn", "return-without-proof")


def failures_followed(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether every step that the rules ask after a failed test was done, and in time."""
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(place, view, question, "there was nothing to respond to")
    asked = [(c, s) for c in cases for s in c.steps if s.state != "not needed"]
    short = [(c, s) for c, s in asked if s.state != "done"]
    done = len(asked) - len(short)
    words = f"{_failures(cases)}: {done} of {number(len(asked), 'step')} asked were done in time."
    answer = YES if not short else NO if not done else IN_PART
    return Reply(answer, words, _case_proof(cases), joined(_step_words(c, s) for c, s in short))


def out_until_proven(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the unit was kept out of use from the failure to the proof, by the loads and cycles on record.

    A failure of a kind for which the rules ask no withdrawal is told so, with the loads run before it was proven.
    """
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(place, view, question, "there was nothing to keep it out of use for")
    told = [between(place, view, c) for c in cases]
    words = f"{_failures(cases)}. {joined(b.words for b in told)}."
    proof = _case_proof(cases)
    broken = view.findings(*_OUT)
    if broken:
        proof = (*proof, *(e for f in broken for e in f.evidence))
        return Reply(NO, f"{words} {joined(f.message for f in broken)}.", proof[:MOST], broken[0].way_out)
    used = [b for b in told if b.loads]
    if any(b.withdraws for b in used) or len(used) == len(told):
        gap = f"what became of {number(sum(len(b.loads) for b in used), 'load')} in between; {question.gap}"
        return Reply(NO, words, (*proof, *(b.loads[0] for b in used))[:MOST], gap)
    gap = [b.gap for b in told if b.gap] + _uncovered_gap(view, question)
    return Reply(IN_PART if gap else YES, words, proof, joined(gap))


def packs_recalled(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether packs were recalled wherever the rules ask it, and the loads affected decided about."""
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(place, view, question, "there was nothing to recall")
    asked = [c for c in cases if c.recall.startswith("recall")]
    done = [c for c in asked if any(s.action == "recall packs" and s.done_on for s in c.steps)]
    refs = {c.ref for c in cases}  # where no recall is asked, the loads in doubt are decided about all the same
    backs = [b for b in view.said.look_backs if b.case in refs and b.case]
    unsettled = [b for b in backs if b.settled_on is None]
    words = f"{number(len(asked), 'failure')} asked a recall, {len(done)} of them recorded as done: " if asked else ""
    told = asked or cases
    words += joined(f"{c.failed_on.isoformat()}, {c.recall}" for c in told) + "."
    words = words if asked else f"{_failures(cases)}. Recall: {words}"
    gap = [f"the recall after the failure of {c.failed_on.isoformat()}" for c in asked if c not in done]
    gap += [f"a decision about {number(len(b.loads), 'load')} affected: {b.trigger}" for b in unsettled]
    still = [c for c in cases if c.phase != RETURNED and c not in asked]
    gap += [f"the end of the case of {c.failed_on.isoformat()}" + (f": {c.needs}" if c.needs else "") for c in still]
    gap += _uncovered_gap(view, question)
    answer = YES if not gap else NO if asked and not done else IN_PART
    return Reply(answer, words, _case_proof(told), f"{joined(gap)}; the clinic can say" if gap else "")


def authority_told(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether those who must be told of a failure were told in time."""
    if not any(p.notices for p in place.regime.failure):
        return Reply(NOT_ASKED, f"The rules followed ({place.regime.title}) name nobody who must be told.")
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(place, view, question, "there was nothing to tell")
    steps = [(c, s) for c in cases for s in c.steps if s.action == "notify" and s.state != "not needed"]
    if not steps:
        return Reply(YES, f"{_failures(cases)}; none of them was to be told.", _case_proof(cases))
    short = [(c, s) for c, s in steps if s.state != "done"]
    done = len(steps) - len(short)
    words = f"{done} of {number(len(steps), 'notice')} given in time: {joined(_step_words(c, s) for c, s in steps)}."
    proof = (*_case_proof(cases), *(e for _, s in steps for e in s.evidence))[:MOST]
    answer = YES if not short else NO if not done else IN_PART
    return Reply(answer, words, proof, joined(_step_words(c, s) for c, s in short))


def another_proven(place: AskedPlace, question: AskedQuestion) -> Reply:
    """Whether, for each unit whose positive spore test is not resolved, another may be used whose last one passed."""
    if not any(view.facts.bio_tests for view in place.views):
        return none_found(question, "No spore test is on record.")
    open_ = [(v, c) for v in place.views for c in _cases(v, BIOLOGICAL) if c.phase != RETURNED]
    good = [v for v in place.views if v.said.standing.word.may_be_used and _last_passed(v)]
    proof = tuple(e for _, c in open_ for e in c.evidence)
    proof = (*cited((v.facts, "may be used, its last spore test passed") for v in good), *proof)[:MOST]
    if not open_:
        return Reply(NOT_ASKED, "No positive spore test is open.")
    bad = [c for v, c in open_ if not any(other is not v for other in good)]
    words = (
        f"{number(len(open_), 'positive spore test')} open; {number(len(good), 'unit')} may be used with its last "
    )
    words += "spore test passed."
    return Reply(NO if bad else YES, words, proof, question.gap if bad else "")


def _last_passed(view: View) -> bool:
    known = _with_result(view, BIOLOGICAL)
    return bool(known) and view.verdicts[known[-1].row.origin].verdict == PASSED


# ------------------------------------------------------------------------------------------------ shared


def _cases(view: View, kind: str) -> list[Case]:
    """The failures on record, oldest first, of the kind where one is named; what was entered in error is none."""
    return [c for c in reversed(view.said.cases) if c.phase != ERROR and kind in ("", c.kind)]


def _no_failure(place: AskedPlace, view: View, question: AskedQuestion, meaning: str) -> Reply:
    """No case is on record: "yes" only where tests with a result are, over the time asked, and none failed."""
    known = view.once(("with result", question.about), lambda: _with_result(view, question.about))
    if not known:
        return none_found(question, f"Neither {_named(question.about)} with a result nor a failure is on record.")
    last = known[-1]
    proof = cited([(last, f"the newest of {len(known)}, {day_of(last)}")])
    if last.row.origin in view.verdicts:
        proof = (evidence_of(last, view.verdicts[last.row.origin]),)
    words = f"{number(len(known), 'result')} on record since {day_of(known[0])}"
    failed = _uncovered_gap(view, question)
    if failed:
        return Reply(IN_PART, f"{words}; {failed[0]}.", proof, f"{failed[0]}; {question.gap}")
    words = f"No such failure is on record among {words}: {meaning}."
    usage = view.usage
    begin = max(usage.begin, place.since(LONG_MONTHS))
    late = known[0].row.happened_on > add_days(begin, UNTOLD_DAYS)
    late = late or (not usage.begin_known and usage.begin > place.since(LONG_MONTHS))
    if late:
        told = f"records of such tests begin on {day_of(known[0])}; what was before is not known"
        return Reply(IN_PART, f"{words} {told[0].upper()}{told[1:]}.", proof, f"{told}; {question.gap}")
    return Reply(YES, words, proof)


def _named(kind: str) -> str:
    return "a spore test" if kind == BIOLOGICAL else "a test"


def _with_result(view: View, kind: str) -> list:
    """The tests and checks that passed or failed, in order; of the kind where spore tests alone are asked about."""
    unit = view.facts
    verdicts = view.verdicts
    rows = [t for t in in_order(unit.bio_tests) if verdicts[t.row.origin].verdict in (PASSED, FAILED)]
    if kind == BIOLOGICAL or not (unit.air_removal or unit.leaks or unit.checks):
        return rows
    rows += [f for f in (*unit.air_removal, *unit.leaks, *unit.checks) if f.result in ("pass", "fail")]
    return list(in_order(rows))


def _uncovered_gap(view: View, question: AskedQuestion) -> list[str]:
    """Failed results that opened no case, in words: the rules followed ask nothing after them."""
    if question.about:
        return []
    held = {e.ref for c in view.said.cases for e in c.evidence}
    rows = [f for f in view.once("failed", lambda: _failed_rows(view)) if f.row.ref not in held]
    if not rows:
        return []
    days = joined(dict.fromkeys(day_of(f) for f in rows))
    return [f"what was done after {number(len(rows), 'failed result')} without a case ({days})"]


def _failed_rows(view: View) -> list:
    """Every test, indicator, check and load on record with a failed result, in order."""
    unit, verdicts = view.facts, view.verdicts
    rows = [f for f in (*unit.air_removal, *unit.leaks, *unit.checks, *unit.chemical) if f.result == "fail"]
    rows += [t for t in unit.bio_tests if verdicts[t.row.origin].verdict == FAILED or _abnormal(t)]
    loads = unit.loads if view.told is None else view.told
    rows += [x for x in loads if x.mechanical == "fail" or x.chemical == "fail"]
    return list(in_order(rows))


def _abnormal(fact) -> bool:
    return "fail" in (fact.mechanical, fact.chemical)


def _failures(cases: list[Case]) -> str:
    days = joined(f"{c.title}, known {c.known_on.isoformat()}: {c.phase}" for c in cases)
    return f"{number(len(cases), 'failure')} on record ({days})"


def _case_proof(cases: list[Case]) -> tuple[Evidence, ...]:
    """For each case what failed, and what was done about it."""
    rows = [e for c in cases for e in (*c.evidence, *(e for s in c.steps for e in s.evidence[-1:]))]
    return tuple(dict.fromkeys(rows))[:MOST]


def _step_words(case: Case, step: Step) -> str:
    done = f"done {step.done_on.isoformat()}" if step.done_on else "not done"
    note = f" ({step.note})" if step.note else ""
    return f"{step.title} after the failure of {case.failed_on.isoformat()}: {done}{note}"
