"""One question asked of one history, with everything judged before that an answer reads."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from audit.facts import ClinicFacts, UnitFacts, unit_by_day
from audit.facts.dates import add_months
from audit.judge.answers import questions
from audit.judge.answers.asked import AskedPlace, Reply, View
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from audit.judge.coverage import coverage_of
from audit.judge.evaluate import evaluate_unit
from audit.judge.judgement import UnitJudgement
from audit.judge.situation import at, clinic_by_day, settle
from audit.regimes import load_regime
from audit.regimes.model import Regime
from tests.fact_builders import clinic, event, on, unit

DAY = date(2025, 6, 30)
CDC = "us-dental-cdc-2003"
BEGIN = "2024-01-01"


def own_unit(**more) -> UnitFacts:
    """A unit installed at the begin of the histories here."""
    return unit(BEGIN, **{"events": (event(BEGIN),)} | more)


def judged(one: UnitFacts, place: ClinicFacts, regime: Regime, as_of: date) -> UnitJudgement:
    """What is said of a unit, with how its duties were kept over 24 months."""
    said = evaluate_unit(one, place, regime, as_of)
    assert not [f for f in said.findings if f.rule in ("rule-failed", "not-judged")], said.findings
    duty = at(settle(one, place, regime, as_of), as_of).duty
    return replace(said, coverage=coverage_of(duty, add_months(as_of, -24), as_of, regime.on))


def place_of(facts: ClinicFacts, regime: str | Regime = CDC, as_of: date = DAY) -> AskedPlace:
    """The clinic as answering functions read it."""
    rules = (load_regime(regime) if isinstance(regime, str) else regime).on(as_of)
    views = [View(unit_by_day(u, as_of), judged(u, facts, rules, as_of)) for u in facts.units]
    return AskedPlace(clinic_by_day(facts, as_of), rules, as_of, tuple(views))


def question(id: str):
    """The question with that id."""
    return next(q for q in questions() if q.id == id)


def ask(id: str, *units: UnitFacts, regime: str = CDC, as_of=DAY, **more) -> Reply:
    """The reply to the question, about the first unit where it is about units. `more`: facts of the clinic."""
    place = place_of(clinic(*units, regime=regime, **more), regime, on(as_of))
    asked = question(id)
    if asked.per == "place":
        return OF_PLACE[asked.answers](place, asked)
    return OF_UNIT[asked.answers](place, place.views[0], asked)
