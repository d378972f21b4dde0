"""An entry has two pages, its own and the one of the day. The same input has the same outcome on both: recorded with
the same values, asked about, or refused."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.db import transaction
from django.urls import reverse

from records import log
from records import models as m
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import signed_in
from tests.in_turn import in_turn

pytestmark = pytest.mark.django_db
RECORDED, ASKED, REFUSED = "recorded", "asked", "refused"
FRIDAY = date(2026, 3, 13)
DOORS = {
    "start": (m.BioTest, "log-bio", "day-start"),
    "reading": (m.BioReading, "read-bio", "day-read"),
    "air removal": (m.AirRemovalTest, "log-air-removal", "day-air-removal"),
    "leak": (m.LeakTest, "log-leak", "day-leak"),
    "chemical": (m.ChemicalResult, "log-chemical", "day-chemical"),
    "load": (m.Load, "log-load", "day-load"),
    "check": (m.UserCheck, "log-user-check", "day-checks"),
}
GOOD = {
    "start": {"lot": "{lot}", "control_lot": "{lot}", "cycle_type": "wrapped", "cycle_number": "811",
              "chamber": "full", "purpose": "routine", "site": "clinic", "mechanical": "pass", "chemical": "pass"},
    "reading": {"test": "no growth", "control": "growth", "on": "2026-03-16"},
    "air removal": {"result": "pass", "chamber": "empty", "cycle_number": "811"},
    "leak": {"rise": "6", "unit_of_measure": "mbar", "minutes": "10", "limit": "0.13", "limit_source": "Invented",
             "seen_rate": "0.0600"},
    "chemical": {"type": "5", "result": "pass", "cycle_number": "811", "lot": "{strips}"},
    "load": {"cycle_number": "811", "program": "wrapped", "mechanical": "pass", "chemical": "pass"},
    "check": {"kind": "water", "result": "pass", "value": "3.1", "unit_of_measure": "µS/cm",
              "signed_by": "Sam Other"},
}  # fmt: skip


def who(world) -> dict:
    return {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}


def run_yesterday(world):
    return made.spore_test(world, date(2026, 3, 15), test="", at=made.NOW - timedelta(hours=25))


def run_just_now(world):
    return made.spore_test(world, made.TODAY, test="", at=made.NOW - timedelta(hours=3))


def sent_away(world):
    return made.spore_test(world, date(2026, 3, 4), test="", site="laboratory")


def strip_failed(world):
    cycle = {"unit": world.unit, "on": FRIDAY, "cycle_number": "811"}
    log.log_chemical(**who(world), **cycle, type=5, result="fail")


def spore_test_grew(world):
    made.spore_test(world, FRIDAY, test="growth", cycle_number="811")


def spore_test_unread(world):
    made.spore_test(world, FRIDAY, test="", cycle_number="811")


def load_of_before(world):
    typed_in.load(world, "811", FRIDAY - timedelta(days=1))


def taken_out(world):
    event = {"unit": world.unit, "kind": "withdrawn", "on": FRIDAY, "reason": "door stiff"}
    log.log_unit_event(**who(world), **event)


def grew_the_day_before(world):
    made.spore_test(world, FRIDAY - timedelta(days=2), test="growth")


@dataclass(frozen=True)
class Case:
    kind: str
    name: str
    outcome: str
    typed: dict = field(default_factory=dict)
    before: Callable | None = None


def program_known(world):
    limits = {"exposure_minutes": D("3.5"), "temperature_low": D(134), "temperature_high": D(138)}
    log.log_program(
        **who(world), unit=world.unit, name="Wrapped ", effective_on=made.BEGIN, source="Invented manual", **limits
    )


NUMBERS = {"held_packs": "3", "held_pouches": "12", "held_cassettes": "0", "exposure_minutes": "4",
           "exposure_temperature": "134.6", "exposure_pressure": "210", "packs": "dry", "pack_condition": "intact",
           "loaded_by": "Lou Loader"}  # fmt: skip
LEAST = {"exposure_minutes": "3.5", "exposure_temperature": "134", "exposure_pressure": "205"}
UNSTATED = {"test": "no growth", "control": "not stated"}
REPORTED = {"on": "2026-03-12", "known_on": "2026-03-16", "report": "Invented Lab, report 7", "control": "not stated"}
IN_2016 = {"on": "2016-03-13"}
CASES = [
    Case("start", "everything said", RECORDED),
    Case("start", "nobody looked yet at a routine cycle", RECORDED, {"mechanical": "", "chemical": ""}),
    Case("start", "nothing said of the cycle of a repeat", REFUSED, {"purpose": "repeat", "mechanical": ""}),
    Case("start", "said that nobody looked", RECORDED, {"purpose": "repeat", "mechanical": "not recorded"}),
    Case("start", "without a control", RECORDED, {"control_lot": ""}),
    Case("start", "without a lot", REFUSED, {"lot": ""}),
    Case("start", "an expired lot", ASKED, {"lot": "{expired}"}),
    Case("start", "an expired lot confirmed", RECORDED, {"lot": "{expired}", "confirmed": "expired-lot"}),
    Case("start", "before the unit was on the register", ASKED, IN_2016),
    Case("start", "confirmed before the register", RECORDED, IN_2016 | {"confirmed": "before-register"}),
    Case("start", "tomorrow", REFUSED, {"on": "2026-03-17"}),
    Case("start", "without its chamber", REFUSED, {"chamber": ""}),
    Case("reading", "after the hours of the label", RECORDED, before=run_yesterday, typed={"at": "09:00"}),
    Case("reading", "no growth too early", ASKED, {"at": "09:00"}, run_just_now),
    Case("reading", "too early, confirmed", RECORDED, {"at": "09:00", "confirmed": "read-early"}, run_just_now),
    Case("reading", "growth early", RECORDED, {"at": "09:00", "test": "growth"}, run_just_now),
    Case("reading", "nothing stated of the control", ASKED, UNSTATED, run_yesterday),
    Case("reading", "control unseen, confirmed", RECORDED, UNSTATED | {"confirmed": "control-unseen"}, run_yesterday),
    Case("reading", "before it was run", REFUSED, {"on": "2026-03-14"}, run_yesterday),
    Case("reading", "without the control", REFUSED, {"control": ""}, run_yesterday),
    Case("reading", "a laboratory's report", RECORDED, REPORTED, sent_away),
    Case("reading", "a laboratory without a report", REFUSED, REPORTED | {"report": ""}, sent_away),
    Case("reading", "a report of no day", REFUSED, REPORTED | {"known_on": ""}, sent_away),
    Case("reading", "known before it was read", REFUSED, REPORTED | {"known_on": "2026-03-11"}, sent_away),
    Case("air removal", "passed", RECORDED),
    Case("air removal", "failed", RECORDED, {"result": "fail"}),
    Case("air removal", "without a result", REFUSED, {"result": ""}),
    Case("air removal", "after a repair", RECORDED, {"purpose": "after repair"}),
    Case("air removal", "on a strip of another type", ASKED, {"lot": "{strips}"}),
    Case("air removal", "on a box of spore tests", REFUSED, {"lot": "{lot}"}),
    Case("air removal", "on an expired lot", ASKED, {"lot": "{old strips}"}),
    Case("air removal", "on an expired lot, confirmed", RECORDED,
         {"lot": "{old strips}", "confirmed": "expired-lot"}),
    Case("air removal", "tomorrow", REFUSED, {"on": "2026-03-17"}),
    Case("leak", "its rate looked at", RECORDED),
    Case("leak", "its rate not looked at", REFUSED, {"seen_rate": ""}),
    Case("leak", "another rate looked at", REFUSED, {"rise": "7"}),
    Case("leak", "told that it is computed when it is sent", RECORDED, {"seen_rate": "when it is sent"}),
    Case("leak", "in psi", RECORDED, {"rise": "0.2", "unit_of_measure": "psi", "seen_rate": "0.1379"}),
    Case("leak", "with how it began", RECORDED,
         {"settling": "5", "start_pressure": "5.5", "start_temperature": "60", "purpose": "repeat"}),
    Case("leak", "beginning in air", ASKED, {"start_pressure": "101"}),
    Case("leak", "settling for less than nothing", REFUSED, {"settling": "-5"}),
    Case("leak", "a limit ten times too large", ASKED, {"limit": "1.3"}),
    Case("leak", "a limit ten times too large, confirmed", RECORDED, {"limit": "1.3", "confirmed": "leak-limit"}),
    Case("leak", "the limit of a millimetre of mercury", RECORDED, {"limit": "0.1333"}),
    Case("leak", "a limit above the published ones", ASKED, {"limit": "0.2"}),
    Case("leak", "a limit of nothing", REFUSED, {"limit": "0"}),
    Case("leak", "a limit of a hundred times", REFUSED, {"limit": "13"}),
    Case("leak", "a negative rise", REFUSED, {"rise": "-1"}),
    Case("leak", "in no time", REFUSED, {"minutes": "0"}),
    Case("leak", "in no measure", REFUSED, {"unit_of_measure": ""}),
    Case("chemical", "passed", RECORDED),
    Case("chemical", "an expired lot", ASKED, {"lot": "{old strips}"}),
    Case("chemical", "an expired lot confirmed", RECORDED, {"lot": "{old strips}", "confirmed": "expired-lot"}),
    Case("chemical", "a lot of spore tests", REFUSED, {"lot": "{lot}"}),
    Case("chemical", "without a result", REFUSED, {"result": ""}),
    Case("load", "without a decision", RECORDED),
    Case("load", "released", RECORDED, {"decision": "released"}),
    Case("load", "rejected without a reason", REFUSED, {"decision": "rejected"}),
    Case("load", "rejected with its reason", RECORDED, {"decision": "rejected", "reason": "wet packs"}),
    Case("load", "failed and released", ASKED, {"chemical": "fail", "decision": "released"}),
    Case("load", "failed and released, blanks for a reason, confirmed", ASKED,
         {"chemical": "fail", "decision": "released", "reason": "  ", "confirmed": "failed-release"}),
    Case("load", "failed, released with its reason", ASKED,
         {"mechanical": "fail", "decision": "released", "reason": "emergency"}),
    Case("load", "failed, released with its reason, confirmed", RECORDED,
         {"mechanical": "fail", "decision": "released", "reason": "emergency", "confirmed": "failed-release"}),
    Case("load", "wet packs released", ASKED, {"packs": "wet", "decision": "released", "reason": "emergency"}),
    Case("load", "wet packs kept back", RECORDED, {"packs": "wet"}),
    Case("load", "released on nothing", ASKED, {"mechanical": "", "chemical": "", "decision": "released"}),
    Case("load", "released on half of it", ASKED, {"chemical": "not recorded", "decision": "released"}),
    Case("load", "released on nothing, confirmed", RECORDED,
         {"mechanical": "", "chemical": "", "decision": "released", "confirmed": "no-results"}),
    Case("load", "an implant released without a spore test", ASKED,
         {"implant": "on", "decision": "released", "reason": "emergency"}),
    Case("load", "an implant kept back", RECORDED, {"implant": "on"}),
    Case("load", "a cycle that is on record", ASKED, before=load_of_before),
    Case("load", "a cycle that is on record, confirmed", RECORDED, {"confirmed": "cycle-repeated"}, load_of_before),
    Case("load", "the cycle after it", RECORDED, {"cycle_number": "0812"}, load_of_before),
    Case("load", "two cycles after it", ASKED, {"cycle_number": "813"}, load_of_before),
    Case("load", "a cycle before it", ASKED, {"cycle_number": "810"}, load_of_before),
    Case("load", "in a unit that was taken out", ASKED, before=taken_out),
    Case("load", "in a unit that was taken out, confirmed", RECORDED, {"confirmed": "unit-out"}, taken_out),
    Case("load", "in a unit of a positive test", ASKED, before=grew_the_day_before),
    Case("load", "failed, no decision", RECORDED, {"mechanical": "fail"}),
    Case("load", "released though a strip of the cycle failed", ASKED, {"decision": "released"}, strip_failed),
    Case("load", "released though its spore test grew", ASKED, {"decision": "released"}, spore_test_grew),
    Case("load", "released, its spore test unread", RECORDED, {"decision": "released"}, spore_test_unread),
    Case("load", "an implant released, its spore test unread", ASKED,
         {"decision": "released", "implant": "on"}, spore_test_unread),
    Case("load", "a cycle of no time", REFUSED, {"minutes": "0"}),
    Case("load", "without its program", REFUSED, {"program": ""}),
    Case("load", "in numbers", RECORDED, NUMBERS),
    Case("load", "at the least that its program needs", RECORDED, NUMBERS | LEAST, program_known),
    Case("load", "a tenth of a minute short", ASKED, NUMBERS | LEAST | {"exposure_minutes": "3.4"}, program_known),
    Case("load", "short, confirmed", RECORDED,
         NUMBERS | LEAST | {"exposure_minutes": "3.4", "confirmed": "below-program"}, program_known),
    Case("load", "short and failed", RECORDED,
         NUMBERS | LEAST | {"exposure_minutes": "3.4", "mechanical": "fail"}, program_known),
    Case("load", "a tenth of a degree too cold", ASKED,
         NUMBERS | LEAST | {"exposure_temperature": "133.9"}, program_known),
    Case("load", "short in another program", RECORDED,
         NUMBERS | LEAST | {"exposure_minutes": "3.4", "program": "gravity"}, program_known),
    Case("load", "hotter than its band", ASKED,
         NUMBERS | LEAST | {"exposure_temperature": "138.1", "exposure_pressure": "235"}, program_known),
    Case("load", "at a tenth of its temperature", ASKED, NUMBERS | {"exposure_temperature": "13.4"}),
    Case("load", "at the tenfold of its temperature", REFUSED, NUMBERS | {"exposure_temperature": "1346"}),
    Case("load", "at a pressure of other steam", ASKED, NUMBERS | {"exposure_pressure": "102"}),
    Case("load", "that pressure confirmed", RECORDED,
         NUMBERS | {"exposure_pressure": "102", "confirmed": "odd-exposure"}),
    Case("load", "in Fahrenheit and psi", RECORDED,
         NUMBERS | {"exposure_temperature": "274", "exposure_temperature_in": "°F", "exposure_pressure": "30",
                    "exposure_pressure_in": "psi"}),
    Case("load", "less than no packs", REFUSED, NUMBERS | {"held_packs": "-1"}),
    Case("load", "more packs than a chamber holds", ASKED, NUMBERS | {"held_packs": "201"}),
    Case("load", "damaged wrapping kept back", RECORDED, NUMBERS | {"pack_condition": "damaged"}),
    Case("load", "damaged wrapping released", ASKED,
         NUMBERS | {"pack_condition": "damaged", "decision": "released", "reason": "one pouch sorted out"}),
    Case("load", "damaged wrapping released, confirmed", RECORDED,
         NUMBERS | {"pack_condition": "damaged", "decision": "released", "reason": "one pouch sorted out",
                    "confirmed": "damaged-packs"}),
    Case("check", "signed", RECORDED),
    Case("check", "a value in no measure", REFUSED, {"unit_of_measure": ""}),
    Case("check", "not done without its reason", REFUSED, {"result": "not done", "value": ""}),
    Case("check", "not done with its reason", RECORDED, {"result": "not done", "value": "", "note": "no meter"}),
    Case("check", "signed by nobody", ASKED, {"kind": "safety check", "value": "", "signed_by": ""}),
    Case("check", "signed by nobody, confirmed", RECORDED,
         {"kind": "safety check", "value": "", "unit_of_measure": "", "signed_by": "", "confirmed": "unsigned"}),
    Case("check", "without a result", REFUSED, {"result": ""}),
    Case("check", "an air detector that failed, after a repair", RECORDED,
         {"kind": "air detector", "result": "fail", "value": "", "unit_of_measure": "", "purpose": "after repair"}),
]  # fmt: skip


def boxes(world) -> dict:
    expired = log.log_indicator_lot(
        **who(world), kind="biological", name="Invented ampoule", lot="B-9", on=made.BEGIN, incubation_hours=24,
        expiry=date(2026, 1, 31),
    )  # fmt: skip
    old = log.log_indicator_lot(
        **who(world), kind="chemical", name="Invented strip", lot="C-9", on=made.BEGIN, expiry=date(2026, 1, 31)
    )
    strips = typed_in.chemical_box(world)
    named = {"lot": world.lot, "expired": expired, "strips": strips, "old strips": old}
    return {f"{{{name}}}": str(box.ref) for name, box in named.items()}


def as_of_day(typed: dict) -> dict:
    """What is typed about one check, as the round of the day names it."""
    slug = typed["kind"].replace(" ", "_")
    own = ("note", "value", "unit_of_measure")
    sent = {f"{slug}_{n}" if n in own else n: v for n, v in typed.items() if n not in ("kind", "result")}
    return sent | {slug: typed["result"]}


# What tells one row from another one of the same content.
OWN = {"id", "ref", "origin", "line", "entry", "amends"}


def outcome(client, model, address: str, typed: dict):
    """(outcome, the values of the row or None). What was written is taken back."""
    mark = transaction.savepoint()
    answer = client.post(address, {"request_key": str(uuid.uuid4()), "on": "2026-03-13"} | typed)
    row = model.objects.order_by("-id").first() if answer.status_code == 302 else None
    values = row and {f.name: str(getattr(row, f.name)) for f in row._meta.concrete_fields if f.name not in OWN}
    transaction.savepoint_rollback(mark)
    if answer.status_code == 302:
        return RECORDED, values
    assert answer.status_code == 422, answer.status_code
    return (ASKED if 'name="confirmed"' in answer.content.decode() else REFUSED), None


@pytest.mark.parametrize("case", in_turn(CASES, 2), ids=lambda c: f"{c.kind}: {c.name}")
def test_the_same_input_has_the_same_outcome_on_both_pages(client, world, case):
    named = boxes(world)
    about = case.before(world) if case.before else None
    typed = {name: named.get(value, value) for name, value in (GOOD[case.kind] | case.typed).items()}
    model, own, of_day = DOORS[case.kind]
    unit = str(world.unit.ref)
    signed_in(client, world, "coordinator")
    slug = world.clinic.slug
    if case.kind == "reading":
        addresses = [reverse(name, args=[slug, about.origin]) for name in (own, of_day)]
        sent = [typed, typed]
    else:
        addresses = [reverse(own, args=[slug]), reverse(of_day, args=[slug, unit])]
        sent = [typed | {"unit": unit}, as_of_day(typed) if case.kind == "check" else typed]
    said = [outcome(client, model, address, each) for address, each in zip(addresses, sent, strict=True)]
    assert [word for word, _ in said] == [case.outcome] * 2
    assert said[0][1] == said[1][1]


def test_each_kind_of_entry_has_cases_that_are_recorded_and_refused():
    assert {(kind, word) for kind in DOORS for word in (RECORDED, REFUSED)} <= {(c.kind, c.outcome) for c in CASES}
