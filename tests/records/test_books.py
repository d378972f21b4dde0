"""User checks, load fields, credentials, instruments and part recall notices: written, refused, corrected, voided."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from audit.gather.read import clinic_facts
from records import clock, log
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db
DAY = build.TODAY - timedelta(days=7)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make()


def who(world, role="coordinator"):
    return {"by": world.people[role], "request_key": build.key()}


def check(world, **more):
    given = {"kind": "safety check", "result": "pass", "signed_by": "Sam Sample", "unit": world.unit, "on": DAY}
    return log.log_user_check(**who(world), clinic=world.clinic, **given | more)


def credential(world, **more):
    given = {"owner": world.company, "kind": "training", "title": "Invented course", "valid_from": DAY}
    return log.log_credential(**who(world, "technician"), **given | more)


def instrument(world):
    return log.log_instrument(
        **who(world, "technician"), owner=world.company, name="Gauge", kind="pressure gauge", on=DAY
    )


def calibration(world, of, **more):
    given = {"certificate": "C", "result": "in tolerance", "valid_to": date(2027, 1, 1), "on": DAY}
    return log.log_calibration(**who(world, "technician"), owner=world.company, instrument=of, **given | more)


def test_a_check_comes_back_as_typed(world):
    check(world, value=Decimal("134.2"), unit_of_measure="°C", cycle_number="7", cycle_type="wrapped", note="n")
    (fact,) = clinic_facts(world.clinic).units[0].checks
    assert (fact.kind, fact.result, fact.value, fact.unit_of_measure) == (
        "safety check", "pass", Decimal("134.2"), "°C",
    )  # fmt: skip
    assert (fact.cycle_number, fact.cycle_type, fact.signed_by, fact.note) == ("7", "wrapped", "Sam Sample", "n")


def test_an_unsigned_check_is_asked_about_and_then_recorded(world):
    with pytest.raises(log.Refused) as refusal:
        check(world, signed_by="")
    assert [p.confirm for p in refusal.value.problems] == ["unsigned"]
    assert check(world, signed_by="", confirmed=("unsigned",)).signed_by is None


@pytest.mark.parametrize(
    ("wrong", "field"), [({"value": Decimal(1)}, "unit_of_measure"), ({"result": "not done"}, "note")]
)
def test_a_check_that_says_too_little_is_refused(world, wrong, field):
    with pytest.raises(log.Refused) as refusal:
        check(world, **wrong)
    assert [p.field for p in refusal.value.problems] == [field]


@pytest.mark.parametrize(
    ("kind", "opened"),
    [("safety check", 1), ("automatic control", 1), ("water", 0), ("thermometer comparison", 0)],
)
def test_a_failing_check_opens_its_case_and_voiding_takes_it_along(world, kind, opened):
    row = check(world, kind=kind, result="fail")
    assert [c.kind for c in m.FailureCase.objects.in_force()] == [kind] * opened
    log.void(**who(world), row=row, reason="other unit")
    assert not m.FailureCase.objects.in_force().exists() and not m.UserCheck.objects.in_force().exists()


def test_a_correction_to_fail_opens_the_case(world):
    log.correct(**who(world), row=check(world), changes={"result": "fail"}, reason="misread")
    assert m.FailureCase.objects.get().kind == "safety check"


def test_load_fields_come_back_and_a_use_time_of_nothing_is_refused(world):
    given = {"clinic": world.clinic, "unit": world.unit, "on": DAY, "cycle_number": "1", "program": "wrapped"}
    log.log_load(**who(world), **given, mechanical="pass", chemical="fail", minutes=Decimal("31.5"))
    (fact,) = clinic_facts(world.clinic).units[0].loads
    assert (fact.mechanical, fact.chemical, fact.minutes) == ("pass", "fail", Decimal("31.5"))
    with pytest.raises(log.Refused):
        log.log_load(**who(world), **given, minutes=Decimal(0))


def test_company_books_reach_the_clinic_they_serve_and_no_other(world):
    credential(world)
    calibration(world, instrument(world))
    facts = clinic_facts(world.clinic)
    assert [c.holder for c in facts.credentials] == ["service company"]
    assert [len(i.calibrations) for i in facts.instruments] == [1]
    assert clinic_facts(world.other_clinic).credentials == ()
    assert clinic_facts(world.clinic, known_at=build.NOW - timedelta(days=1)).instruments == ()


def test_a_company_row_is_corrected_and_voided(world):
    row = credential(world)
    log.correct(**who(world, "technician"), row=row, changes={"title": "Other"}, reason="typed wrongly")
    assert [c.title for c in clinic_facts(world.clinic).credentials] == ["Other"]
    newest = m.Credential.objects.newest().get()
    log.void(**who(world, "technician"), row=newest, reason="somebody else's")
    assert clinic_facts(world.clinic).credentials == ()


def test_what_cannot_be_is_refused(world):
    gauge = instrument(world)
    for wrong in ({"valid_to": DAY - timedelta(days=1)}, {"result": "out of tolerance"}):
        with pytest.raises(log.Refused):
            calibration(world, gauge, **wrong)
    with pytest.raises(log.Refused):
        credential(world, valid_to=DAY - timedelta(days=1))
    with pytest.raises(log.NotYours):
        credential(world, owner=world.other_company)
