"""What a visit may record of a part that is awaited, of a unit left out of use, of hot readings, of tests in a cycle.

| the job says | written |
| --- | --- |
| part awaited, no part named | no: which part is to be brought? |
| part awaited, released or pending | no |
| part awaited, limited without who accepts it | no |
| part awaited, limited with both; or not released | yes |
| released, and the clinic signs “left out of use” | no |
| not released, “left out of use” without a name | no |
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest

from records import clock, log
from records.models import BioTest, ChemicalResult, ConditionFinding, FailureCase, Reading, Signature
from tests import visit_world
from tests import world as build

pytestmark = pytest.mark.django_db
AWAITED = {"component": "strainer", "grade": 2, "seen": "torn", "decision": "part awaited", "repair_class": "A"}
NAMED = AWAITED | {"part_needed": "Strainer insert", "part_needed_number": "S-7"}
OUT = {"conclusion": "not released", "reason": "part on order"}
LIMITED = {"conclusion": "limited", "limitation": "unwrapped loads only"}


@pytest.fixture
def built(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield visit_world.make()


def recorded(built, **job):
    whole = {"unit": built.unit, "reason": "breakdown", "contamination": "declared clean", "conclusion": OUT} | job
    return log.log_visit(
        by=built.world.people["technician"], request_key=build.key(), clinic=built.world.clinic, on=build.TODAY,
        jobs=[whole],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("job", "refused"),
    [
        ({"findings": [AWAITED]}, "Which part is to be brought?"),
        ({"findings": [NAMED]}, ""),
        ({"findings": [NAMED], "conclusion": {"conclusion": "released"}}, "cannot end as “released”"),
        ({"findings": [NAMED], "conclusion": {"conclusion": "pending", "acceptor": "Ana", "deadline": build.TODAY}},
         "cannot end as “pending”"),
        ({"findings": [NAMED], "conclusion": LIMITED}, "Who at the clinic accepts its use until then?"),
        ({"findings": [NAMED], "conclusion": LIMITED | {"acceptor": "Ana Coordinator"}}, ""),
        ({"signatures": [{"meaning": "left out of use", "name": "Ana Coordinator"}]}, ""),
        ({"signatures": [{"meaning": "left out of use"}]}, "needs the name of the person"),
        ({"conclusion": {"conclusion": "released"}, "signatures": [{"meaning": "left out of use", "name": "Ana"}]},
         "Only one of the two is so"),
    ],
)  # fmt: skip
def test_a_job_that_awaits_a_part_never_permits_by_being_silent(built, job, refused):
    if not refused:
        recorded(built, **job)
        return
    with pytest.raises(log.Refused) as told:
        recorded(built, **job)
    assert any(refused in problem.message for problem in told.value.problems), told.value.problems


def test_the_part_to_bring_and_what_was_measured_hot_stand_in_their_rows(built):
    reading = visit_world.reading("chamber temperature", "°C", "134.5", "134", "137")
    hot = reading | {"found_while": "before cool-down", "instrument": "Logger L2"}
    recorded(built, findings=[NAMED], readings=[hot])
    finding = ConditionFinding.objects.get(decision="part awaited")
    assert (finding.part_needed, finding.part_needed_number) == ("Strainer insert", "S-7")
    assert Reading.objects.filter(found_while="before cool-down", instrument="Logger L2").count() == 1


@pytest.mark.parametrize(
    ("other", "refused"),
    [
        ({"instrument_left": "G2", "calibration_due_left": date(2026, 1, 1)}, ""),
        ({"instrument_left": "G2", "as_left": None}, "Nothing was measured as left with G2"),
        ({"calibration_due_left": date(2026, 1, 1)}, "This is the calibration of which instrument?"),
    ],
)
def test_another_instrument_of_as_left_has_a_name_and_a_value(built, other, refused):
    reading = visit_world.reading("chamber temperature", "°C", "134.5", "134", "137") | other
    if not refused:
        recorded(built, readings=[reading])
        assert Reading.objects.filter(instrument_left="G2", calibration_due_left=date(2026, 1, 1)).count() == 1
        return
    with pytest.raises(log.Refused, match=re.escape(refused)):
        recorded(built, readings=[reading])


def test_a_decision_corrected_to_awaited_is_held_to_the_same(built):
    recorded(built, findings=[NAMED])
    row = ConditionFinding.objects.get(decision="part awaited")
    with pytest.raises(log.Refused, match="Which part is to be brought"):
        log.correct(
            by=built.world.people["technician"], request_key=build.key(), row=row, changes={"part_needed": ""},
            reason="slip",
        )  # fmt: skip


def test_the_clinic_signs_that_the_unit_stays_out_with_its_own_pass_phrase(built):
    recorded(built, signatures=[{"meaning": "left out of use", "name": "Ana Coordinator"}])
    row = Signature.objects.get(meaning="left out of use")
    coordinator = built.world.people["coordinator"]
    with pytest.raises(log.NotYours):
        log.sign(by=built.world.people["technician"], request_key=build.key(), row=row)
    if str(row.signed_by) == coordinator.full_name:
        signed = log.sign(by=coordinator, request_key=build.key(), row=row)
        assert log.signatures.given(signed) == "signed"
        assert log.signatures.means(signed) == "the unit stays out of use"


# ------------------------------------------------------------------------------------------------ tests in a cycle


def box(built, kind="biological", **more):
    more = {"incubation_hours": 24} | more if kind == "biological" else {"chemical_type": 5} | more
    return log.log_indicator_lot(
        by=built.world.people["coordinator"], request_key=build.key(), clinic=built.world.clinic, kind=kind,
        name=f"Invented {kind}", lot=f"B-{kind}", on=build.TODAY, expiry=build.TODAY + timedelta(days=90), **more,
    )  # fmt: skip


def spores(lot, **more):
    return {
        "lot": lot, "control_lot": lot, "cycle_type": "wrapped", "purpose": "after repair", "chamber": "empty",
        "site": "clinic", "mechanical": "pass", "chemical": "pass",
    } | more  # fmt: skip


def test_a_spore_test_run_in_the_visit_is_one_of_the_entry_and_waits_to_be_read(built):
    lot, cards = box(built), box(built, "chemical")
    visit = recorded(
        built, spore_tests=[spores(lot, at=build.NOW)],
        chemicals=[{"type": 5, "result": "pass", "lot": cards, "where": "in the pack"}],
    )  # fmt: skip
    test, card = BioTest.objects.get(unit=built.unit), ChemicalResult.objects.get(unit=built.unit)
    assert test.entry_id == card.entry_id == visit.entry_id
    assert (test.purpose, test.readings.count(), str(test.run_by)) == ("after repair", 0, "Pat Technician")
    assert (card.type, card.result, card.lot) == (5, "pass", cards)
    assert not FailureCase.objects.filter(unit=built.unit).exists()


@pytest.mark.parametrize(
    ("rows", "opens"),
    [
        ({"spore_tests": [{"chemical": "fail"}]}, ["chemical"]),
        ({"spore_tests": [{"mechanical": "fail"}]}, ["mechanical"]),
        ({"chemicals": [{"type": 5, "result": "fail"}]}, ["chemical"]),
        ({"chemicals": [{"type": 2, "result": "fail"}]}, ["air removal"]),
        ({"chemicals": [{"type": 5, "result": "not read"}]}, []),
    ],
)
def test_a_failing_one_opens_its_case_in_the_entry_of_the_visit(built, rows, opens):
    lot = box(built)
    rows = {kind: [spores(lot, **r) if kind == "spore_tests" else r for r in each] for kind, each in rows.items()}
    visit = recorded(built, **rows)
    cases = FailureCase.objects.filter(unit=built.unit)
    assert [case.kind for case in cases] == opens
    assert all(case.entry_id == visit.entry_id for case in cases)


@pytest.mark.parametrize(
    ("change", "refused"),
    [
        ({"lot": None}, "lot"), ({"cycle_type": " "}, "cycle_type"), ({"purpose": ""}, "purpose"),
        ({"mechanical": ""}, "mechanical"), ({"at": build.NOW + timedelta(days=2)}, "at"),
    ],
)  # fmt: skip
def test_a_spore_test_that_says_too_little_is_refused_with_its_place(built, change, refused):
    with pytest.raises(log.Refused) as told:
        recorded(built, spore_tests=[spores(box(built)) | change])
    places = [problem.place.parts for problem in told.value.problems]
    assert ("jobs", 0, "spore_tests", 0, refused) in places, told.value.problems
    assert not BioTest.objects.filter(unit=built.unit).exists()


def test_a_box_of_another_kind_is_refused(built):
    with pytest.raises(log.Refused):
        recorded(built, spore_tests=[spores(box(built, "chemical"))])
    with pytest.raises(log.Refused):
        recorded(built, chemicals=[{"type": 5, "result": "pass", "lot": box(built)}])


def test_numbers_of_a_test_keep_their_order_and_their_band(built):
    """Both ends of the band are inside; of each field one thing is said."""
    for low, high, minutes, wrong in (
        ("134", "137", "3.5", []),
        ("133.9", "137", "3.5", ["temperature_low"]),
        ("134", "137.1", "3.5", ["temperature_high"]),
        ("134", "137", "3.4", ["minutes"]),
        ("137", "134", "0", ["minutes", "temperature_high"]),
    ):
        test = {"code": "V1", "result": "pass", "band_low": Decimal(134), "band_high": Decimal(137)}
        test |= {"temperature_low": Decimal(low), "temperature_high": Decimal(high), "minutes": Decimal(minutes),
                 "minutes_needed": Decimal("3.5")}  # fmt: skip
        found = []
        try:
            recorded(built, tests=[test])
        except log.Refused as refusal:
            found = sorted(problem.place.field for problem in refusal.problems)
        assert found == wrong, (low, high, minutes)
