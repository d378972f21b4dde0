"""The other entries of the page Today: air, checks, indicators, loads."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from records import log
from records.models import (
    AirRemovalTest,
    ChemicalResult,
    Entry,
    FailureCase,
    LeakTest,
    Load,
    LoadRelease,
    UserCheck,
)
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.desk.opened_day import at, of_unit, opened
from tests.audit.pages.tools import text_of

pytestmark = pytest.mark.django_db


def test_an_air_removal_test_is_recorded_and_its_failure_opens_the_response(client, world):
    typed_in.load(world, "S-0099")
    form = opened(client, world, "day-air-removal", role="operator")
    assert "cycle_number" not in form["values"] and form["choices"]["result"] == ["pass", "fail"]
    refused = typed_in.send(client, form)
    assert refused.status_code == 422 and "Last logged: S-0099." in text_of(refused)
    answer = typed_in.send(client, form, result="fail", cycle_number="S-0100")
    row = AirRemovalTest.objects.get()
    assert (row.result, row.cycle_number, row.chamber, row.lot) == ("fail", "S-0100", "empty", None)
    assert (row.happened_at, row.run_by.value) == (made.NOW, "Pat Operator")
    assert answer.url == at(world, "response", FailureCase.objects.get(kind="air removal").origin)


def test_a_leak_rate_is_shown_before_it_is_recorded(client, world):
    form = opened(client, world, "day-leak")
    typed = {"rise": "13", "unit_of_measure": "mbar", "minutes": "10"}
    looked = typed_in.send(client, form, **typed)
    # 13 mbar are 1.3 kPa; over 10 minutes 0.13 kPa a minute, at the limit, which is included ("not more than").
    assert looked.status_code == 422 and LeakTest.objects.count() == 0
    assert "The rate is 0.1300 kPa a minute, the limit 0.13: pass" in text_of(looked)
    kept = typed_in.form_to(looked, of_unit(world, "day-leak"))
    assert {n: kept["values"][n] for n in typed} == typed and kept["values"]["seen_rate"] == "0.1300"
    other = typed_in.send(client, kept, rise="14")
    assert other.status_code == 422 and "0.1400" in text_of(other), "another rise has another rate to be looked at"
    assert typed_in.send(client, kept).status_code == 302
    row = LeakTest.objects.get()
    assert (row.rise, row.unit_of_measure, row.minutes) == (Decimal("13.000"), "mbar", Decimal("10.0"))
    assert (row.rate, row.limit, row.result) == (Decimal("0.1300"), Decimal("0.1300"), "pass")


def test_a_rise_in_psi_is_recorded_in_kilopascals_and_judged_by_the_rate_shown(client, world):
    form = opened(client, world, "day-leak")
    # NIST SP 811, B.8: 1 psi = 6.894757 kPa; 0.2 psi are 1.379 kPa, over 10 minutes 0.1379 kPa a minute.
    looked = typed_in.send(client, form, rise="0.2", unit_of_measure="psi", minutes="10")
    assert "The rate is 0.1379 kPa a minute, the limit 0.13: fail" in text_of(looked)
    kept = typed_in.form_to(looked, of_unit(world, "day-leak"))
    assert (kept["values"]["rise"], kept["values"]["unit_of_measure"]) == ("0.2", "psi")
    assert typed_in.send(client, kept).url == at(world, "response", FailureCase.objects.get(kind="air leak").origin)
    row = LeakTest.objects.get()
    assert (row.rise, row.unit_of_measure, row.rate) == (Decimal("1.379"), "kPa", Decimal("0.1379"))


def test_a_leak_test_without_unit_or_duration_says_what_is_missing(client, world):
    form = opened(client, world, "day-leak")
    seen = text_of(typed_in.send(client, form, rise="1.3"))
    assert "Measured in : Nothing is chosen" in seen and "Over how many minutes : This is missing" in seen
    negative = typed_in.send(client, form, rise="-1", unit_of_measure="kPa", minutes="0")
    assert negative.status_code == 422 and "A leak lets the pressure rise" in text_of(negative)


def test_the_limit_of_the_last_leak_test_is_filled_in_with_its_source(client, world):
    typed_in.leak(world, date(2026, 3, 3), limit=Decimal("0.1"), limit_source="Invented manual, section 12")
    filled = opened(client, world, "day-leak")["values"]
    assert (filled["limit"], filled["limit_source"]) == ("0.1000", "Invented manual, section 12")


def test_a_round_of_checks_is_recorded_as_entries_in_order_and_what_was_not_chosen_is_not(client, world):
    form = opened(client, world, "day-checks")
    before = Entry.objects.count()
    assert "Nothing is chosen" in text_of(typed_in.send(client, form))
    typed = {"automatic_control": "pass", "water": "not done", "cycle_number": "812", "signs": "on"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and "needs its reason" in text_of(refused)
    assert Entry.objects.count() == before, "a round is recorded whole or not at all"
    assert typed_in.form_to(refused, of_unit(world, "day-checks"))["values"]["automatic_control"] == "pass"
    answer = typed_in.send(client, form, **typed, water_note="the meter is at the workshop")
    assert answer.status_code == 302
    first, second = UserCheck.objects.order_by("entry__number")
    assert (first.kind, first.result, first.cycle_number) == ("automatic control", "pass", "812")
    assert (second.kind, second.result, second.note) == ("water", "not done", "the meter is at the workshop")
    assert first.signed_by.value == second.signed_by.value == "Ana Coordinator"
    assert second.entry.number == first.entry.number + 1 and Entry.objects.count() == before + 2
    again = typed_in.send(client, form, **typed, water_note="the meter is at the workshop")
    assert again.status_code == 302 and Entry.objects.count() == before + 2
    more = typed_in.send(client, form, **typed, water_note="the meter is at the workshop", safety_check="pass")
    assert more.status_code == 409 and Entry.objects.count() == before + 2
    fewer = typed_in.send(client, form, automatic_control="pass", cycle_number="812", signs="on")
    assert fewer.status_code == 409 and Entry.objects.count() == before + 2


def test_a_check_that_nobody_signed_is_asked_about_and_a_failed_one_opens_the_response(client, world):
    form = opened(client, world, "day-checks")
    asked = typed_in.send(client, form, safety_check="fail")
    assert asked.status_code == 422 and "Nobody signed this check" in text_of(asked)
    assert "confirmed" in typed_in.form_to(asked, of_unit(world, "day-checks"))["names"]
    answer = typed_in.send(client, form, safety_check="fail", signed_by="Sam Other")
    assert UserCheck.objects.get().signed_by.value == "Sam Other"
    assert answer.url == at(world, "response", FailureCase.objects.get(kind="safety check").origin)


def test_a_value_read_goes_with_the_measure_it_was_read_in_last_time(client, world):
    log.log_user_check(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        on=date(2026, 3, 9), kind="water", result="pass", value=Decimal("3.1"), unit_of_measure="µS/cm",
        signed_by="Ana Coordinator",
    )  # fmt: skip
    form = opened(client, world, "day-checks")
    assert form["values"]["water_unit_of_measure"] == "µS/cm" and "water_value" not in form["values"]
    assert typed_in.send(client, form, water="pass", water_value="4.25", signs="on").status_code == 302
    row = UserCheck.objects.order_by("-id").first()
    assert (row.value, row.unit_of_measure) == (Decimal("4.250"), "µS/cm")


def test_the_cycle_logged_last_stands_beside_a_chemical_indicator_and_is_not_filled_in(client, world):
    box = typed_in.chemical_box(world)
    typed_in.load(world, "815")
    form = opened(client, world, "day-chemical")
    assert "cycle_number" not in form["values"], "in which cycle it lay is for whoever read it to say"
    seen = text_of(client.get(of_unit(world, "day-chemical")))
    assert "Last logged: 815." in seen
    typed = {"type": "5", "result": "pass", "where": "inside the pack", "lot": str(box.ref)}
    answer = typed_in.send(client, form, cycle_number="815", **typed)
    assert answer.status_code == 302
    row = ChemicalResult.objects.get()
    assert (row.type, row.result, row.cycle_number, row.where, row.lot) == (5, "pass", "815", "inside the pack", box)


def test_a_load_is_logged_with_its_decision_and_the_next_one_at_once(client, world):
    typed_in.load(world, "0099", mechanical="pass", chemical="pass", decision="released", contents="packs 1 to 4")
    form = opened(client, world, "day-load", role="operator")
    assert form["values"]["program"] == "wrapped 134" and "cycle_number" not in form["values"]
    assert "contents" not in form["values"], "what was in the last load is not what is in this one"
    typed = {"cycle_number": "0100", "contents": "packs 5 to 9", "mechanical": "pass", "chemical": "fail"}
    unsaid = typed_in.send(client, form, **typed, decision="rejected")
    assert unsaid.status_code == 422 and Load.objects.count() == 1
    reason = {"decision": "rejected", "reason": "strip in pack 7 failed"}
    answer = typed_in.send(client, form, **typed, **reason, again="1")
    # What failed in it comes first; the next load has its form there as well.
    case = FailureCase.objects.get(kind="chemical")
    assert (answer.status_code, answer.url) == (302, at(world, "response", case.origin))
    row, decision = Load.objects.get(cycle_number="0100"), LoadRelease.objects.order_by("-id").first()
    assert (row.mechanical, row.chemical, row.contents) == ("pass", "fail", "packs 5 to 9")
    assert (decision.load, decision.decision, decision.reason) == (row, "rejected", "strip in pack 7 failed")
    assert decision.decided_by.value == "Pat Operator" and decision.entry == row.entry
    following = client.get(of_unit(world, "day-load"))
    assert "cycle_number" not in typed_in.form_to(following, of_unit(world, "day-load"))["values"]
    assert "Last logged: 0100." in text_of(following)
    assert "Cycle 0100, wrapped 134: rejected; packs 5 to 9" in text_of(following)


def test_a_load_released_after_a_failed_check_says_why_and_one_may_wait_for_its_decision(client, world):
    form = opened(client, world, "day-load")
    typed = {"cycle_number": "1", "program": "wrapped", "mechanical": "fail", "decision": "released"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and "Something failed in this cycle" in text_of(refused)
    assert typed_in.send(client, form, cycle_number="1", program="wrapped").status_code == 302
    assert Load.objects.count() == 1 and not LoadRelease.objects.exists()
    passing = opened(client, world, "day-load")
    typed = {"cycle_number": "2", "program": "wrapped", "mechanical": "pass", "decision": "released"}
    asked = typed_in.send(client, passing, **typed)
    assert asked.status_code == 422 and "Nothing is recorded of this cycle’s chemical indicators" in text_of(asked)
    typed |= {"chemical": "pass"}
    assert typed_in.send(client, passing, **typed, again="1").url == of_unit(world, "day-load")


@pytest.mark.parametrize("name", ["day-air-removal", "day-leak", "day-start"])
def test_of_a_unit_that_may_not_be_used_it_is_asked_at_once_why_a_test_was_run(client, world, name):
    routine = opened(client, world, name)
    assert routine["values"]["purpose"] == "routine"
    who = {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}
    log.log_unit_event(**who, unit=world.unit, kind="withdrawn", on=made.TODAY, reason="door stiff")
    asked = opened(client, world, name)
    assert asked["values"].get("purpose", "") == "", "nothing is chosen: the person says why"
    assert "after repair" in asked["choices"]["purpose"]
    page = client.get(of_unit(world, name)).content.decode()
    assert page.index('name="purpose"') < page.index("<summary>More"), "it stands in the open"
