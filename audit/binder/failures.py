"""Each failure of one unit, told once: its state, what was done beside what the rules ask, in order, the look-back.

Elsewhere a failure is a line with its page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from audit.binder.lookbacks import good_proof, look_back_blocks, look_back_sections, look_backs_of_case
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import EVERYTHING, Block, CaseTimeline, Cell, Paragraph, Section, StandingBox, TimelineStep
from audit.binder.spore_words import SporeKinds, verdicts_of
from audit.binder.written_on_paper import counted, dated, day, first_upper, labelled
from audit.facts import BioTestFact, FollowUpFact
from audit.judge.judgement import Case, Evidence, Step, TestVerdict

DONE, FAILED, OPEN, NOT_NEEDED = "done", "failed", "open", "not needed"
_LAST = date.max


def _touches(scope: Scope, case: Case) -> bool:
    """A case belongs to the period when it was open on any day of it."""
    if case.failed_on > min(scope.to_on, scope.as_of):
        return False
    return case.resolved_on is None or case.resolved_on >= scope.from_on


def cases_told(scope: Scope, unit: UnitScope) -> list[Case]:
    """Failures open on any day of the period, the earliest first."""
    cases = [case for case in (unit.judgement.cases if unit.judgement else ()) if _touches(scope, case)]
    return sorted(cases, key=lambda case: (case.failed_on, case.known_on, case.ref))


def case_section(scope: Scope, unit: UnitScope, case: Case) -> str:
    """The id of the section that tells a failure, "" where this binder does not tell it."""
    told = cases_told(scope, unit)
    return f"{unit.indicators}-failure-{told.index(case) + 1}" if case in told else ""


def refs_of_case(case: Case) -> set[str]:
    """The rows that the telling of a failure names."""
    return {each.ref for each in (*case.evidence, *(proof for step in case.steps for proof in step.evidence))}


def told_with_failures(scope: Scope, unit: UnitScope) -> dict[str, str]:
    """The section of the failure that tells a row, by the ref of the row."""
    told = cases_told(scope, unit)
    return {ref: case_section(scope, unit, case) for case in reversed(told) for ref in refs_of_case(case)}


# ------------------------------------------------------------------------------------------------ in order


@dataclass(frozen=True, slots=True)
class _ToldOfCase:
    """What may be said of the rows of one case: its spore tests in full, its follow-ups, what is told already."""

    scope: Scope
    unit: UnitScope
    followups: tuple[FollowUpFact, ...]

    def _test(self, test: BioTestFact, verdict: TestVerdict | None, on: date | None) -> str:
        """A spore test: one that passed as far as it is otherwise than most, any other with its program too."""
        kinds = SporeKinds.of(self.scope.inside(self.unit.facts.bio_tests) or (test,))
        passed = verdict is not None and verdict.verdict == "passed"
        ran = "" if test.row.happened_on == on else f"{day(test.row.happened_on)}. "
        return ran + kinds.told_in_full(test, verdict, whole_cycle=not passed)

    @staticmethod
    def _short(text: str, on: date | None) -> str:
        """A sentence of a follow-up without its action and day, where the line gives both."""
        if on is None:
            return text
        return re.sub(rf"^[a-z ]+ on {on.isoformat()} by ", "by ", text, count=1)

    def evidence(self, evidence: Iterable[Evidence], on: date | None = None) -> list[str]:
        """What each row says, a spore test in full; of two sentences about one row the longer one."""
        tests = {test.row.ref: test for test in self.unit.facts.bio_tests}
        verdicts = verdicts_of(self.unit)
        said: dict[str, str] = {}
        for each in evidence:
            test = tests.get(each.ref)
            if test is not None:
                text = self._test(test, verdicts.get(test.row.origin), on)
            else:
                text = f"{first_upper(dated(self._short(each.text, on))).rstrip('.')}."
            if len(text) > len(said.get(each.ref, "")):
                said[each.ref] = text
        return list(said.values())

    def asked(self, action: str) -> list[str]:
        """What was asked of whom, where the sentence of what was done does not say it."""
        out = []
        for step in self.followups:
            if step.action != action:
                continue
            done = step.done_on is not None and step.done_on <= self.scope.to_on
            if done and self.scope.extent != EVERYTHING:
                continue
            text = step.text if step.text and (not done or step.outcome not in ("", step.text)) else ""
            owner = step.owner if step.owner and step.owner != step.done_by else ""
            due = day(step.due_on) if step.due_on else ""
            parts = [text, labelled("by whom", owner), labelled("by", due) if text or owner or not done else ""]
            words = "; ".join(part for part in parts if part)
            if words:
                out.append(f"Asked: {words}.")
        return out

    def rows(self, evidence: Iterable[Evidence]) -> list[str]:
        """The refs behind evidence: those of a spore test with its readings."""
        tests = {test.row.ref: test for test in self.unit.facts.bio_tests}
        out = []
        for each in evidence:
            test = tests.get(each.ref)
            out += [each.ref, *(reading.row.ref for reading in test.readings)] if test else [each.ref]
        return out

    def refs(self, action: str) -> list[str]:
        return [step.row.ref for step in self.followups if step.action == action]


def _followups(scope: Scope, unit: UnitScope, case: Case) -> tuple[FollowUpFact, ...]:
    facts = [fact for fact in unit.facts.cases if case.ref and fact.row.origin == case.ref]
    steps = [step for fact in facts for step in fact.followups if step.row.happened_on <= scope.to_on]
    return tuple(sorted(steps, key=lambda s: (s.row.happened_on, s.row.number, s.row.line)))


def _step(told: _ToldOfCase, step: Step, failing: set[str]) -> TimelineStep:
    failed = any(each.ref in failing for each in step.evidence)
    state = FAILED if failed and step.done_on else step.state
    due = f"by {day(step.due_on)}" if step.due_on else "open"
    when = day(step.done_on) if step.done_on else due
    note = f"{first_upper(dated(step.note))}." if step.note else ""
    late = f"In time up to and with {day(step.due_on)}." if step.due_on and step.done_on else ""
    said = [*told.evidence(step.evidence, step.done_on), *told.asked(step.action), note, late]
    said = [text for text in said if text] or ["Not done yet."]
    refs = [*told.rows(step.evidence), *told.refs(step.action)]
    record = _in_line(told.scope, refs)
    return TimelineStep(state, when, _first_word(step), (" ".join(said),), dated(step.title), record)


def _in_line(scope: Scope, refs: Iterable[str]) -> str:
    """Record numbers one behind the other; the timeline breaks them itself."""
    return ", ".join(dict.fromkeys(scope.row(ref) for ref in refs if ref))


def _first_word(step: Step) -> str:
    return first_upper(step.action)


def _failures(told: _ToldOfCase, case: Case) -> list[tuple[date, TimelineStep]]:
    """The failing tests that no step tells: the one that opened the case, and others without a step of their own."""
    of_steps = {each.ref for step in case.steps for each in step.evidence}
    alone = [each for n, each in enumerate(case.evidence) if n == 0 or each.ref not in of_steps]
    out = []
    for n, each in enumerate(alone):
        row = told.scope.rows.get(each.ref)
        on = case.failed_on if n == 0 or row is None else row.happened_on
        title = first_upper(dated(case.title)) if n == 0 else "Failed again"
        known = [f"Known on {day(case.known_on)}."] if n == 0 and case.known_on != case.failed_on else []
        lines = (*told.evidence((each,), on), *known)
        out.append(
            (
                on,
                TimelineStep(
                    FAILED, day(on), title, (" ".join(lines),), "", _in_line(told.scope, told.rows((each,)))
                ),
            )
        )
    return out


def _timeline(scope: Scope, unit: UnitScope, case: Case) -> CaseTimeline:
    """From the last good proof to where it stands: what was done by day, then what is open, as the rules list it."""
    told = _ToldOfCase(scope, unit, _followups(scope, unit, case))
    failing = {each.ref for each in case.evidence[1:]}
    steps = _failures(told, case)
    steps += [(step.done_on or _LAST, _step(told, step, failing)) for step in case.steps if step.state != NOT_NEEDED]
    steps += _loose(told, case)
    steps.sort(key=lambda each: each[0])
    last = _not_needed(told, [step for step in case.steps if step.state == NOT_NEEDED])
    good = [step for back in look_backs_of_case(unit, case.ref)[:1] for step in _last_good(scope, unit, back)]
    return CaseTimeline("What happened, and what the rules ask", tuple([*good, *(s for _, s in steps), *last]))


def _not_needed(told: _ToldOfCase, steps: list[Step]) -> list[TimelineStep]:
    """The steps that were not needed, in one row."""
    if not steps:
        return []
    notes = [f"{first_upper(step.action)}: {dated(step.note)}." for step in steps if step.note]
    said = [*notes, *(text for step in steps for text in told.evidence(step.evidence))]
    names = first_upper("; ".join(dated(step.title) for step in steps))
    record = _in_line(told.scope, [each.ref for step in steps for each in step.evidence])
    return [TimelineStep(NOT_NEEDED, "", "Not needed", tuple(said), names, record)]


def _last_good(scope: Scope, unit: UnitScope, back) -> Iterable[TimelineStep]:
    if back.after is not None:
        ref = good_proof(unit, back)
        record = scope.row(ref) if ref else ""
        yield TimelineStep(
            DONE, day(back.after), "Last good proof", (f"{first_upper(dated(back.after_text))}.",), "", record
        )


def _loose(told: _ToldOfCase, case: Case) -> list[tuple[date, TimelineStep]]:
    """Follow-ups that no step of the judgement tells."""
    actions = {step.action for step in case.steps}
    out = []
    for step in told.followups:
        if step.action in actions:
            continue
        done = step.done_on if step.done_on and step.done_on <= told.scope.to_on else None
        by = labelled("by", step.done_by) if done else ""
        words = [step.text, step.outcome if done else "", by, labelled("owner", step.owner)]
        said = "; ".join(dict.fromkeys(word for word in words if word)) or "nothing stated"
        refs = [step.row.ref, *([step.done_row.ref] if done and step.done_row else [])]
        when = day(done) if done else f"by {day(step.due_on)}" if step.due_on else "open"
        record = _in_line(told.scope, refs)
        lines = (f"{first_upper(said)}.",)
        out.append(
            (done or _LAST, TimelineStep(DONE if done else OPEN, when, first_upper(step.action), lines, "", record))
        )
    return out


# ------------------------------------------------------------------------------------------------ the section


def _state(scope: Scope, case: Case) -> StandingBox:
    """How the failure stands, framed."""
    is_open = case.resolved_on is None
    when = f"since {day(case.known_on)}" if is_open else f"on {day(case.resolved_on)}"
    word = f"■ Open\n{when}" if is_open else f"□ {first_upper(case.phase)}\n{when}"
    needed = (
        f"{case.passes} of {counted(case.passes_needed, 'pass', 'passes')} in a row" if case.passes_needed else ""
    )
    told = [
        f"{first_upper(case.phase)}" if is_open else "",
        labelled("still missing", dated(case.needs)),
        needed,
        labelled("packs", dated(case.recall)),
    ]
    text = first_upper("; ".join(part for part in told if part))
    return StandingBox(word, f"{text}." if text else "", (), "")


def _sources(scope: Scope, case: Case) -> tuple[Paragraph, ...]:
    """Where the steps stand, those of one source together."""
    found: dict[str, list[str]] = {}
    for step in case.steps:
        found.setdefault(scope.cite(step.source), []).append(step.action)
    told = [f"{first_upper(', '.join(dict.fromkeys(actions)))}: {cite}." for cite, actions in found.items() if cite]
    return (Paragraph(" ".join(told), "small"),) if told else ()


def _case_blocks(scope: Scope, unit: UnitScope, case: Case) -> tuple[Block, ...]:
    warned = "; ".join(dated(warning) for warning in case.warnings)
    warnings = (Paragraph(f"Done in another way than the rules prefer: {warned}."),) if warned else ()
    return (
        _state(scope, case),
        _timeline(scope, unit, case),
        *_sources(scope, case),
        *warnings,
        *(
            block
            for back in look_backs_of_case(unit, case.ref)
            for block in look_back_blocks(scope, unit, back, case)
        ),
    )


def failure_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """Each failure of the period; then other look-backs."""
    cases = cases_told(scope, unit)
    others = look_back_sections(scope, unit, {case.ref for case in cases if case.ref})
    failures = tuple(
        Section(
            f"{unit.indicators}-failure-{n}",
            f"Failure: {dated(case.title)}",
            2,
            _case_blocks(scope, unit, case),
        )
        for n, case in enumerate(cases, start=1)
    )
    return (*failures, *others)


def failure_links(scope: Scope, unit: UnitScope) -> tuple[Cell, ...]:
    """Each failure of the period as words that lead to where it is told."""
    return tuple(
        Cell(first_upper(dated(case.title)), to=case_section(scope, unit, case), page="")
        for case in cases_told(scope, unit)
    )
