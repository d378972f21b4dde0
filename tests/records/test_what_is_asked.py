"""What should not have happened is asked about by the writers, recorded when confirmed; what cannot be is refused.

Both sides of each edge, at first entry and at a correction.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from records import clock, log
from records import models as m
from records.log import may_be_logged
from tests import world as made
from tests.records.asked import DAY, own, told, who

pytestmark = pytest.mark.django_db


# ------------------------------------------------------------------------------------------------ other writers


def test_a_gap_or_closure_without_its_days_is_asked_for_them(world):
    both = {"from_on": DAY, "to_on": DAY}
    for field in both:
        days = both | {field: None}
        assert told(lambda days=days: log.log_gap(**who(world), **days, what="log", why="lost")) == [(field, "")]
        assert told(lambda days=days: log.log_closure(**who(world), **days, why="holiday")) == [(field, "")]
    elsewhere = both | {"unit": world.other_unit}
    assert told(lambda: log.log_gap(**who(world), **elsewhere, what="log", why="lost")) == [("unit", "")]
    assert told(lambda: log.log_closure(**who(world), **elsewhere, why="holiday")) == [("unit", "")]


def test_a_position_of_another_unit_is_refused(world):
    second = world.units[1]
    theirs = m.Position.objects.get(unit=second, code="seal")
    mine = m.Position.objects.get(unit=world.unit, code="seal")
    fit = {"unit": world.unit, "state": "yes", "effective_on": DAY}
    assert told(lambda: log.log_fit(**who(world), **fit, position=theirs)) == [("position", "")]
    assert told(lambda: log.log_fit(**who(world), **fit, position=None)) == [("position", "")]
    assert told(lambda: log.log_fit(**who(world), **fit | {"effective_on": None}, position=mine)) == [
        ("effective_on", "")
    ]
    line = {"unit": world.unit, "effective_on": DAY, "code": "wipe", "title": "Wipe", "action": "clean"}
    line |= {"source": "Invented manual"}
    assert told(lambda: log.log_plan_line(**who(world), **line, position=theirs)) == [("position", "")]
    assert told(lambda: log.log_plan_line(**who(world), **line, position=mine)) == []


@pytest.mark.parametrize(("model", "change"), [(m.PlanLine, {"code": "wipe"}), (m.Agreement, {"company": None})])
def test_what_makes_a_row_the_row_that_it_is_is_not_corrected(world, model, change):
    row = model.objects.order_by("id").first()
    if "company" in change:
        change = {"company": world.other_company}
    field = next(iter(change))
    assert told(lambda: log.correct(**own(world), row=row, changes=change, reason="no")) == [(field, "")]


def box(world, kind, **more):
    named = {"kind": kind, "name": "Invented box", "lot": f"{kind[0]}-7", "on": made.BEGIN} | more
    return log.log_indicator_lot(**who(world), **named)


@pytest.mark.parametrize(
    ("kind", "more", "said"),
    [
        ("chemical", {"chemical_type": 2}, []),
        ("chemical", {"chemical_type": None}, []),
        ("chemical", {"chemical_type": 5}, [("lot", "lot-type")]),
        ("chemical", {"chemical_type": 2, "expiry": DAY}, []),
        ("chemical", {"chemical_type": 2, "expiry": DAY - timedelta(days=1)}, [("lot", "expired-lot")]),
        ("biological", {"incubation_hours": 24}, [("lot", "")]),
    ],
)
def test_the_box_of_an_air_removal_test_is_checked(world, kind, more, said):
    lot = box(world, kind, **more)
    test = {"unit": world.unit, "on": DAY, "result": "pass", "lot": lot}
    assert told(lambda: log.log_air_removal(**who(world), **test)) == said


def test_a_box_of_strangers_is_refused_for_an_air_removal_test(world):
    lot = log.log_indicator_lot(
        by=world.people["other-coordinator"], request_key=made.key(), clinic=world.other_clinic, kind="chemical",
        name="Invented box", lot="X-1", on=made.BEGIN, chemical_type=2,
    )  # fmt: skip
    assert told(lambda: log.log_air_removal(**who(world), unit=world.unit, on=DAY, result="pass", lot=lot)) == [
        ("lot", "")
    ]


@pytest.mark.parametrize("as_control", [False, True])
def test_a_box_that_a_failed_test_was_run_with_is_not_entered_in_error(world, as_control):
    other = box(world, "biological", incubation_hours=24)
    lots = {"lot": world.lot, "control_lot": other if as_control else world.lot}
    test = log.start_bio_test(**who(world), unit=world.unit, on=DAY, cycle_type="wrapped", **lots)
    read = {"test": "growth", "control": "growth", "on": made.TODAY}
    log.read_bio_test(**who(world), bio_test=test, **read)
    lot = other if as_control else world.lot
    with pytest.raises(log.Refused) as refusal:
        log.void(**own(world), row=lot, reason="no such box")
    assert "Correct what is wrong in it instead" in str(refusal.value)
    assert m.BioReading.objects.in_force().get().test == "growth" and m.FailureCase.objects.in_force().exists()
    log.correct(**own(world), row=lot, changes={"lot": "B-101"}, reason="misread")
    log.void(**own(world), row=test, reason="never run")
    log.void(**own(world), row=m.IndicatorLot.objects.newest().get(origin=lot.origin), reason="no such box")
    assert not m.FailureCase.objects.in_force().exists(), "what did not happen goes with its own reason"


@pytest.mark.parametrize("kind", ["position", "planline"])
def test_what_findings_rest_on_is_not_entered_in_error(world, kind):
    made.seal_replaced(world, DAY)
    row = m.fact_model(kind).objects.get(unit=world.unit, code="seal" if kind == "position" else "replace-seal")
    assert told(lambda: log.void(**own(world), row=row, reason="none")) == [("", "")]
    assert m.ConditionFinding.objects.in_force().count() == 1


# ------------------------------------------------------------------------------------------------ cases


@pytest.mark.parametrize(("type", "kind"), [(1, "chemical"), (2, "air removal"), (3, "chemical"), (5, "chemical")])
@pytest.mark.parametrize("door", ["entry", "correction"])
def test_a_failed_sheet_of_an_air_removal_test_opens_a_case_of_that_kind(world, type, kind, door):
    result = "fail" if door == "entry" else "not read"
    row = log.log_chemical(**who(world), unit=world.unit, on=DAY, type=type, result=result)
    if door == "correction":
        row = log.correct(**own(world), row=row, changes={"result": "fail"}, reason="read now")
    assert [(c.kind, c.opened_by) for c in m.FailureCase.objects.all()] == [(kind, row.origin)]


@pytest.mark.parametrize(("packs", "kinds"), [("wet", ["wet packs"]), ("dry", []), ("not recorded", []), ("", [])])
def test_wet_packs_open_a_case_and_are_not_released_without_a_word(world, packs, kinds):
    load = {"unit": world.unit, "on": DAY, "cycle_number": "1", "program": "wrapped", "packs": packs}
    load |= {"mechanical": "pass", "chemical": "pass"}
    said = told(lambda: log.log_load(**who(world), **load, decision="released"))
    assert said == ([("decision", "failed-release"), ("reason", "")] if kinds else [])
    if kinds:
        log.log_load(**who(world), **load)
    assert [c.kind for c in m.FailureCase.objects.all()] == kinds


@pytest.mark.parametrize(("result", "kinds"), [("fail", ["air detector"]), ("pass", []), ("not done", [])])
def test_an_air_detector_that_fails_opens_a_case(world, result, kinds):
    check = {"unit": world.unit, "on": DAY, "kind": "air detector", "result": result, "note": "so"}
    log.log_user_check(**who(world), **check)
    assert [c.kind for c in m.FailureCase.objects.all()] == kinds


# ------------------------------------------------------------------------------------------------ loads


def load(world, number, on=DAY, **more):
    fields = {"unit": world.unit, "cycle_number": number, "program": "wrapped"} | more
    return log.log_load(**who(world), on=on, **fields)


# numbers on record with their days (before DAY) and kinds, the number typed, what is asked
NUMBERS = [
    ([], "815", ""),
    (["load 815 -1"], "816", ""),
    (["load 815 -1"], "815", "cycle-repeated"),
    (["load 0815 -1"], "815", "cycle-repeated"),
    (["load 815 -30"], "815", "cycle-repeated"),
    (["load 815 0"], "815", "cycle-repeated"),
    (["test 815 0"], "815", ""),  # the spore test of this very load
    (["test 815 -1"], "815", ""),  # past midnight
    (["test 815 -2"], "815", "cycle-repeated"),
    (["load 815 -1"], "817", "cycle-leap"),
    (["load 815 -1", "test 816 0"], "817", ""),
    (["load 815 -1"], "814", "cycle-back"),
    (["load 815 -1"], "A-900", ""),  # another way of counting: nothing can be said
    (["load A-815 -1"], "a-816", ""),
    (["load 99 -1"], "100", ""),
    (["load 815 -1", "load 820 1"], "816", ""),  # logged late: what ran after it is no last one
    (["load 815 -1"], "wrapped", ""),
]


@pytest.mark.parametrize(("before", "number", "asked"), NUMBERS)
def test_a_cycle_number_that_cannot_follow_is_asked_about(world, before, number, asked):
    every = ("cycle-leap", "cycle-back", "cycle-repeated")
    for each in before:
        kind, cycle, days = each.split()
        on = DAY + timedelta(days=int(days))
        if kind == "load":
            load(world, cycle, on, confirmed=every)
        else:
            made.spore_test(world, on, test="", cycle_number=cycle)
    assert told(lambda: load(world, number)) == ([("cycle_number", asked)] if asked else [])
    if asked:
        assert load(world, number, confirmed=(asked,)).cycle_number == number


def test_history_on_paper_comes_in_any_order_but_a_number_twice_is_asked_about(world):
    load(world, "815", paper="book 1")
    assert told(lambda: load(world, "700", paper="book 1")) == []
    assert told(lambda: load(world, "815", paper="book 1")) == [("cycle_number", "cycle-repeated")]


def test_the_same_request_twice_is_one_load_whatever_was_logged_since(world):
    key = who(world)
    fields = {"unit": world.unit, "on": DAY, "cycle_number": "1", "program": "wrapped"}
    first = log.log_load(**key, **fields)
    assert log.log_load(**key, **fields, standing_against=("Out of service: since then",)) == first


def test_a_load_in_a_unit_that_may_not_be_used_is_asked_about(world):
    out = log.log_unit_event(**who(world), unit=world.unit, kind="withdrawn", on=DAY, reason="door stiff")
    assert told(lambda: load(world, "1", DAY - timedelta(days=1))) == []
    assert told(lambda: load(world, "2")) == [("unit", "unit-out")]
    back = {"unit": world.unit, "kind": "returned", "on": DAY + timedelta(days=1), "reason": "mended", "ends": out}
    log.log_unit_event(**who(world), **back)
    assert told(lambda: load(world, "2", DAY + timedelta(days=1))) == []
    said = ("Waiting for proof: the interlock test is missing",)
    with pytest.raises(log.Refused) as refusal:
        load(world, "3", DAY + timedelta(days=2), standing_against=said)
    assert "Waiting for proof: the interlock test is missing" in str(refusal.value)
    assert load(world, "3", DAY + timedelta(days=2), standing_against=said, confirmed=("unit-out",))


# ------------------------------------------------------------------------------------------------ out and back


def event(world, kind, on=DAY, **more):
    return log.log_unit_event(**who(world), unit=world.unit, kind=kind, on=on, **({"reason": "so"} | more))


def test_a_return_names_the_withdrawal_that_it_ends(world):
    first, second = event(world, "withdrawn", reason="door"), event(world, "withdrawn", reason="cord")
    assert told(lambda: event(world, "returned")) == [("ends", "ends-none")]
    assert event(world, "returned", ends=first).ends == first
    assert told(lambda: event(world, "returned", ends=first)) == [("ends", "")], "it is ended already"
    assert told(lambda: event(world, "returned")) == [("ends", "ends-none")], "the other one stands"
    assert event(world, "returned", ends=second).ends == second
    assert told(lambda: event(world, "returned")) == []
    assert told(lambda: event(world, "relocated", ends=first)) == [("ends", "")]


def test_a_return_ends_no_withdrawal_of_another_unit_or_of_a_later_day(world):
    theirs = log.log_unit_event(**who(world), unit=world.units[1], kind="withdrawn", on=DAY, reason="door")
    assert told(lambda: event(world, "returned", ends=theirs)) == [("ends", "")]
    later = event(world, "withdrawn", on=DAY + timedelta(days=1))
    assert told(lambda: event(world, "returned", ends=later)) == [("ends", "")]


def test_a_return_before_the_proof_is_asked_about_and_records_what_was_missing(world):
    out = event(world, "withdrawn")
    missing = ("Waiting for proof: the interlock test",)
    assert told(lambda: event(world, "returned", ends=out, missing=missing)) == [("reason", "return-early")]
    said = {"ends": out, "missing": missing, "confirmed": ("return-early",), "reason": "needed today"}
    row = event(world, "returned", **said)
    assert row.reason == "needed today (was missing: Waiting for proof: the interlock test)"
    long = event(world, "returned", missing=("x" * 600,), confirmed=("return-early",))
    assert len(long.reason) == 500 and "was missing: xxx" in long.reason


@pytest.mark.parametrize(
    ("change", "said"), [({"kind": "relocated"}, [("ends", "")]), ({"reason": "door mended"}, [])]
)  # fmt: skip
def test_a_correction_keeps_a_withdrawal_to_returns(world, change, said):
    back = event(world, "returned", ends=event(world, "withdrawn"))
    assert told(lambda: log.correct(**own(world), row=back, changes=change, reason="misread")) == said


def test_a_decision_is_corrected_to_nothing_that_a_first_one_could_not_be(world):
    row = load(world, "1", mechanical="fail")
    reject = log.release_load(**who(world), load=row, decision="rejected", reason="gauge", on=made.TODAY)
    ask = {"row": reject, "changes": {"decision": "released", "reason": ""}, "reason": "wrong tap"}
    assert told(lambda: log.correct(**own(world), **ask)) == [
        ("decision", "failed-release"), ("decision", "no-results"), ("reason", ""),
    ]  # fmt: skip
    assert told(lambda: log.correct(**own(world), row=reject, changes={"reason": " "}, reason="no")) == [
        ("reason", "")
    ]
    early = {"happened_on": DAY - timedelta(days=1)}
    assert ("happened_on", "") in told(lambda: log.correct(**own(world), row=reject, changes=early, reason="no"))


# ------------------------------------------------------------------------------------------------ whose day it is


# In Auckland it is a day later than in UTC from noon on, in Honolulu a day earlier until ten in the morning (IANA).
ZONES = [
    ("Pacific/Auckland", datetime(2026, 3, 16, 14, tzinfo=UTC), date(2026, 3, 17)),
    ("Pacific/Honolulu", datetime(2026, 3, 16, 8, tzinfo=UTC), date(2026, 3, 15)),
    ("Etc/UTC", datetime(2026, 3, 16, 14, tzinfo=UTC), date(2026, 3, 16)),
]


@pytest.mark.parametrize(("zone", "now", "today"), ZONES)
def test_every_day_that_is_taken_is_the_clinics(world, zone, now, today):
    terms = m.ClinicTerms.objects.get(clinic=world.clinic)
    log.correct(**own(world), row=terms, changes={"time_zone": zone}, reason="misread")
    ahead = today + timedelta(days=5)
    with clock.at(now):
        assert may_be_logged.zone_of(world.clinic) == zone
        unit = world.unit
        rows = [
            log.place_unit(**who(world), unit=unit, effective_on=ahead, room="Room 2"),
            log.log_fit(**who(world), unit=unit, position=m.Position.objects.get(unit=unit, code="seal"), state="yes",
                        effective_on=ahead),
            log.log_plan_line(**who(world), unit=unit, effective_on=ahead, code="wipe", title="Wipe", action="clean",
                              source="Invented"),
            log.log_closure(**who(world), from_on=ahead, to_on=ahead, why="holiday"),
            log.log_gap(**who(world), from_on=DAY, to_on=ahead, what="log", why="lost"),
            log.log_credential(**own(world), owner=world.clinic, kind="training", title="Course", valid_from=ahead),
            log.log_agreement(**who(world), company=world.other_company, effective_on=ahead),
        ]  # fmt: skip
        assert {(row.happened_on, row.zone) for row in rows} == {(today, zone)}
        gauge = {"owner": world.clinic, "name": "Gauge", "kind": "pressure gauge"}
        assert told(lambda: log.log_instrument(**own(world), **gauge, on=today)) == []
        assert told(lambda: log.log_instrument(**own(world), **gauge, on=today + timedelta(days=1))) == [("on", "")]


def test_terms_take_effect_with_the_day_of_their_own_zone(world):
    fields = {"programme": "dental", "address": "", "week_start": 0, "regime": "us-dental-cdc-2003", "name": "First"}
    terms = fields | {"effective_on": date(2026, 3, 20), "time_zone": "Pacific/Auckland"}
    log.log_terms(**who(world), **terms)
    clinics = m.Clinic.objects.filter(pk=world.clinic.pk)
    # The twentieth begins in Auckland at eleven in the morning of the nineteenth, UTC (UTC+13 until 5 April 2026).
    for moment, zone in (
        (datetime(2026, 3, 19, 10, 59, tzinfo=UTC), "America/Chicago"),
        (datetime(2026, 3, 19, 11, 0, tzinfo=UTC), "Pacific/Auckland"),
        (datetime(2026, 3, 25, 11, 0, tzinfo=UTC), "Pacific/Auckland"),
    ):
        with clock.at(moment):
            assert may_be_logged.zone_of(world.clinic) == zone
            assert may_be_logged.zone_today(may_be_logged.with_zone(clinics).get()) == zone
