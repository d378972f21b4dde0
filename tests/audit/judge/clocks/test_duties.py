"""Which duties hold: the rules' own by type of equipment, and the clinic's own beside them."""

from dataclasses import replace
from datetime import date

import pytest

from audit.facts import LocalDutyFact
from audit.judge.clocks.duties import applies, duties_on, local_problems, main_test
from audit.regimes import load_regime
from records.forms.set_up import STATED
from records.models.people import DUTIES, EVERY
from tests.audit.judge.clock_stories import a_duty
from tests.fact_builders import clinic, row, unit

DAY = date(2025, 3, 3)


def local(duty, every, count=1, day=date(2025, 1, 1)):
    return LocalDutyFact(row(day), day, duty, every, count, "own policy")


def duties(regime, *own, type="dynamic air removal", day=DAY):
    held = unit(type=type)
    return {d.id: d for d in duties_on(load_regime(regime), clinic(held, local_duties=own), held, day)}


def test_one_stands_beside_that_of_the_rules_and_counts_what_that_counts():
    held = duties("gb-eng-dental-htm0105", local("safety-check", "day-of-use"))
    own, theirs = held["safety-check-own"], held["safety-check"]
    assert (own.every, own.signed, own.subject, own.forbids) == ("day-of-use", True, "safety check", False)
    assert own.source.citation == "the clinic's own rule: own policy"
    assert (own.words, own.title) == ("on each day of use", f"{theirs.title}, the clinic's own rule")
    assert theirs == duties("gb-eng-dental-htm0105")["safety-check"]


@pytest.mark.parametrize("every", ["calendar-month", "calendar-week", "day-of-use", "each-implant-load"])
def test_none_takes_the_place_of_another(every):
    held = duties("us-dental-cdc-2003", local("biological-test", every))
    assert held["biological-test"] == duties("us-dental-cdc-2003")["biological-test"]
    assert held["biological-test-own"].every == every


def test_one_that_the_rules_do_not_have_is_added_where_the_equipment_has_it():
    own = local("air-removal-test", "calendar-week")
    assert "air-removal-test" in duties("us-dental-cdc-2003", own)
    assert "air-removal-test" not in duties("us-dental-cdc-2003", own, type="cassette")
    assert "air-removal-test" not in duties("us-dental-cdc-2003", own, type="gravity")
    leaks = local("air-leak-test", "calendar-week")
    assert "air-leak-test" in duties("us-dental-cdc-2003", leaks)
    assert "air-leak-test" not in duties("us-dental-cdc-2003", leaks, type="gravity")
    assert duties("base", local("water-check", "calendar-week"))["water-check"].subject == "water"


def test_several_in_effect_all_hold_each_frequency_once():
    own = (
        local("biological-test", "rolling-days", 5),
        local("biological-test", "day-of-use", day=date(2025, 3, 3)),
        local("biological-test", "rolling-days", 5, day=date(2025, 3, 3)),
    )
    held = duties("us-ca-body-art", *own)
    assert [(d.id, d.every, d.count) for d in held.values() if d.subject == "biological" and not d.events] == [
        ("biological-test", "calendar-month", 1),
        ("biological-test-own", "rolling-days", 5),
        ("biological-test-own-2", "day-of-use", 1),
    ]
    assert "biological-test-own-2" not in duties("us-ca-body-art", *own, day=date(2025, 3, 2))
    assert duties("us-ca-body-art", *own, day=date(2024, 12, 31)) == duties("us-ca-body-art")


UNUSABLE = [
    (local("biological-test", "weekly"), "not a duty known here"),
    (local("biological-test", "rolling-days", 0), "not a duty known here"),
    (local("biological-test", "after-event"), "not a duty known here"),
    (local("biological-test", "hours-or-days", 30), "not a duty known here"),
    (local("biological-test", "stated-date", 3), "not a duty known here"),
    (local("air-removal-test", "each-implant-load"), "not a duty known here"),
    (local("polishing", "calendar-week"), "not a duty known here"),
]


@pytest.mark.parametrize(("own", "words"), UNUSABLE)
def test_one_that_cannot_be_used_is_named_with_the_reason(own, words):
    place = clinic(unit(), local_duties=(own,))
    said = list(local_problems(place, load_regime("us-dental-cdc-2003"), DAY))
    assert len(said) == 1 and words in said[0][1] and said[0][0] is own
    assert list(local_problems(place, load_regime("us-dental-cdc-2003"), date(2025, 1, 1)))
    assert not list(local_problems(place, load_regime("us-dental-cdc-2003"), date(2024, 12, 31)))


def test_one_that_is_used_is_not_named():
    place = clinic(unit(), local_duties=(local("biological-test", "rolling-days", 5),))
    assert not list(local_problems(place, load_regime("us-dental-cdc-2003"), DAY))


