"""Laws that hold for any history."""

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import unit_by_day
from audit.judge.evaluate import evaluate, evaluate_unit
from audit.judge.judgement import Word
from audit.judge.situation import at, clinic_by_day, settle
from audit.judge.standing import stand
from audit.regimes import all_regimes, load_regime
from tests.examples import examples
from tests.fact_builders import air, bio, document, leak, terms, user_check
from tests.strategies import clinics, days, shuffled_unit

REGIMES = all_regimes()
SOME = settings(max_examples=examples(60), deadline=None, suppress_health_check=list(HealthCheck))
FEW = settings(max_examples=examples(25), deadline=None, suppress_health_check=list(HealthCheck))
RANK = {"R1": 1, "R2": 2, "R3": 3, "R4": 4, "R5": 5, "R6": 6, "R7": 7, "R8": 8, "R9": 9, "R10": 10, "R11": 11}


def brute_force(place, as_of, until):
    """The first day after `as_of` on which word or rule differ, judging every single day with the facts fixed."""
    own = clinic_by_day(place, as_of)

    @cache
    def settled(regime):
        return settle(place.units[0], own, REGIMES.get(regime), as_of)

    def answer(day):
        s = stand(at(settled(own.terms_on(day).regime), day))
        return s.word, s.rule

    now = answer(as_of)
    day = as_of
    while day < until:
        day += timedelta(days=1)
        if answer(day) != now:
            return day
    return None


@FEW
@given(clinics(), days, st.booleans(), days)
def test_how_long_an_answer_holds_is_exact(place, as_of, switches, switch_on):
    if switches:  # another set of rules, decided before, takes effect on a later day
        later = replace(terms("us-ca-body-art", "2024-12-01"), effective_on=switch_on)
        place = replace(place, terms=(*place.terms, later))
    said = evaluate(place, as_of).units[0].standing.holds_until
    limit = as_of + timedelta(days=3 * 366)
    found = brute_force(place, as_of, limit)
    assert (said if said is None or said <= limit else None) == found


@SOME
@given(clinics(), days, st.data())
def test_the_order_of_rows_does_not_matter(place, as_of, data):
    other = data.draw(shuffled_unit(place.units[0]))
    assert evaluate(replace(place, units=(other,)), as_of) == evaluate(place, as_of)


@SOME
@given(clinics(), days)
def test_what_happens_later_changes_nothing(place, as_of):
    """Facts after the day judged are as if they did not exist."""
    cut = replace(place, units=tuple(unit_by_day(u, as_of) for u in place.units))
    assert evaluate(cut, as_of) == evaluate(place, as_of)


@SOME
@given(clinics(many=2), days)
def test_two_units_never_influence_each_other(place, as_of):
    both = evaluate(place, as_of).units
    alone = [evaluate(replace(place, units=(u,)), as_of).units[0] for u in place.units]
    assert list(both) == alone


@SOME
@given(clinics(), days, st.integers(1, 500))
def test_waiting_alone_never_lifts_what_forbids_use(place, as_of, wait):
    """With no new fact a unit that may not be used stays so, and its word permits no more.

    Only a gap (R10) grows old by itself, and a rule that turns on placements or plan versions already decided.
    """
    u = replace(place.units[0], placements=(), gaps=())
    own = clinic_by_day(place, as_of)
    settled = settle(u, own, load_regime(own.terms_on(as_of).regime), as_of)
    now, later = stand(at(settled, as_of)), stand(at(settled, as_of + timedelta(days=wait)))
    if not now.word.may_be_used:
        assert not later.word.may_be_used
        assert later.word.rank <= now.word.rank
        # What is to be done today (R5) is overdue tomorrow (R8), which is the graver word.
        assert RANK[later.rule] <= RANK[now.rule] or (now.rule, later.rule) == ("R5", "R8")
    if now.word is Word.OVERDUE:
        assert later.word is not Word.IN_SERVICE


WORST = [Word.IN_SERVICE, Word.OVERDUE, Word.LIMITED, Word.WAITING, Word.OUT, Word.NOT_IN_USE]
PROOFS = {
    "spore test": lambda day: {"bio_tests": bio(day, result="pass", known=day, chamber="empty", purpose="repeat")},
    "air-removal test": lambda day: {"air_removal": air(day)},
    "air-leak test": lambda day: {"leaks": leak(day)},
    "automatic control test": lambda day: {"checks": user_check(day)},
    "safety check": lambda day: {"checks": user_check(day, "safety check")},
    "examination": lambda day: {"documents": document("pressure examination", day, "2030-01-01", unit="unit-1")},
    "validation": lambda day: {"documents": document("validation report", day, unit="unit-1")},
}


@SOME
@given(clinics(), days, st.sampled_from(sorted(PROOFS)))
def test_a_passing_proof_today_never_worsens_the_answer(place, as_of, proof):
    ((name, fact),) = PROOFS[proof](as_of).items()
    u = place.units[0]
    more = replace(u, **{name: (*getattr(u, name), fact)})
    before = evaluate(place, as_of).units[0].standing
    after = evaluate(replace(place, units=(more,)), as_of).units[0].standing
    assert WORST.index(after.word) <= WORST.index(before.word), (before, after)


@SOME
@given(clinics(), days)
def test_every_statement_names_what_it_rests_on(place, as_of):
    for said in evaluate(place, as_of).units:
        assert said.standing.reason and said.standing.lifted_by
        for finding in said.findings:
            assert finding.message and finding.way_out and finding.rule != "rule-failed", finding
        assert len(said.weeks) <= 80
        assert all(b.start - a.start == timedelta(days=7) for a, b in zip(said.weeks, said.weeks[1:], strict=False))


@SOME
@given(clinics(), days)
def test_unit_and_clinic_say_the_same(place, as_of):
    one = evaluate_unit(place.units[0], place, load_regime(place.terms_on(as_of).regime), as_of)
    assert one == evaluate(place, as_of).units[0]


def test_a_day_before_all_records_is_judged_too():
    said = evaluate(clinics_example(), date(2020, 6, 1))
    assert not said.units[0].standing.word.may_be_used


def clinics_example():
    from tests.fact_builders import clinic, event, unit

    return clinic(unit(events=(event("2025-01-01"),)))
