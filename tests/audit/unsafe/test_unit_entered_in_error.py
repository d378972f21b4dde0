"""A unit that is entered in error takes no bad news along: failed or unread tests, findings and withdrawals stay."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from records import clock, log
from records.models import Voiding, fact_models
from tests import world as build

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 2)


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def world():
    return build.make()


def common(world, role="operator", **more):
    said = {"by": world.people[role], "request_key": build.key(), "clinic": world.clinic, "unit": world.unit}
    return said | {"on": DAY} | more


def spores(world, test="no growth", control="growth"):
    build.spore_test(world, DAY, test, control)


def leak(world, rise):
    log.log_leak(
        **common(world), rise=Decimal(rise), unit_of_measure="mbar", minutes=Decimal(10), settling=Decimal(5),
        start_pressure=Decimal(4), start_temperature=Decimal(25),
    )  # fmt: skip


def load(world, **more):
    log.log_load(**common(world), cycle_number="7", program="wrapped", contents="3 packs", **more)


def check(world, result):
    log.log_user_check(**common(world), kind="automatic control", result=result, signed_by="A. User", note="as told")


def withdrawn(world):
    log.log_unit_event(**common(world), kind="withdrawn", reason="cracked door")


def visit(world, conclusion="released", tests=(("V1", "pass"),), **more):
    job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean"}
    job |= {"tests": [{"code": c, "result": r, "value": "134.5 °C"} for c, r in tests]}
    job |= {"conclusion": {"conclusion": conclusion, "reason": "as told"}} | more
    log.log_visit(by=world.people["technician"], request_key=build.key(), clinic=world.clinic, on=DAY, jobs=[job])


def seen(grade, decision, letter="A"):
    words = {"component": "latch", "grade": grade, "seen": "worn", "decision": decision, "repair_class": letter}
    return {"findings": [words], "parts": []}


BAD = [
    ("a spore test not read", lambda w: spores(w, ""), "not read"),
    ("a spore test that grew", lambda w: spores(w, "growth"), "growth"),
    ("a spore test whose control did not grow", lambda w: spores(w, control="no growth"), "its control"),
    ("a leak test that failed", lambda w: leak(w, "20"), "“fail”"),
    ("a check that failed", lambda w: check(w, "fail"), "“fail”"),
    ("a check not done", lambda w: check(w, "not done"), "“not done”"),
    ("a load whose gauges failed", lambda w: load(w, mechanical="fail"), "gauges and printout failed"),
    ("a load of wet packs", lambda w: load(w, packs="wet"), "packs came out wet"),
    ("withdrawn by hand", withdrawn, "cracked door"),
    ("work not released", lambda w: visit(w, "not released"), "not released"),
    ("a test after work that failed", lambda w: visit(w, "not released", (("V1", "fail"),)), "V1"),
    ("a failed latch", lambda w: visit(w, **seen(3, "replace")), "latch: worn"),
    ("a condemned latch", lambda w: visit(w, **seen(2, "condemn")), "latch: worn"),
]  # fmt: skip
GOOD = [
    ("nothing", lambda w: None),
    ("a spore test that passed", spores),
    ("a leak test that passed", lambda w: leak(w, "1")),
    ("a check that passed", lambda w: check(w, "pass")),
    ("a load that was right", lambda w: load(w, mechanical="pass", chemical="pass", packs="dry")),
    ("a visit, released", visit),
    ("a latch at its limit, adjusted", lambda w: visit(w, **seen(2, "adjust"))),
]


@pytest.mark.parametrize(("told", "happened", "says"), BAD, ids=[row[0] for row in BAD])
def test_a_unit_with_bad_news_is_not_taken_away(world, told, happened, says):
    happened(world)
    before = evaluate(clinic_facts(world.clinic), build.TODAY)
    with pytest.raises(log.Refused) as refused:
        log.void(by=world.people["coordinator"], request_key=build.key(), row=world.unit, reason="entered twice")
    words = str(refused.value)
    assert str(DAY) in words and "decommissioned" in words and "say so of that row" in words
    assert says in words or says in {"V1"}
    assert not Voiding.objects.exists()
    assert evaluate(clinic_facts(world.clinic), build.TODAY) == before


@pytest.mark.parametrize(("told", "happened"), GOOD, ids=[row[0] for row in GOOD])
def test_one_without_goes_with_all_that_is_of_it(world, told, happened):
    happened(world)
    log.void(by=world.people["coordinator"], request_key=build.key(), row=world.unit, reason="entered twice")
    assert not clinic_facts(world.clinic).units
    of_unit = [m for m in fact_models() if any(f.name == "unit" for f in m._meta.concrete_fields)]
    assert not any(m.objects.in_force().filter(unit=world.unit).exists() for m in of_unit)


def test_once_each_row_is_said_to_be_in_error_the_unit_may_be(world):
    check(world, "fail")
    (row,) = [r for m in fact_models() if m._meta.model_name == "usercheck" for r in m.objects.all()]
    for each in (row, world.unit):
        log.void(by=world.people["coordinator"], request_key=build.key(), row=each, reason="of another unit")
    assert not clinic_facts(world.clinic).units


def test_the_same_request_answers_again_although_a_failure_came_later(world):
    key = build.key()
    said = {"by": world.people["coordinator"], "request_key": key, "row": world.unit, "reason": "entered twice"}
    first = log.void(**said)
    assert log.void(**said) == first
