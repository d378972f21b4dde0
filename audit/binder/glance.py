"""The short sheet: unit by unit the standing, the last spore test, the last failure in order, any week by date."""

from __future__ import annotations

from datetime import date

from audit.binder.failures import case_section
from audit.binder.open_items import SINCE_BEFORE
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, CaseTimeline, Cell, KeyValues, Paragraph, Section, TimelineStep
from audit.binder.service import job_ids
from audit.binder.weeks import is_long, last_weeks, weeks_block, weeks_id, weeks_of
from audit.binder.where import Where
from audit.binder.written_on_paper import NO_RECORD, OUTRANKED, counted, dated, day, first_upper, labelled, unit_title
from audit.facts import in_order
from audit.judge.judgement import Case, Step

GLANCE = "glance"
_KINDS = ("bio_tests", "loads", "checks", "air_removal", "leaks", "chemical")


def first_record(unit: UnitScope) -> date | None:
    """The day of the first test, check or load on record; None without any."""
    days = [in_order(held)[0].row.happened_on for name in _KINDS if (held := getattr(unit.facts, name))]
    return min(days, default=None)


def _cases(unit: UnitScope) -> tuple[Case, ...]:
    """The failures that stand, newest first."""
    cases = unit.judgement.cases if unit.judgement else ()
    return tuple(case for case in cases if case.phase != "entered in error")


def _none_recorded(unit: UnitScope) -> str:
    first = first_record(unit)
    if first is None:
        return "none recorded; no test, check or load is on record either"
    tests = counted(len(unit.facts.bio_tests), "spore test")
    return f"none recorded since {day(first)}, the first day on record; {tests} since then"


def _standing(unit: UnitScope) -> Cell:
    if unit.judgement is None:
        return Cell("not judged: no answer is on record", strong=True)
    standing = unit.judgement.standing
    began = f"since {day(standing.since)}" if standing.since else SINCE_BEFORE
    text = f"{standing.word.value}, {began}: {dated(standing.reason)}"
    return Cell(text, to=f"{unit.chapter}-standing", strong=True, page="")


def _last_test(scope: Scope, unit: UnitScope, where: Where) -> Cell:
    if not unit.facts.bio_tests:
        return Cell(NO_RECORD)
    test = in_order(unit.facts.bio_tests)[-1]
    verdicts = {v.test: v for v in unit.judgement.verdicts} if unit.judgement else {}
    verdict = verdicts.get(test.row.origin)
    known = f", known on {day(verdict.known_on)}" if verdict and verdict.known_on else ", no result yet"
    said = verdict.verdict if verdict else "not judged"
    name = scope.row(test.row.ref)
    to = where.section(name)
    text = f"{first_upper(said)}: run on {day(test.row.happened_on)}{known} [{name}]"
    return Cell(text, to=to, page=name if to else None)


def _last_failure(scope: Scope, unit: UnitScope) -> Cell:
    cases = _cases(unit)
    if not cases:
        return Cell(_none_recorded(unit))
    case = cases[0]
    to = case_section(scope, unit, case)
    where = "" if to else "; it was over before the period of this binder"
    count = f"; {counted(len(cases), 'failure')} on record in all" if len(cases) > 1 else ""
    title, on = first_upper(dated(case.title)), day(case.failed_on)
    named = title if on in title else f"{title}, {on}"
    text = f"{named}: {case.phase}{where}{count}"
    return Cell(text, to=to, page="" if to else None)


def _last_service(scope: Scope, unit: UnitScope) -> Cell:
    if not unit.facts.jobs:
        return Cell(NO_RECORD)
    job = in_order(unit.facts.jobs)[-1]
    done = job.conclusion.conclusion if job.conclusion else "not concluded"
    to = job_ids(scope, unit).get(job.row.ref, "")
    name = scope.row(job.row.ref)
    by = job.servicer or "company not stated"
    text = f"{day(job.row.happened_on)}, {job.reason or 'reason not stated'}, {by}: {done}"
    return Cell(f"{text} [{name}]", to=to, page="" if to else None)


def _step(scope: Scope, step: Step) -> TimelineStep:
    when = day(step.done_on) if step.done_on else "not needed" if step.state == "not needed" else "not done yet"
    lines = (dated(step.note), scope.told(step.evidence))
    return TimelineStep(step.state, when, dated(step.title), tuple(line for line in lines if line))


def failure_in_order(scope: Scope, case: Case) -> CaseTimeline:
    """A failure from the day it happened to where it stands now, in order, each step with its rows."""
    failed = TimelineStep(
        "done",
        day(case.failed_on),
        first_upper(dated(case.title)),
        tuple(text for text in (f"Known on {day(case.known_on)}", scope.told(case.evidence)) if text),
    )
    needs = dated(case.needs)
    now = TimelineStep(
        "done" if case.resolved_on else "open",
        day(case.resolved_on) if case.resolved_on else "now",
        first_upper(case.phase),
        tuple(text for text in (labelled("Packs", dated(case.recall)), labelled("Still missing", needs)) if text),
    )
    return CaseTimeline("Last failure, in order", (failed, *(_step(scope, step) for step in case.steps), now))


def _sheet(scope: Scope, unit: UnitScope, where: Where, n: int) -> Section:
    weeks = weeks_of(scope, unit)
    pairs = [
        ("Standing", _standing(unit)),
        ("Last spore test", _last_test(scope, unit, where)),
        ("Last failure", _last_failure(scope, unit)),
        ("Last service", _last_service(scope, unit)),
    ]
    if is_long(weeks):
        pairs.append(("Weeks before these", Cell("every week of the period by date", to=weeks_id(unit), page="")))
    cases = _cases(unit)
    blocks: list[Block] = [KeyValues("", tuple(pairs))]
    if cases:
        blocks.append(failure_in_order(scope, cases[0]))
    blocks.append(weeks_block(scope, unit, last_weeks(weeks), "Any week by date, from its spore tests"))
    return Section(f"{GLANCE}-{n}", f"{unit_title(unit.label)} at a glance", 3, tuple(blocks))


def glance_sections(scope: Scope, where: Where) -> tuple[Section, ...]:
    """What an inspector asks for first, short; the rest of the binder is what it rests on."""
    intro = Paragraph(
        f"As of {day(scope.as_of)}. A week stands under the month it begins in, with the result of each spore test "
        f"(biological indicator) run in it and the day of the run. {OUTRANKED}",
        "small",
    )
    if not scope.units:
        return (Section(GLANCE, "At a glance", 2, (Paragraph("No unit on record for this clinic."),)),)
    sheets = (_sheet(scope, unit, where, n) for n, unit in enumerate(scope.units, start=1))
    return (Section(GLANCE, "At a glance", 2, (intro,)), *sheets)
