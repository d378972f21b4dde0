"""Loads that wait for their decision: on the day, on their own page, and what speaks against a release."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from records import clock, log
from records.models import LoadRelease
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, signed_in, text_of

pytestmark = pytest.mark.django_db
FRIDAY = date(2026, 3, 13)


def address(row) -> str:
    return reverse("day-release", args=["first", row.origin])


def day(client, world, role="coordinator", **query):
    return get(signed_in(client, world, role), "day", "first", **query)


def waiting(answer) -> str:
    """The words of the part of the day about loads without a decision, "" where it is not there."""
    return text_of(answer).partition("Loads awaiting a decision")[2].partition("Due now")[0]


@pytest.mark.parametrize("role", INSIDERS)
def test_a_load_without_a_decision_waits_on_the_day_for_who_may_decide(client, world, role):
    row = typed_in.load(world, "0811", FRIDAY, contents="packs 1 to 3", mechanical="pass")
    typed_in.load(world, "0812", FRIDAY, mechanical="pass", chemical="pass", decision="released")
    answer = day(client, world, role)
    assert "Cycle 0811 of 13 Mar 2026" in waiting(answer) and "packs 1 to 3" in waiting(answer)
    assert "Gauges and printout: pass; chemical indicators: not recorded" in waiting(answer)
    assert "0812" not in waiting(answer) and "Against a release" not in waiting(answer)
    assert bool([f for f in typed_in.forms_of(answer) if f["at"].get("action") == address(row)]) == (role != "viewer")


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_the_decision_does_not_exist(client, world, role):
    row = typed_in.load(world, "0811", FRIDAY)
    signed_in(client, world, role)
    assert client.get(address(row)).status_code == client.post(address(row)).status_code == 404


def test_two_taps_release_it_and_it_waits_no_more(client, world):
    row = typed_in.load(world, "0811", FRIDAY, mechanical="pass", chemical="pass")
    form = typed_in.form_to(day(client, world, "operator"), address(row))
    assert "decision" not in form["values"] and set(form["choices"]["decision"]) == {"released", "rejected"}
    assert typed_in.send(client, form).status_code == 422, "nothing is released by a button alone"
    answer = typed_in.send(client, form, decision="released")
    assert (answer.status_code, answer.url) == (302, reverse("day", args=["first"]))
    decision = LoadRelease.objects.get()
    assert (decision.load, decision.happened_on, decision.happened_at) == (row, made.TODAY, made.NOW)
    assert decision.decided_by.value == "Pat Operator"
    assert waiting(client.get(answer.url)) == ""
    assert "0811" in waiting(day(client, world, as_of="2026-03-14")), "on the days before it waited"
    shown = client.get(address(row))
    assert "was released on 16 Mar 2026" in text_of(shown)
    assert reverse("record", args=["first", "loadrelease", decision.origin]) in shown.content.decode()
    signed_in(client, world, "operator")
    late = typed_in.send(client, form, decision="released")
    assert late.status_code == 302 and LoadRelease.objects.count() == 1, "the same form again is the same entry"


def test_of_two_people_the_second_is_told_of_the_first(client, world):
    row = typed_in.load(world, "0811", FRIDAY, mechanical="pass", chemical="pass")
    form = typed_in.form_to(day(client, world), address(row))
    who = {"by": world.people["operator"], "request_key": made.key(), "clinic": world.clinic}
    log.release_load(**who, load=row, decision="rejected", reason="wet packs", on=made.TODAY)
    refused = typed_in.send(client, form, decision="released")
    assert refused.status_code == 422 and "was rejected already, on 2026-03-16 by Pat Operator" in text_of(refused)
    assert [r.decision for r in LoadRelease.objects.all()] == ["rejected"]


def test_a_rejection_says_why_and_what_was_typed_is_kept(client, world):
    row = typed_in.load(world, "0811", FRIDAY)
    form = typed_in.form_to(day(client, world), address(row))
    refused = typed_in.send(client, form, decision="rejected", decided_by="Sam Other")
    assert refused.status_code == 422 and "Rejected why?" in text_of(refused)
    kept = typed_in.form_to(refused, address(row))
    assert (kept["values"]["decision"], kept["values"]["decided_by"]) == ("rejected", "Sam Other")
    assert typed_in.send(client, kept, reason="wet packs").status_code == 302
    assert LoadRelease.objects.get().decided_by.value == "Sam Other"


def test_what_failed_in_the_cycle_speaks_against_it_and_is_released_only_with_its_reason(client, world):
    row = typed_in.load(world, "0811", FRIDAY)
    log.log_chemical(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=FRIDAY,
        type=5, result="fail", cycle_number="0811",
    )  # fmt: skip
    answer = day(client, world)
    # CDC 2003 (MMWR 52 RR-17) VI.F
    assert "Against a release: something failed in this cycle" in waiting(answer) and "VI.F" in waiting(answer)
    assert "chemical indicator type 5: fail" in waiting(answer)
    form = typed_in.form_to(answer, address(row))
    refused = typed_in.send(client, form, decision="released")
    assert refused.status_code == 422 and "say why" in text_of(refused) and not LoadRelease.objects.exists()
    assert "failed-release" in typed_in.form_to(refused, address(row))["choices"]["confirmed"]
    said = {"decision": "released", "reason": "emergency, Dr. Invented"}
    assert typed_in.send(client, form, **said).status_code == 422, "a reason alone is no confirmation"
    confirmed = ["failed-release", "no-results"]  # nobody recorded what the gauges showed
    assert typed_in.send(client, form, **said, confirmed=confirmed).status_code == 302
    assert LoadRelease.objects.get().reason == "emergency, Dr. Invented"


def test_a_load_with_an_implant_waits_for_its_spore_test(client, world):
    # CDC 2003 (MMWR 52 RR-17) VI.F: the result verified before an implant is used whenever possible.
    row = typed_in.load(world, "0811", FRIDAY, implant=True, mechanical="pass", chemical="pass")
    assert "no spore test of this cycle is on record" in waiting(day(client, world))
    assert "CDC 2003" in waiting(client.get(reverse("day", args=["first"]))), "these rules ask one in such a load"
    test = made.spore_test(world, FRIDAY, test="", cycle_number="0811", at=made.NOW - timedelta(days=3))
    answer = client.get(reverse("day", args=["first"]))
    assert "it held an implant and the spore test of this cycle has no result yet" in waiting(answer)
    form = typed_in.form_to(answer, address(row))
    assert typed_in.send(client, form, decision="released").status_code == 422
    who = {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}
    log.read_bio_test(**who, bio_test=test, test="no growth", control="growth", on=made.TODAY, at=made.NOW)
    answer = client.get(reverse("day", args=["first"]))
    assert "the spore test of this cycle passed" in waiting(answer) and "Against" not in waiting(answer)
    with clock.at(made.NOW + timedelta(minutes=5)):
        assert typed_in.send(client, form, decision="released", ticking="1", at="09:05").status_code == 302


def test_a_load_whose_spore_test_grew_is_not_released_without_a_word(client, world):
    row = typed_in.load(world, "0811", FRIDAY)
    made.spore_test(world, FRIDAY, test="growth", cycle_number="0811")
    answer = day(client, world)
    assert "Against a release: the spore test of this cycle is positive" in waiting(answer)
    assert typed_in.send(client, typed_in.form_to(answer, address(row)), decision="released").status_code == 422


def test_loads_of_long_ago_stand_behind_a_link(client, world, monkeypatch):
    typed_in.load(world, "0100", date(2026, 1, 5))
    for n in range(14):
        typed_in.load(world, f"09{n:02d}", FRIDAY, confirmed=("cycle-leap",))
    answer = day(client, world)
    assert waiting(answer).count("Cycle 09") == 12 and "Cycle 0100" not in waiting(answer)
    assert "3 more loads without a decision" in waiting(answer)
    everything = waiting(day(client, world, loads="all"))
    assert everything.count("Cycle 09") == 14 and "Cycle 0100" in everything and "more load" not in everything
    monkeypatch.setattr("audit.pages.desk.release.EVERY_MOST", 10)
    part = waiting(day(client, world, loads="all"))
    assert part.count("Cycle 0") == 10 and "5 more, older: they follow when these are decided" in part
