"""The unit's page: may it be used, with the proof; due items; week by week; everything that happened to it."""

from __future__ import annotations

from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.facts import UnitFacts, in_order, newest, unit_by_day
from audit.judge.explain import explain
from audit.judge.headings import headings_of
from audit.judge.judgement import Finding, Severity, State, UnitJudgement, Word
from audit.judge.next_step import open_path
from audit.judge.to_read import read_lines
from audit.judge.year import year_of
from records import clock
from records.forms import EntryContext
from records.views.base import at_clinic
from records.writing.preferences import measured

from .desk.may import advice_of
from .duties import SETTLED, SHOWN_ELSEWHERE, entry_of, waiting_follow_ups
from .opened import opened
from .pictures import pictures_of
from .unit_origin import origin_of

FEW = 12
AHEAD, AHEAD_SHOWN = (State.DUE, State.DUE_SOON, State.OK), 3


@at_clinic("look")
@require_safe
def unit_page(request, ground: EntryContext, ref):
    """One unit on today or on `?as_of=`; `?all=1` shows every test, not the newest alone, `?open=1` opens folds."""
    page = opened(request, ground, str(ref), named=True)
    judged = page.judgement.units[0]
    facts = unit_by_day(page.facts.units[0], page.as_of)
    everything = request.GET.get("all") == "1"
    now = clock.now() if page.as_of == page.today else None
    shown = [f for f in judged.findings if f.rule not in SHOWN_ELSEWHERE]
    context = page.context() | {
        "unit": facts,
        "judged": judged,
        "why": explain(judged, f"{page.judgement.regime_title}, {page.judgement.regime_edition}", page.facts),
        "placement": newest(facts.placements, lambda p: p.effective_on),
        "due": [_due(judged, c) for c in judged.clocks if c.state is not State.NOT_APPLICABLE],
        "not_asked": [c for c in judged.clocks if c.state is State.NOT_APPLICABLE],
        "path": open_path(judged, page.company) if judged.standing.word is not Word.NOT_IN_USE else None,
        "year": year_of(facts, judged),
        "ahead": _next_days(judged),
        "headings": headings_of(facts, judged),
        "unfolded": request.GET.get("open") == "1",
        "reads": read_lines([(facts, judged)], page.as_of, now),
        "cases": [_case(facts, judged, case) for case in judged.cases],
        "act": [f for f in shown if f.severity is Severity.FORBIDS and not _said_by_the_answer(f, judged)],
        "put_right": [f for f in shown if f.severity is Severity.PUT_RIGHT],
        "known": [f for f in shown if f.severity is Severity.NOTE],
        "look_backs": [b for b in judged.look_backs if not b.case],
        "jobs": [_job(facts, job) for job in reversed(in_order(facts.jobs))],
        "tests": _few(_tests(facts, judged), everything),
        "checks": _few(_checks(facts), everything),
        "events": list(reversed(in_order((*facts.events, *facts.gaps, *facts.documents)))),
        "counters": list(reversed(in_order(facts.counters)))[:FEW],
        "corrections": [c for c in reversed(page.facts.corrections) if c.unit == facts.ref],
        "everything": everything,
        "past_advice": advice_of(page, facts.ref),
        "origin": origin_of(facts.ref, page.as_of),
    }
    context["pictures"] = pictures_of(page, context["proofs"])
    return render(request, "audit/unit.html", context, status=400 if page.problem else 200)


def _few(rows: list, everything: bool) -> dict:
    """The newest few of the rows, and how many there are."""
    return {"rows": rows if everything else rows[:FEW], "count": len(rows), "more": len(rows) > FEW}


def _said_by_the_answer(finding: Finding, judged: UnitJudgement) -> bool:
    """Whether the answer has the same reason and way out: it is said once."""
    said = judged.standing
    return finding.message == said.reason and finding.way_out in said.lifted_by


def _due(judged: UnitJudgement, item) -> dict:
    return {"clock": item, "when": item.when(judged.as_of), "entry": entry_of(item)}


def _next_days(judged: UnitJudgement) -> list:
    """The few due items that come first, of those that have a day and are not late."""
    ahead = [c for c in judged.clocks if c.due_on is not None and c.state in AHEAD]
    return sorted(ahead, key=lambda c: (c.due_on, c.id))[:AHEAD_SHOWN]


def _tests(facts: UnitFacts, judged: UnitJudgement) -> list[dict]:
    """Spore tests with what each counts for, newest first."""
    verdicts = {v.test: v for v in judged.verdicts}
    return [{"fact": t, "verdict": verdicts.get(t.row.origin)} for t in reversed(in_order(facts.bio_tests))]


def _checks(facts: UnitFacts) -> list[dict]:
    """Air-removal and leak tests, chemical indicators and checks by the user, newest first."""
    words = {fact.row.ref: _air_words(fact) for fact in facts.air_removal}
    words |= {fact.row.ref: _leak_words(fact) for fact in facts.leaks}
    words |= {fact.row.ref: _chemical_words(fact) for fact in facts.chemical}
    words |= {fact.row.ref: _check_words(fact) for fact in facts.checks}
    every = in_order((*facts.air_removal, *facts.leaks, *facts.chemical, *facts.checks))
    return [{"fact": fact, "words": words[fact.row.ref]} for fact in reversed(every)]


def _check_words(fact) -> str:
    value = "" if fact.value is None else f", {measured(fact.value, fact.unit_of_measure, fact.kind)}"
    signed = f"signed by {fact.signed_by}" if fact.signed_by else "not signed"
    return f"{fact.kind.capitalize()}{value}{_cycle(fact.cycle_number)}, {signed}"


def _cycle(number: str) -> str:
    return f", cycle {number}" if number else ""


def _air_words(fact) -> str:
    return f"Air-removal test{_cycle(fact.cycle_number)}"


def _leak_words(fact) -> str:
    return (
        f"Air-leak test: {fact.rate:f} kPa a minute, limit {fact.limit:f} ({fact.limit_source}); read: {fact.as_read}"
    )


def _chemical_words(fact) -> str:
    where = f", {fact.where}" if fact.where else ""
    return f"Chemical indicator type {fact.type}{_cycle(fact.cycle_number)}{where}"


def _case(facts: UnitFacts, judged: UnitJudgement, case) -> dict:
    return {
        "case": case,
        "open": case.phase not in SETTLED,
        "waiting": waiting_follow_ups(facts, case, judged.as_of),
        "look_backs": [b for b in judged.look_backs if b.case == case.ref and case.ref],
    }


def _job(facts: UnitFacts, job) -> dict:
    """A job with the names of the positions and tasks it speaks of."""
    positions = {p.row.origin: p.name for p in facts.positions} | {"": "whole unit"}
    titles = {line.code: line.title for line in in_order(facts.plan)}
    return {"fact": job, "positions": positions, "titles": titles}
