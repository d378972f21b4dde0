"""The decision on a load: with it or later, once, and what a failing result of a load opens."""

from __future__ import annotations

from datetime import timedelta

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
