"""The questions an inspector asks, answered from the record. Pure: facts, judgement and rules in, answers out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from audit.facts import ClinicFacts, LoadFact, UnitFacts, unit_by_day
from audit.judge.judgement import Answer, ClinicJudgement, NotAsked, UnitJudgement
from audit.judge.recorded import loads_as_judged
from audit.judge.situation import clinic_by_day
from audit.regimes import load_regime
from audit.regimes.model import Regime, RegimeError

from .asked import IN_PART, NO, NO_RECORD, NOT_ASKED, YES, AskedPlace, AskedQuestion, Reply, View
from .keeping import newest_of
from .load import questions
from .registry import BY_DUTIES, OF_PLACE, OF_UNIT
from .testing import hours_known

__all__ = ["IN_PART", "answers_of", "not_asked_of", "owner_of", "questions"]


_BADNESS = (NO, IN_PART, NOT_ASKED, YES)


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
    the loads among which all that failed, were wet or torn are.
    """
    place = _place(clinic, judged_units, regime, as_of, cut or {})
    return tuple(answer for question in asked_of(place) for answer in _answers(place, question))


def not_asked_of(clinic: ClinicFacts, judgement: ClinicJudgement) -> tuple[NotAsked, ...]:
    """What other texts ask and the rules of the judgement do not, by subject, with what is on record of it anyway.

    In an inspector's order; a subject of which one question is asked is not among them. () where the rules are not on
    file. Made when it is shown, not with each judgement: it asks as much again as the answers.
    """
    try:
        regime = load_regime(judgement.regime).on(judgement.as_of)
    except RegimeError:
        return ()
    place = _place(clinic, judgement.units, regime, judgement.as_of, {})
    here = list(asked_of(place))
    subjects = {question.subject for question in here}
    found: dict[str, list[AskedQuestion]] = {}
    for question in questions():
        if question not in here and question.subject not in subjects:
            found.setdefault(question.subject, []).append(question)
    return tuple(_not_asked(place, subject, same) for subject, same in found.items())


def owner_of(id: str) -> str:
    """Who can supply what answers the question of that id. Raises StopIteration for an id that no question has."""
    return next(question.owner for question in questions() if question.id == id)


def _not_asked(place: AskedPlace, subject: str, same: Sequence[AskedQuestion]) -> NotAsked:
    held: dict[str, Answer] = {}
    for question in same:
        for answer in _answers(place, question):
            answer = _with_rows(place, question, answer)
            before = held.get(answer.unit)
            if answer.answer != NO_RECORD and answer.evidence and (before is None or _less(answer, before)):
                held[answer.unit] = answer
    sources = tuple(dict.fromkeys(question.source for question in same))
    return NotAsked(same[0].id, subject, sources, tuple(held.values()))


def _less(one: Answer, other: Answer) -> bool:
    """Whether the first says less good: of several questions about one subject the strictest counts."""
    return _BADNESS.index(one.answer) < _BADNESS.index(other.answer)


def _with_rows(place: AskedPlace, question: AskedQuestion, answer: Answer) -> Answer:
    """Of what is counted by the rules' own duties no answer is given: how often is another matter elsewhere.

    The newest test on record is named, so that nobody reads that there are none. A question of these that asks
    `beyond` tests asks for hours of use: where these are not known, that is its gap.
    """
    if answer.unit and question.answers in BY_DUTIES:
        view = next(view for view in place.views if view.facts.ref == answer.unit)
        gap = question.beyond if question.beyond and not hours_known(place, view) else ""
        return replace(answer, answer=NOT_ASKED, evidence=newest_of(view, question), gap=gap)
    return answer


def _place(
    clinic: ClinicFacts,
    judged_units: Iterable[UnitJudgement],
    regime: Regime,
    as_of: date,
    at_hand: Mapping[str, tuple[UnitFacts, Sequence[LoadFact]]],
) -> AskedPlace:
    said = {one.unit: one for one in judged_units}
    views = []
    for unit in clinic.units:
        if unit.ref in said:
            facts, told = at_hand.get(unit.ref) or (loads_as_judged(unit_by_day(unit, as_of)), None)
            views.append(View(facts, said[unit.ref], told))
    return AskedPlace(clinic_by_day(clinic, as_of), regime, as_of, tuple(views))


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
