"""How duties were kept over a period: the counting alone, then joined to facts and rules."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import LocalDutyFact
from audit.judge.bounds import upper_bound
from audit.judge.clocks.duties import plain_duty
from audit.judge.clocks.values import Kept, Span
from audit.judge.coverage import DUE, count, coverage_of, longest_gap, turns
from audit.judge.judgement import Evidence
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from audit.regimes.source import Source
from tests.examples import examples
from tests.fact_builders import (
    bio,
    clinic,
    closure,
    event,
    job,
    load,
    look,
    on,
    outcome,
    row,
    terms,
    unit,
    user_check,
    weekly,
)
from tests.strategies import FIRST, LAST, clinics

SOURCE = Source("invented rule")
WEEKLY = plain_duty("biological-test", "biological", "Spore test", "calendar-week", 1, "once a week", SOURCE)
IMPLANTS = replace(WEEKLY, id="implant-load-test", every="each-implant-load")
SERVICING = replace(WEEKLY, id="servicing", subject="servicing", every="calendar-year")
RESULTS = ("met", "met late", "missed", "invalid", "exempt", "awaited", "open", "before")
MONDAY = date(2025, 1, 6)
CDC = "us-dental-cdc-2003"


def week(n: int, result: str, note: str = "", *refs: str) -> Span:
    start = MONDAY + timedelta(weeks=n)
    return Span(start, start + timedelta(days=6), result, note, facts=refs, told=lambda r: Evidence(r, f"row {r}"))


def done(day, result="passed", ref="") -> Kept:
    fact = bio(day, ref=ref)
    return Kept(on(day), None, result, fact, "", "", lambda fact: Evidence(fact.row.ref, "a test"))


def counted(stretches, kept=(), duty=WEEKLY):
    return count(duty, MONDAY, date(2025, 12, 31), stretches, kept)


# ------------------------------------------------------------------------------------------------ the counting

stretches = st.lists(st.sampled_from(RESULTS), max_size=60).map(lambda rs: [week(n, r) for n, r in enumerate(rs)])


@given(stretches)
def test_due_is_the_sum_and_every_stretch_is_counted_once(spans):
    said = counted(spans)
    assert said.due == said.met + said.met_late + said.missed + said.invalid + said.awaited
    running = sum(s.result in ("open", "before") for s in spans)
    assert said.due + said.exempt + running == len(spans)
    assert len(said.lapses) == said.due + said.exempt - said.met
    assert sum(n for _, n in said.exempt_why) == said.exempt


def test_each_result_is_counted_apart_and_told():
    spans = [week(n, r, f"why {r}", f"row-{n}") for n, r in enumerate(RESULTS)]
    said = counted(spans)
    assert (said.due, said.met, said.met_late, said.missed, said.invalid, said.awaited, said.exempt) == (5,) + (
        1,
    ) * 6
    assert [x.result for x in said.lapses] == ["met late", "missed", "invalid", "exempt", "awaited"]
    assert [x.evidence[0].ref for x in said.lapses] == ["row-1", "row-2", "row-3", "row-4", "row-5"]
    assert said.lapses[1].start == MONDAY + timedelta(weeks=2)
    assert said.words == (
        "Due 5 times: 1 met, 1 met late, 1 missed, 1 with nothing that counts, 1 with the result awaited. "
        "Not asked once (why exempt: 1)."
    )


def test_reasons_of_what_was_exempt_the_most_frequent_first():
    spans = [week(0, "exempt", "closed"), week(1, "exempt"), week(2, "exempt", "closed")]
    assert counted(spans).exempt_why == (("closed", 2), ("no reason recorded", 1))


def test_nothing_due_is_said():
    said = counted([week(0, "open"), week(1, "before")])
    assert (said.due, said.words, said.bound, said.lapses) == (0, "Nothing was due.", None, ())


def test_the_longest_gap_is_between_two_that_count():
    kept = [done("2025-01-06"), done("2025-01-13", "invalid"), done("2025-01-27", "failed"), done("2025-02-03")]
    said = counted([week(0, "met")], kept)
    assert (said.longest_gap, said.gap) == (21, (date(2025, 1, 6), date(2025, 1, 27)))
    assert "Longest time between two: 21 days, 2025-01-06 to 2025-01-27" in said.words


@given(st.lists(st.dates(date(2025, 1, 1), date(2026, 1, 1)), max_size=30).map(sorted))
def test_no_two_neighbours_lie_farther_apart_than_the_longest_gap(days):
    found = longest_gap(days)
    apart = [(b - a).days for a, b in zip(days, days[1:], strict=False)]
    assert (found is None) == (len(days) < 2)
    if found:
        assert (found[1] - found[0]).days == max(apart)


def test_of_gaps_of_one_length_the_first_is_told():
    days = [date(2025, 1, 6), date(2025, 1, 13), date(2025, 1, 20)]
    assert longest_gap(days) == (days[0], days[1])


def test_a_bound_only_where_no_test_failed():
    passed = [done(MONDAY + timedelta(weeks=n)) for n in range(59)]
    # 59 tests without a failure show at least 95 % reliability with 95 % confidence: the familiar success-run number,
    # ceil(ln 0.05 / ln 0.95) (computed; Clopper and Pearson, Biometrika 26 (1934) 404-413).
    assert counted([], passed).bound == upper_bound(59) < Decimal("0.05")
    failed = counted([], [*passed, done("2026-03-02", "failed")])
    assert (failed.tests, failed.failed, failed.bound) == (60, 1, None)
    assert "1 of 60 tests failed" in failed.words


def test_what_does_not_count_is_no_test():
    said = counted([], [done("2025-01-06", r) for r in ("invalid", "awaited", "not done")])
    assert (said.tests, said.bound, said.longest_gap) == (0, None, None)


def test_work_and_papers_are_no_tests():
    said = counted([week(0, "met")], [done("2025-01-06")], SERVICING)
    assert (said.tests, said.bound) == (0, None)


def test_on_occasion_only_what_was_done_for_it_is_counted_and_no_gap_is_measured():
    kept = [done("2025-01-06", ref="routine"), done("2025-01-07", ref="implant"), done("2025-03-07", ref="other")]
    said = counted([week(0, "met", "", "implant")], kept, IMPLANTS)
    assert (said.tests, said.longest_gap) == (1, None)


# ------------------------------------------------------------------------------------------------ joined to facts

ST79 = "us-healthcare-st79-2017"


def facts_of(place, regime, as_of):
    own = place.units[0]
    return at(settle(own, place, regime, on(as_of)), on(as_of)).duty


def covered(place, as_of="2025-03-31", first="2025-01-01", regime=CDC, rules=None):
    rules = rules or load_regime(regime).on
    said = coverage_of(facts_of(place, rules(on(as_of)), as_of), on(first), on(as_of), rules)
    return {one.duty: one for one in said}


def weekly_unit(gaps=(), **more):
    return unit(events=(event("2024-06-01"),), bio_tests=weekly("2024-06-03", "2025-03-31", gaps), **more)


# CDC 2003 (MMWR 52 RR-17) VI.F item 6: spore tests at least weekly. Weeks from Monday on: common practice, no source.
def test_weekly_tests_over_a_quarter():
    said = covered(clinic(weekly_unit(gaps=("2025-02-03",))))["biological-test"]
    assert (said.due, said.met, said.missed) == (14, 12, 1)  # the week of 31 March is awaited: read on 1 April
    assert said.awaited == 1
    assert (said.longest_gap, said.gap) == (14, (date(2025, 1, 27), date(2025, 2, 10)))
    assert [(x.start, x.result) for x in said.lapses][0] == (date(2025, 2, 3), "missed")
    assert (said.tests, said.failed) == (11, 0)
    assert "11 tests, none failed" in said.words and said.bound is None  # no rate of fewer than 20 tests


def test_two_periods_side_by_side_count_every_stretch_once():
    facts = facts_of(clinic(weekly_unit(gaps=("2025-02-03",))), load_regime(CDC), "2025-04-30")
    rules = load_regime(CDC).on

    def due(first, last):
        said = {c.duty: c for c in coverage_of(facts, on(first), on(last), rules)}["biological-test"]
        return said.due

    whole = due("2024-09-01", "2025-04-30")
    for cut in ("2025-01-01", "2025-02-03", "2025-02-05", "2025-02-09", "2025-02-10"):
        before = on(cut) - timedelta(days=1)
        assert due("2024-09-01", str(before)) + due(cut, "2025-04-30") == whole, cut


def test_days_after_the_answer_are_left_out_and_an_empty_period_says_nothing():
    facts = facts_of(clinic(weekly_unit()), load_regime(CDC), "2025-03-31")
    rules = load_regime(CDC).on
    assert coverage_of(facts, on("2025-01-01"), on("2027-01-01"), rules)[0].last == on("2025-03-31")
    assert coverage_of(facts, on("2025-04-01"), on("2027-01-01"), rules) == ()


def test_weeks_without_patients_are_exempt_where_the_rules_say_so():
    # OAR 818-012-0040: each calendar week in which patients are treated.
    place = clinic(
        weekly_unit(gaps=("2025-02-03",)), regime="us-or-dental", closures=(closure("2025-02-01", "2025-02-09"),)
    )
    said = covered(place, regime="us-or-dental")["biological-test"]
    assert (said.missed, said.exempt) == (0, 1)
    assert said.exempt_why == (("closed, no patients", 1),)


def test_a_test_that_does_not_count_is_told_apart_from_none():
    bad = bio("2025-02-04", result="invalid")
    own = weekly_unit(gaps=("2025-02-03",))
    said = covered(clinic(replace(own, bio_tests=(*own.bio_tests, bad))))["biological-test"]
    assert (said.missed, said.invalid) == (0, 1)
    assert [x.evidence[0].ref for x in said.lapses if x.result == "invalid"] == [bad.row.ref]


def test_rules_adopted_from_a_day_are_not_asked_before():
    months = tuple(bio(f"2024-{m:02}-15", result="pass") for m in range(1, 7))
    weeks = weekly("2024-07-01", "2024-12-30")
    place = clinic(unit("2023-12-01", events=(event("2023-12-01"),), bio_tests=months + weeks))
    rules = {"old": load_regime("us-ca-body-art"), "new": load_regime(CDC)}  # monthly, then weekly
    place = replace(place, terms=(terms("us-ca-body-art", "2023-01-01"), terms(CDC, "2024-07-01")))

    def by_day(day):
        return rules["old" if day < date(2024, 7, 1) else "new"]

    said = covered(place, "2024-12-31", "2024-01-01", rules=by_day)["biological-test"]
    assert (said.due, said.met, said.missed) == (6 + 27, 6 + 27, 0)  # six months, then the 27 weeks from 1 July on
    assert said.rule == rules["new"].duties[0].words
    assert "Until 2024-06-30 the rule was 'once in each calendar month'" in said.words


def test_a_duty_that_ended_is_still_told_for_its_time():
    place = clinic(unit("2023-12-01", events=(event("2023-12-01"),)))
    place = replace(place, terms=(terms("ca-toronto-personal-services", "2023-01-01"), terms("ie", "2024-07-01")))
    rules = {"old": load_regime("ca-toronto-personal-services"), "new": load_regime("ie")}

    def by_day(day):
        return rules["old" if day < date(2024, 7, 1) else "new"]

    said = covered(place, "2024-12-31", "2024-01-01", rules=by_day)["biological-test"]
    assert (said.due, said.missed) == (1, 1)  # never tested in fourteen days or in all the time after
    assert said.lapses[0].end == date(2024, 6, 30)
    assert "Asked until 2024-06-30" in said.words


def test_a_rule_of_the_clinic_is_covered_from_its_day_beside_that_of_the_rules():
    local = LocalDutyFact(row("2024-07-01"), on("2024-07-01"), "biological-test", "calendar-week", 1, "own procedure")
    months = tuple(bio(f"2024-{m:02}-15", result="pass") for m in range(1, 13))
    own = unit("2023-12-01", events=(event("2023-12-01"),), bio_tests=months)
    place = clinic(own, regime="us-ca-body-art", local_duties=(local,))
    both = covered(place, "2024-12-31", "2024-01-01", regime="us-ca-body-art")
    said = both["biological-test-own"]
    assert said.source.citation == "the clinic's own rule: own procedure"
    assert (said.met, said.missed) == (6, 20)  # 26 whole weeks from July to December, six of them tested
    assert said.words.endswith("Asked only from 2024-07-01.")
    assert (both["biological-test"].met, both["biological-test"].missed) == (12, 0)


def test_editions_of_the_same_rules_are_found():
    rules = load_regime("gb-sct-2024")
    turned = turns(clinic(unit()), on("2023-01-01"), on("2025-12-31"), rules.on)
    assert turned == [rules.valid_from]


@pytest.mark.parametrize("last", ["2024-03-31", "2024-04-02", "2026-01-01"])
def test_turns_are_the_days_on_which_other_rules_hold(last):
    rules = load_regime("gb-sct-2024")
    first = on("2024-01-01")
    turned = turns(clinic(unit(), terms=(terms("gb-sct-2024", "2020-01-01"),)), first, on(last), rules.on)
    day, slow = first, []
    while day < on(last):
        day += timedelta(days=1)
        if rules.on(day) is not rules.on(day - timedelta(days=1)):
            slow.append(day)
    assert turned == slow


def test_a_test_is_judged_by_the_rules_of_its_day():
    # A laboratory that does not state its control: whether that counts is for the rules to say.
    rules = load_regime(CDC)
    strict = replace(rules, edition="strict", validity=replace(rules.validity, control_not_stated_counts=False))
    lax = replace(rules, edition="lax", validity=replace(rules.validity, control_not_stated_counts=True))
    unsaid = [bio(day, look(day, control="not stated", report="LAB-1")) for day in ("2025-01-08", "2025-02-05")]
    weeks = weekly("2024-06-03", "2025-03-31", ("2025-01-06", "2025-02-03"))
    place = clinic(unit(events=(event("2024-06-01"),), bio_tests=(*weeks, *unsaid)))

    def by_day(day):
        return lax if day < date(2025, 1, 20) else strict

    place = replace(place, terms=(terms(CDC, "2020-01-01"), terms(CDC, "2025-01-20")))
    said = covered(place, rules=by_day)["biological-test"]
    assert [(x.start, x.result) for x in said.lapses if x.result != "awaited"] == [(date(2025, 2, 3), "invalid")]


def test_checks_that_nobody_signed_do_not_count_where_a_signature_is_asked():
    # HTM 01-05 (2013) 11.12: records signed before return to use.
    days = ("2025-03-03", "2025-03-04", "2025-03-05")
    own = unit(
        events=(event("2025-03-01"),),
        loads=tuple(load(d) for d in days),
        checks=(user_check(days[0]), user_check(days[1], signed="")),
    )
    said = covered(clinic(own, regime="gb-eng-dental-htm0105"), "2025-03-10", regime="gb-eng-dental-htm0105")
    daily = said["automatic-control-test"]
    assert (daily.due, daily.met, daily.invalid, daily.missed) == (3, 1, 1, 1)


def test_servicing_is_counted_without_tests():
    own = unit(
        "2024-01-01",
        events=(event("2024-01-01"),),
        jobs=(job("2024-11-01", outcomes=(outcome("2024-11-01", what="done"),)),),
    )
    said = covered(clinic(own, regime="au-racgp-2023"), "2025-03-31", "2024-01-01", regime="au-racgp-2023")
    assert (said["servicing"].met, said["servicing"].tests, said["servicing"].bound) == (1, 0, None)


# ------------------------------------------------------------------------------------------------ laws


@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(clinics(), st.data())
def test_laws_over_random_histories(place, data):
    regime = load_regime(place.terms[0].regime)
    as_of = data.draw(st.dates(FIRST, LAST))
    first = data.draw(st.dates(date(2024, 6, 1), as_of))
    facts = facts_of(place, regime, as_of)
    for said in coverage_of(facts, first, as_of, regime.on):
        lapses = [x.result for x in said.lapses]
        assert said.due == sum((said.met, said.met_late, said.missed, said.invalid, said.awaited))
        assert sorted(lapses) == sorted(r for r in lapses if r in (*DUE, "exempt"))
        assert len(lapses) == said.due - said.met + said.exempt
        assert all(first <= x.end for x in said.lapses)
        assert (said.bound is None) == bool(said.failed or said.tests < 20)
        assert ("confidence" in said.words) == (said.bound is not None)
        assert (said.gap is None) == (said.longest_gap is None)
        if said.gap:
            assert first <= said.gap[0] < said.gap[1] <= as_of or said.longest_gap == 0


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(clinics(), st.dates(date(2025, 2, 1), date(2025, 11, 30)))
def test_a_cut_anywhere_loses_and_doubles_nothing(place, cut):
    regime = load_regime(place.terms[0].regime)
    facts = facts_of(place, regime, LAST)

    def due(first, last):
        return {c.duty: (c.due, c.exempt, c.missed) for c in coverage_of(facts, first, last, regime.on)}

    whole, before, after = due(FIRST, LAST), due(FIRST, cut - timedelta(days=1)), due(cut, LAST)
    for duty, numbers in whole.items():
        assert numbers == tuple(map(sum, zip(before[duty], after[duty], strict=True))), duty


@pytest.mark.parametrize("cut", ["2025-04-06", "2025-04-07", "2025-04-08"])
def test_an_event_that_asks_nothing_any_more_is_counted_on_the_day_of_the_next_one(cut):
    """Installed and moved on before it was used: whichever day a period begins on, the first event is told once."""
    place = clinic(unit(events=(event("2025-01-01", "installed"), event("2025-04-07", "relocated"))), regime=ST79)
    rules = load_regime(ST79).on
    parts = (("2025-01-01", str(on(cut) - timedelta(days=1))), (cut, "2025-12-31"), ("2025-01-01", "2025-12-31"))
    exempt = [
        {c.duty: c.exempt for c in coverage_of(facts_of(place, rules(LAST), LAST), on(first), on(last), rules)}
        for first, last in parts
    ]
    before, after, whole = (said["biological-test-after-event"] for said in exempt)
    assert (before + after, whole) == (1, 1)