def test_duties_of_the_whole_place_are_not_a_unit_s():
    own = (local("training", "rolling-months", 12), local("instructions", "rolling-months", 12))
    held = unit()
    place = clinic(held, local_duties=own)
    of_unit = duties_on(load_regime("base"), place, held, DAY)
    of_place = duties_on(load_regime("base"), place, None, DAY)
    assert [d.id for d in of_unit] == ["instructions"] and [d.id for d in of_place] == ["training"]


def test_the_main_test_is_the_repeating_spore_test():
    assert main_test(duties("us-dental-cdc-2003").values()).id == "biological-test"
    assert main_test(duties("gb-sct-2024").values()) is None
    assert main_test([duties("us-dental-cdc-2003")["implant-load-test"]]) is None


@pytest.mark.parametrize("duty", DUTIES)
def test_every_duty_that_a_clinic_may_record_is_known(duty):
    """Under each of the words that the form offers; the rules followed here have none of them but the spore test."""
    own = local(duty, "rolling-days", 3)
    here = clinic(unit(type="dynamic air removal"), local_duties=(own,))
    regime = load_regime("us-dental-cdc-2003")
    assert list(local_problems(here, regime, DAY)) == []
    added = [d for u in (here.units[0], None) for d in duties_on(regime, here, u, DAY)]
    mine = [d for d in added if d.source.citation == "the clinic's own rule: own policy"]
    assert [(d.every, d.count) for d in mine] == [("rolling-days", 3)]


@pytest.mark.parametrize("every", EVERY)
def test_every_frequency_that_a_clinic_may_record_is_known(every):
    known = {d for d in DUTIES if not _refused(local(d, every, 1))}
    if every == "stated-date":
        assert known == set(STATED)  # a day is stated by a paper only
    else:
        assert known == set(DUTIES)


def _refused(own):
    problems = local_problems(clinic(unit(), local_duties=(own,)), load_regime("us-dental-cdc-2003"), DAY)
    return [why for _, why, _ in problems if "not a duty known here" in why]


@pytest.mark.parametrize(("recorded", "id"), [("water", "water-check"), ("validation-report", "validation")])
def test_a_duty_on_record_under_its_other_word_is_the_same_duty(recorded, id):
    old, new = local(recorded, "rolling-days", 30), local(id, "rolling-days", 30, date(2025, 2, 1))
    for pair in ((old, new), (replace(new, duty=recorded), replace(old, duty=id))):
        held = duties("us-dental-cdc-2003", *pair)
        assert held[id].count == 30 and recorded not in held and f"{id}-own-2" not in held
    stricter = duties("gb-eng-dental-htm0105", local("validation-report", "rolling-months", 6))
    assert stricter["validation-own"].words == "at most 6 months after the last one"
    assert stricter["validation"] == duties("gb-eng-dental-htm0105")["validation"]


@pytest.mark.parametrize("subject", ["air removal", "air leak"])
def test_a_unit_without_a_vacuum_is_asked_no_test_of_it_whatever_a_duty_says(subject):
    duty = replace(a_duty("calendar-week"), subject=subject)
    assert not applies(duty, "gravity") and applies(duty, "dynamic air removal")
    assert applies(a_duty("calendar-week"), "gravity")
    only = replace(a_duty("calendar-week"), equipment=("cassette",))
    assert applies(only, "cassette") and not applies(only, "gravity")


def test_two_of_its_own_have_each_an_id_where_the_rules_have_none():
    held = duties("base", local("water-check", "calendar-week"), local("water-check", "calendar-month"))
    assert [id for id in held if id.startswith("water-check")] == ["water-check", "water-check-own-2"]


def test_the_regular_spore_test_of_the_rules_comes_before_the_clinics_own_and_none_after_an_event():
    theirs, own = a_duty("calendar-week"), replace(a_duty("day-of-use"), id="biological-test-own")
    after = replace(a_duty("after-event", events=("relocated",)), id="biological-test-after-event")
    assert main_test((own, theirs)) is theirs and main_test((after, own)) is own
    assert main_test((after,)) is None and main_test((replace(theirs, subject="water"),)) is None


@pytest.mark.parametrize(("every", "count", "words"), [("rolling-days", 10, "10"), ("rolling-months", 6, "6")])
def test_an_own_duty_has_no_condition_but_its_frequency(every, count, words):
    (own,) = [d for d in duties("base", local("biological-test", every, count)).values() if d.subject == "biological"]
    assert (own.every, own.count, own.hours, own.events, own.passes) == (every, count, 0, (), 1)
    assert (own.chamber, own.each_cycle_type, own.idle_days, own.equipment) == ("any", False, 0, ())
    assert (own.forbids, own.signed, own.lead_days) == (False, False, 0)
    assert words in own.words and "hour" not in own.words
