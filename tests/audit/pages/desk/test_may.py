"""Is it all right to use? One answer on one screen, and what was advised on it, copied from what was shown."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from records import clock, log
from records.models import Advice, Entry
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, signed_in, text_of

pytestmark = pytest.mark.django_db
PAGE = reverse("may-be-used", args=["first"])
TYPED = {"asked_by": "Pat Operator", "how": "telephone", "question": "May it be used?", "told_as": "shown"}


def address(world) -> str:
    return reverse("log-advice", args=["first", world.unit.ref])


def asked(client, world, role="coordinator"):
    return signed_in(client, world, role).get(f"{PAGE}?unit={world.unit.ref}")


def form_of(client, world, role="coordinator"):
    return typed_in.form_to(asked(client, world, role), address(world))


@pytest.mark.parametrize("role", INSIDERS)
def test_everybody_with_sight_of_the_clinic_gets_the_answer_and_who_may_log_the_form(client, world, role):
    made.weekly_tests(world, 3)
    answer = asked(client, world, role)
    seen = text_of(answer)
    for words in ("In service", "Since", "Changes", "Proof", "outrank", "never open a door"):
        assert words in seen, words
    assert ("Record what you advised" in seen) == (role != "viewer")


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_it_does_not_exist(client, world, role):
    assert asked(client, world, role).status_code == 404
    assert client.post(address(world)).status_code == 404


def test_a_viewer_records_no_advice(client, world):
    assert signed_in(client, world, "viewer").post(address(world), TYPED).status_code == 403
    assert not Advice.objects.exists()


def test_what_would_change_the_answer_and_its_proof_are_on_the_same_page(client, world):
    made.spore_test(world, date(2026, 3, 9), test="growth")
    seen = text_of(asked(client, world))
    assert "Out of service" in seen and "What would change it" in seen and "Spore test of 9 Mar 2026" in seen


def test_advice_copies_answer_and_reason_from_the_judgement_not_from_what_is_sent(client, world):
    made.weekly_tests(world, 3)
    form = form_of(client, world, "dispatcher")
    assert not {"how", "told_as", "told"} & set(form["values"])
    assert not {"answer", "reason"} & form["names"]
    sent = typed_in.send(client, form, **TYPED, answer="Out of service", reason="because I say so")
    assert (sent.status_code, sent.url) == (302, f"{PAGE}?unit={world.unit.ref}")
    row = Advice.objects.get()
    standing = client.get(sent.url).context["judged"].standing
    # 14:00 UTC is 9:00 in Chicago in March 2026 (IANA time zone data).
    assert (row.answer, row.reason) == (standing.word.value, f"{standing.reason} (shown at 09:00)")
    assert (row.unit, row.asked_by, row.how, row.question) == (
        world.unit,
        "Pat Operator",
        "telephone",
        "May it be used?",
    )
    assert row.told == f"{standing.word.value}: {standing.reason}"
    assert (row.happened_on, row.happened_at) == (made.TODAY, made.NOW)
    assert row.entry.logged_for == world.company.organisation_ptr or row.entry.logged_for == world.company
    assert "Advised: In service" in text_of(client.get(sent.url))


def test_other_advice_is_said_in_own_words_and_kept_when_refused(client, world):
    form = form_of(client, world)
    typed = TYPED | {"told_as": "other"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and "What did you advise?" in text_of(refused)
    kept = typed_in.form_to(refused, address(world))["values"]
    assert (kept["asked_by"], kept["how"], kept["told_as"]) == ("Pat Operator", "telephone", "other")
    assert typed_in.send(client, form, **typed, told="use the other unit until Friday").status_code == 302
    assert Advice.objects.get().told == "use the other unit until Friday"


def test_an_answer_that_changed_since_is_told_once_and_recorded_with_its_time(client, world):
    made.weekly_tests(world, 3)
    form = form_of(client, world)
    made.spore_test(world, date(2026, 3, 14), test="growth")
    with clock.at(made.NOW + timedelta(hours=2)):
        refused = typed_in.send(client, form, **TYPED, ticking="1", at="11:00")
        assert refused.status_code == 422 and not Advice.objects.exists()
        assert "opened at 09:00: it was “In service”, it is “Out of service” now" in text_of(refused)
        kept = typed_in.form_to(refused, address(world))
        assert kept["values"]["shown"] == form["values"]["shown"] and kept["values"]["how"] == "telephone"
        sent = kept["values"] | {"ticking": "1"}
        assert client.post(address(world), sent).status_code == 302
        row = Advice.objects.get()
        assert row.answer == "In service" and row.reason.endswith("(shown at 09:00)")
        # Sent once more, as a queue may, it is the same entry although the answer is another one now.
        before = Entry.objects.count()
        assert client.post(address(world), sent).status_code == 302
        assert Entry.objects.count() == before


def test_an_answer_that_the_site_did_not_show_is_refused(client, world):
    form = form_of(client, world)
    for shown in ("", "made:up:sig", form["values"]["shown"][:-2] + "xx"):
        refused = typed_in.send(client, form, **TYPED, shown=shown)
        assert refused.status_code == 422 and "cannot be read any more" in text_of(refused), shown
    other = made.unit_at(world.clinic, world.people["coordinator"], "Unit 2")
    wrong = client.post(reverse("log-advice", args=["first", other.ref]), form["values"] | TYPED)
    assert wrong.status_code == 422 and "another unit’s" in text_of(wrong)
    assert not Advice.objects.exists()


def test_advice_belongs_to_the_day_whose_answer_was_shown(client, world):
    form = form_of(client, world)
    refused = typed_in.send(client, form, **TYPED, on="2026-03-13", at="")
    assert refused.status_code == 422 and not Advice.objects.exists()
    with clock.at(made.NOW + timedelta(days=1)):
        late = typed_in.send(client, form, **TYPED, ticking="1")
    assert late.status_code == 302 and Advice.objects.get().happened_on == made.TODAY


def test_past_advice_stands_on_the_units_page(client, world):
    log.log_advice(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        on=date(2026, 3, 2), how="telephone", question="May it be used?", answer="In service", reason="nothing open",
        told="yes", asked_by="Pat Operator",
    )  # fmt: skip
    seen = text_of(get(signed_in(client, world, "viewer"), "unit", "first", world.unit.ref))
    assert "Advice given" in seen and "Advised: yes by Pat Technician" in seen and "In service , nothing open" in seen
    before = text_of(get(client, "unit", "first", world.unit.ref, as_of="2026-03-01"))
    assert "Advice given" not in before


def test_of_several_units_one_is_chosen_by_list_serial_label_or_address(client, world):
    other = made.unit_at(world.clinic, world.people["coordinator"], "Unit 2", serial="INV-2", udi="UDI-9")
    signed_in(client, world, "operator")
    choose = client.get(PAGE)
    assert f"?unit={other.ref}" in choose.content.decode() and 'data-scan="unit"' in choose.content.decode()
    # GS1 General Specifications: (01) GTIN-14, of a number that GS1 keeps for examples, then (21) serial.
    element = "]d201" + "09521234543213" + "21INV-2"
    for code in ("INV-2", "inv-2", "Unit 2", "UDI-9", str(other.ref), element):
        answer = client.get(PAGE, {"code": code})
        assert (answer.status_code, answer.url) == (302, f"{PAGE}?unit={other.ref}"), code
    unknown = client.get(PAGE, {"code": "nothing"})
    assert "No unit here is named so" in text_of(unknown) and "nothing" in text_of(unknown)
    assert client.get(PAGE, {"unit": str(world.other_unit.ref)}).status_code == 404


def test_a_code_finds_no_unit_of_another_clinic_and_none_by_a_part_of_its_serial(client, world):
    made.unit_at(world.clinic, world.people["coordinator"], "Unit 2", serial="12")
    signed_in(client, world, "operator")
    for code in (str(world.other_unit.ref), "INV-Stranger", "SN 9912", "A12-0031", "https://site.example/12/"):
        answer = client.get(PAGE, {"code": code})
        assert answer.status_code == 200 and "No unit here is named so" in text_of(answer), code
    assert client.get(PAGE, {"code": "12"}).status_code == 302


def test_a_company_reaches_it_from_its_own_page(client, world):
    assert PAGE in signed_in(client, world, "dispatcher").get(reverse("company", args=["keepers"])).content.decode()
