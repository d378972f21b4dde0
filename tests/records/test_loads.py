"""The decision on a load: with it or later, once, and what a failing result of a load opens."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from records import log
from records.log import NotYours, Refused, SubmissionConflict
from records.models import ChemicalResult, Entry, FailureCase, Load, LoadRelease
from tests import world as made

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=2)


def who(world, role="coordinator"):
    return {"by": world.people[role], "request_key": made.key(), "clinic": world.clinic}


def load(world, **more):
    passing = {"mechanical": "pass", "chemical": "pass"}
    values = {"unit": world.unit, "on": DAY, "cycle_number": "815", "program": "wrapped"} | passing | more
    return log.log_load(**who(world), **values)


def decide(world, row, decision="released", role="coordinator", **more):
    return log.release_load(**who(world, role), load=row, decision=decision, **({"on": made.TODAY} | more))


def refused(call) -> dict[str, str]:
    with pytest.raises(Refused) as refusal:
        call()
    return {p.field: p.message for p in refusal.value.problems}


def test_a_load_is_released_later_by_whom_and_when(world):
    row = load(world)
    made_ = decide(world, row, role="operator", at=made.NOW)
    assert (made_.load, made_.unit, made_.decision, made_.reason) == (row, world.unit, "released", "")
    assert (made_.happened_on, made_.happened_at) == (made.TODAY, made.NOW)
    assert made_.decided_by.value == "Pat Operator" and made_.entry.what == "decision on a load"
    assert made_.entry != row.entry and Load.objects.count() == 1


def test_the_same_request_twice_is_one_decision_and_with_another_word_a_conflict(world):
    row, common = load(world), who(world)
    first = log.release_load(**common, load=row, decision="released", on=made.TODAY)
    assert log.release_load(**common, load=row, decision="released", on=made.TODAY) == first
    with pytest.raises(SubmissionConflict):
        log.release_load(**common, load=row, decision="rejected", reason="wet", on=made.TODAY)
    strip = {"unit": world.unit, "on": DAY, "cycle_number": "815", "type": 5, "result": "fail"}
    log.log_chemical(**who(world), **strip)
    assert log.release_load(**common, load=row, decision="released", on=made.TODAY) == first, "as it was then"
    assert LoadRelease.objects.count() == 1


@pytest.mark.parametrize("first", ["with the load", "later"])
def test_a_second_decision_is_refused_and_the_first_is_corrected_instead(world, first):
    row = load(world, decision="released" if first == "with the load" else "")
    if first == "later":
        decide(world, row)
    said = refused(lambda: decide(world, row, "rejected", reason="wet packs"))
    assert "was released already" in said["decision"] and "Correct that decision" in said["decision"]
    standing = LoadRelease.objects.get()
    by = {"by": world.people["coordinator"], "request_key": made.key()}
    log.correct(**by, row=standing, changes={"decision": "rejected", "reason": "wet packs"}, reason="wrong load")
    assert [r.decision for r in LoadRelease.objects.in_force()] == ["rejected"]
    assert "was rejected already" in refused(lambda: decide(world, row))["decision"]


def test_a_decision_entered_in_error_leaves_the_load_waiting_again(world):
    row = load(world)
    by = {"by": world.people["coordinator"], "request_key": made.key()}
    log.void(**by, row=decide(world, row), reason="another load was meant")
    assert decide(world, row, "rejected", reason="wet packs").decision == "rejected"


def test_a_load_entered_in_error_is_not_decided_about(world):
    row = load(world)
    log.void(by=world.people["coordinator"], request_key=made.key(), row=row, reason="no such cycle")
    assert "entered in error" in refused(lambda: decide(world, row))["load"]


def test_what_cannot_be_is_refused_with_its_way_out(world):
    row = load(world, at=made.NOW - timedelta(days=2))
    for more, field in (
        ({"decision": ""}, "decision"),
        ({"decision": "perhaps"}, "decision"),
        ({"decision": "rejected"}, "reason"),
        ({"on": DAY - timedelta(days=1)}, "on"),
        ({"on": made.TODAY + timedelta(days=1)}, "on"),
        ({"on": DAY, "at": made.NOW - timedelta(days=2, hours=1)}, "at"),
    ):
        said = refused(lambda more=more: decide(world, row, **({"decision": "released"} | more)))
        assert list(said) == [field], more
    foreign = {"by": world.people["other-coordinator"], "request_key": made.key(), "clinic": world.other_clinic}
    said = refused(lambda: log.release_load(**foreign, load=row, decision="released", on=made.TODAY))
    assert list(said) == ["load"]
    with pytest.raises(NotYours):
        decide(world, row, role="viewer")
    assert not LoadRelease.objects.exists() and Entry.objects.filter(what="decision on a load").count() == 0


@pytest.mark.parametrize("where", ["the load", "a correction of it", "an indicator of the cycle", "its spore test"])
def test_a_load_in_which_something_failed_is_released_only_with_its_reason(world, where):
    # CDC 2003 (MMWR 52 RR-17) VI.F: packs are not used when mechanical or chemical results point to failure.
    row = load(world, mechanical="fail" if where == "the load" else "pass")
    if where == "a correction of it":
        by = {"by": world.people["coordinator"], "request_key": made.key()}
        log.correct(**by, row=row, changes={"mechanical": "fail"}, reason="printout read again")
    if where == "an indicator of the cycle":
        common = {"unit": world.unit, "on": DAY, "cycle_number": "815"}
        log.log_chemical(**who(world), **common, type=5, result="fail")
    if where == "its spore test":
        made.spore_test(world, DAY, test="", cycle_number="815", mechanical="fail")
    said = refused(lambda: decide(world, row))
    assert list(said) == ["decision", "reason"] and "failed in this cycle" in said["reason"]
    why = {"reason": "emergency, decided by Dr. Invented"}
    assert "confirm it" in refused(lambda: decide(world, row, **why))["decision"], "a reason alone is no confirmation"
    assert decide(world, row, **why, confirmed=("failed-release",)).reason.startswith("emergency")


def test_what_failed_in_another_cycle_asks_no_reason(world):
    log.log_chemical(**who(world), unit=world.unit, on=DAY, type=5, result="fail", cycle_number="814")
    row = load(world)
    assert decide(world, row).decision == "released"


# ------------------------------------------------------------------------------------------------ cases


@pytest.mark.parametrize(
    ("failing", "kinds"),
    [({"mechanical": "fail"}, ["mechanical"]), ({"chemical": "fail"}, ["chemical"]),
     ({"mechanical": "fail", "chemical": "fail"}, ["mechanical", "chemical"]), ({"mechanical": "pass"}, [])],
    ids=["gauges", "indicators", "both", "none"],
)  # fmt: skip
def test_a_failing_result_of_a_load_opens_its_case_in_the_same_entry(world, failing, kinds):
    row = load(world, **failing)
    cases = FailureCase.objects.order_by("line")
    assert [c.kind for c in cases] == kinds
    assert {(c.opened_by, c.entry, c.happened_on) for c in cases} <= {(row.origin, row.entry, DAY)}


def test_a_failing_chemical_indicator_and_a_spore_test_with_failing_results_open_theirs(world):
    strip = log.log_chemical(**who(world), unit=world.unit, on=DAY, type=5, result="fail")
    test = made.spore_test(world, DAY, test="growth", mechanical="fail")
    found = {(c.kind, c.opened_by) for c in FailureCase.objects.all()}
    assert found == {("chemical", strip.origin), ("mechanical", test.origin), ("biological", test.origin)}


def test_a_correction_to_failing_opens_the_case_once(world):
    row = load(world, mechanical="pass")
    by = {"by": world.people["coordinator"]}
    row = log.correct(**by, request_key=made.key(), row=row, changes={"mechanical": "fail"}, reason="read again")
    log.correct(**by, request_key=made.key(), row=row, changes={"contents": "packs"}, reason="left out")
    assert [(c.kind, c.opened_by) for c in FailureCase.objects.all()] == [("mechanical", row.origin)]
    log.log_chemical(**who(world), unit=world.unit, on=DAY, type=5, result="not read")
    strip = ChemicalResult.objects.get()
    log.correct(**by, request_key=made.key(), row=strip, changes={"result": "fail"}, reason="read now")
    assert [c.kind for c in FailureCase.objects.order_by("id")] == ["mechanical", "chemical"]


def test_a_load_entered_in_error_takes_its_case_with_it(world):
    row = load(world, mechanical="fail")
    log.void(by=world.people["coordinator"], request_key=made.key(), row=row, reason="no such cycle")
    assert not FailureCase.objects.in_force().exists()


# ------------------------------------------------------------------------------------------------ exposure


def program(world, **more):
    limits = {"exposure_minutes": Decimal("3.5"), "temperature_low": Decimal(134), "temperature_high": Decimal(138)}
    said = {"name": "wrapped", "effective_on": DAY, "source": "Invented manual 4"} | limits | more
    return log.log_program(**who(world), unit=world.unit, **said)


def test_an_exposure_that_fell_short_is_asked_about_and_opens_the_case_of_a_failed_result(world):
    program(world)
    short = {"exposure_minutes": Decimal("3.4"), "exposure_temperature": Decimal("134.2")}
    said = refused(lambda: load(world, **short))
    assert list(said) == ["mechanical"] and "3.4 minutes of exposure are fewer than the 3.5" in said["mechanical"]
    assert "Invented manual 4" in said["mechanical"] and not Load.objects.exists()
    row = load(world, **short, confirmed=("below-program",))
    case = FailureCase.objects.get()
    assert (case.kind, case.opened_by, case.entry) == ("mechanical", row.origin, row.entry)
    said = refused(lambda: decide(world, row))
    assert "the exposure of this cycle fell short" in said["decision"].lower() and list(said) == [
        "decision",
        "reason",
    ]


def test_a_correction_is_held_against_the_program_too_and_opens_the_case_once(world):
    program(world)
    row = load(world, exposure_minutes=Decimal(4))
    by = {"by": world.people["coordinator"]}
    ask = {"row": row, "changes": {"exposure_minutes": Decimal("3.4")}, "reason": "printout read again"}
    assert list(refused(lambda: log.correct(**by, request_key=made.key(), **ask))) == ["mechanical"]
    row = log.correct(**by, request_key=made.key(), **ask, confirmed=("below-program",))
    log.correct(**by, request_key=made.key(), row=row, changes={"contents": "kits"}, reason="left out")
    assert [(c.kind, c.opened_by) for c in FailureCase.objects.all()] == [("mechanical", row.origin)]


def test_steam_that_sterilizes_nothing_is_asked_about_without_a_program_too(world):
    said = refused(lambda: load(world, exposure_temperature=Decimal("114.9")))
    assert "steam sterilizes nothing" in said["exposure_temperature"]
    load(world, exposure_temperature=Decimal(115))
    assert not FailureCase.objects.exists()
    load(world, exposure_temperature=Decimal("114.9"), cycle_number="816", confirmed=("below-program",))
    assert FailureCase.objects.get().kind == "mechanical"


def test_a_newer_row_of_a_program_holds_from_its_day_and_a_retired_one_asks_nothing(world):
    program(world)
    program(world, name="Wrapped ", exposure_minutes=Decimal(5), effective_on=DAY + timedelta(days=1))
    assert load(world, exposure_minutes=Decimal("3.5")).exposure_minutes == Decimal("3.5")
    assert list(refused(lambda: load(world, on=made.TODAY, cycle_number="816", exposure_minutes=Decimal("4.9"))))
    program(world, retired=True, effective_on=made.TODAY)
    assert load(world, on=made.TODAY, cycle_number="816", exposure_minutes=Decimal("4.9"))


# what is typed, the field it is told at, and words that name the slip
TYPED = [
    ({"exposure_temperature": "13.4"}, "exposure_temperature", "a tenth of 134: was 134 °C meant?"),
    ({"exposure_temperature": "1346"}, "exposure_temperature", "ten times 134.6: was 134.6 °C meant?"),
    ({"exposure_minutes": "0.4"}, "exposure_minutes", "a tenth of 4: was 4 minutes meant?"),
    ({"exposure_minutes": "600"}, "exposure_minutes", "ten times 60: was 60 minutes meant?"),
    ({"exposure_pressure": "2100"}, "exposure_pressure", "ten times 210: was 210 kPa meant?"),
    ({"exposure_temperature": "134", "exposure_pressure": "304"}, "exposure_pressure", "It may be absolute"),
    ({"exposure_temperature": "134", "exposure_pressure": "110"}, "exposure_pressure", "Steam of 134 °C shows"),
    ({"exposure_minutes": "-1"}, "exposure_minutes", "below nothing"),
]


@pytest.mark.parametrize(("typed", "field", "words"), TYPED)
def test_a_slip_of_the_pen_is_named(world, typed, field, words):
    said = refused(lambda: load(world, **{name: Decimal(value) for name, value in typed.items()}))
    assert words in said[field], said


def test_of_a_cycle_that_failed_any_number_may_be_true(world):
    stopped = {"exposure_minutes": Decimal("0.4"), "exposure_temperature": Decimal(98)}
    assert load(world, mechanical="fail", **stopped).exposure_minutes == Decimal("0.4")


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"name": " "}, "name"), ({"source": ""}, "source"), ({"temperature_low": Decimal(139)}, "temperature_high"),
     ({"exposure_minutes": Decimal(0)}, "exposure_minutes"), ({"effective_on": None}, "effective_on")],
)  # fmt: skip
def test_limits_that_cannot_be_are_refused(world, changes, field):
    assert list(refused(lambda: program(world, **changes))) == [field]
