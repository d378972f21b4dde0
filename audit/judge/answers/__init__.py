"""The questions an inspector asks, answered from the record. Pure: facts, judgement and rules in, answers out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from audit.facts import ClinicFacts, LoadFact, UnitFacts, unit_by_day
from audit.judge.exposure import loads_as_shown
from audit.judge.judgement import Answer, UnitJudgement
from audit.judge.situation import clinic_by_day
from audit.regimes import load_regime
from audit.regimes.model import Regime, RegimeError

from .asked import NO_RECORD, AskedPlace, AskedQuestion, Reply, View
from .load import questions
from .registry import OF_PLACE, OF_UNIT

__all__ = ["answers_of", "questions"]


def answers_of(
    clinic: ClinicFacts,
    judged_units: Iterable[UnitJudgement],
    regime: Regime,
    as_of: date,
    cut: Mapping[str, tuple[UnitFacts, Sequence[LoadFact]]] | None = None,
) -> tuple[Answer, ...]:
    """The questions that `regime` (or what it inherits) asks, each answered, in an inspector's order.

    A question about units is answered once for each unit judged, in the order of the facts. Facts after `as_of` are
    left out. `cut`: units as `unit_by_day` gives them on that day, by their origin, where they are at hand; with each
    the loads among which all that failed are.
    """
    said = {one.unit: one for one in judged_units}
    held = clinic_by_day(clinic, as_of)
    at_hand = cut or {}
    views = []
    for unit in clinic.units:
        if unit.ref in said:
            facts, told = at_hand.get(unit.ref) or (loads_as_shown(unit_by_day(unit, as_of)), None)
            views.append(View(facts, said[unit.ref], told))
    place = AskedPlace(held, regime, as_of, tuple(views))
    return tuple(answer for question in asked_of(place) for answer in _answers(place, question))


def asked_of(place: AskedPlace) -> Iterator[AskedQuestion]:
    """The questions asked under the rules followed and in the programme of the place, in order."""
    rules = lineage(place.regime)
    terms = place.clinic.terms_on(place.as_of)
    programme = terms.programme if terms else ""
    for question in questions():
        if rules & set(question.regimes) and (not question.programmes or programme in question.programmes):
            yield question


def lineage(regime: Regime) -> frozenset[str]:
    """The ids of the rules and of all they inherit from, as far as those are on file."""
    ids, parent = {regime.id}, regime.inherits
    while parent and parent not in ids:
        ids.add(parent)
        try:
            parent = load_regime(parent).inherits
        except RegimeError:
            break
    return frozenset(ids)


def _answers(place: AskedPlace, question: AskedQuestion) -> Iterator[Answer]:
    if question.per == "place":
        yield _answer(question, _safely(question, lambda: OF_PLACE[question.answers](place, question)))
        return
    for view in place.views:
        reply = _safely(question, lambda view=view: OF_UNIT[question.answers](place, view, question))
        yield _answer(question, reply, view.facts.ref)


def _safely(question: AskedQuestion, ask) -> Reply:
    """What cannot be answered is a gap, and the other questions are still answered."""
    try:
        return ask()
    except Exception as error:
        words = f"It could not be answered: {type(error).__name__}: {error}."
        return Reply(NO_RECORD, words, (), "a fault in the program: report it with this line")


def _answer(question: AskedQuestion, reply: Reply, unit: str = "") -> Answer:
    return Answer(
        id=question.id,
        question=question.question,
        answer=reply.answer,
        words=reply.words,
        evidence=reply.evidence,
        owner=question.owner,
        source=question.source,
        unit=unit,
        gap=reply.gap,
    )
