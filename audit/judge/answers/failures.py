"""Answers about failed tests: the response followed, the unit kept out, packs recalled, the authority told."""

from __future__ import annotations

from audit.facts import in_order
from audit.judge.biological import evidence_of
from audit.judge.judgement import Case, Evidence, Step

from .asked import IN_PART, MOST, NO, NOT_ASKED, YES, AskedPlace, Question, Reply, View, joined, none_found, number

ERROR, RETURNED = "entered in error", "returned"
_OUT = ("loads-while-out", "loads-while-withdrawn", "return-without-proof")


def failures_followed(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether every step that the rules ask after a failed test was done, and in time."""
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(view, question, "there was nothing to respond to")
    asked = [(c, s) for c in cases for s in c.steps if s.state != "not needed"]
    short = [(c, s) for c, s in asked if s.state != "done"]
    done = len(asked) - len(short)
    words = f"{_failures(cases)}: {done} of {number(len(asked), 'step')} asked were done in time."
    answer = YES if not short else NO if not done else IN_PART
    return Reply(answer, words, _case_proof(cases), joined(_step_words(c, s) for c, s in short))


def out_until_proven(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the unit was kept out of use from the failure to the proof."""
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(view, question, "there was nothing to keep it out of use for")
    broken = view.findings(*_OUT)
    if broken:
        proof = (*_case_proof(cases), *(e for f in broken for e in f.evidence))
        words = f"{_failures(cases)}. {joined(f.message for f in broken)}."
        return Reply(NO, words, proof[:MOST], broken[0].way_out)
    still = [c for c in cases if c.phase != RETURNED]
    told = joined(_until(c) for c in cases)
    gap = joined(c.needs for c in still if c.needs)
    return Reply(YES, f"{_failures(cases)}. {told}; no load is on record in between.", _case_proof(cases), gap)


def _until(case: Case) -> str:
    start = f"out from {case.known_on.isoformat()}"
    return f"{start} to {case.resolved_on.isoformat()}" if case.resolved_on else f"{start} and not proven yet"


def packs_recalled(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether packs were recalled wherever the rules ask it, and the loads affected decided about."""
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(view, question, "there was nothing to recall")
    asked = [c for c in cases if c.recall.startswith("recall")]
    if not asked:
        words = f"{_failures(cases)}; no recall was asked: {joined(c.recall for c in cases)}."
        return Reply(YES, words, _case_proof(cases))
    done = [c for c in asked if any(s.action == "recall packs" and s.done_on for s in c.steps)]
    refs = {c.ref for c in asked}
    backs = [b for b in view.said.look_backs if b.case in refs and b.case]
    unsettled = [b for b in backs if b.settled_on is None]
    words = f"{number(len(asked), 'failure')} asked a recall, {len(done)} of them recorded as done: "
    words += joined(f"{c.failed_on.isoformat()}, {c.recall}" for c in asked) + "."
    gap = [f"the recall after the failure of {c.failed_on.isoformat()}" for c in asked if c not in done]
    gap += [f"a decision about {number(len(b.loads), 'load')} affected: {b.trigger}" for b in unsettled]
    answer = YES if not gap else IN_PART if done else NO
    return Reply(answer, words, _case_proof(asked), f"{joined(gap)}; the clinic can say" if gap else "")


def authority_told(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether those who must be told of a failure were told in time."""
    if not any(p.notices for p in place.regime.failure):
        return Reply(NOT_ASKED, f"The rules followed ({place.regime.title}) name nobody who must be told.")
    cases = _cases(view, question.about)
    if not cases:
        return _no_failure(view, question, "there was nothing to tell")
    steps = [(c, s) for c in cases for s in c.steps if s.action == "notify" and s.state != "not needed"]
    if not steps:
        return Reply(YES, f"{_failures(cases)}; none of them was to be told.", _case_proof(cases))
    short = [(c, s) for c, s in steps if s.state != "done"]
    done = len(steps) - len(short)
    words = f"{done} of {number(len(steps), 'notice')} given in time: {joined(_step_words(c, s) for c, s in steps)}."
    proof = (*_case_proof(cases), *(e for _, s in steps for e in s.evidence))[:MOST]
    answer = YES if not short else NO if not done else IN_PART
    return Reply(answer, words, proof, joined(_step_words(c, s) for c, s in short))


# ------------------------------------------------------------------------------------------------ shared


def _cases(view: View, kind: str) -> list[Case]:
    """The failures on record, oldest first, of the kind where one is named; what was entered in error is none."""
    return [c for c in reversed(view.said.cases) if c.phase != ERROR and kind in ("", c.kind)]


def _no_failure(view: View, question: Question, meaning: str) -> Reply:
    tests = in_order(view.facts.bio_tests)
    others = len(view.facts.air_removal) + len(view.facts.leaks) + len(view.facts.checks)
    if not tests and not others:
        return none_found(question, "Neither a test nor a failure is on record.")
    proof = tuple(evidence_of(t, view.verdicts[t.row.origin]) for t in tests[-1:])
    counted = f"{number(len(tests), 'spore test')} and {number(others, 'other test')}"
    return Reply(YES, f"No such failure is on record among {counted}: {meaning}.", proof)


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
