"""The page of an inspector's questions: each with its answer, its proof, its source, or what is missing."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from records import clock
from records.models import BioTest
from tests import world as made
from tests.audit.pages import filled
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def tested(world):
    for n in range(15):
        made.spore_test(world, date.fromordinal(made.TODAY.toordinal() - 3 - 4 * n))
    return world


@pytest.fixture
def answered(tested, monkeypatch):
    filled.fill(monkeypatch)
    return tested


def test_each_question_stands_with_answer_gap_owner_and_source_with_grade(client, answered):
    seen = text_of(get(signed_in(client, answered, "viewer"), "answers", "first"))
    assert "1 no record found, 1 in part, 1 yes" in seen
    missing, every = seen.split("Every question, in the order it is asked")
    assert "2. Is the pressure vessel" in missing and "3. How many units" not in missing
    order = [every.index(text) for text in ("1 Is every sterilizer", "2 Is the pressure vessel", "3 How many units")]
    assert order == sorted(order)
    for text in (
        "Missing: the week of 2 Mar 2026: the clinic may have a paper log",
        "Held by: insurer. Invented rule 9 (from memory)",
        "Invented rule 4; checked 1 Feb 2026",
        "1 question not asked by these rules",
        "licensed practice outrank every answer",
    ):
        assert text in seen, text


def test_proof_is_linked_to_its_record_the_newest_first_and_none_is_left_out(client, answered):
    html = get(signed_in(client, answered, "viewer"), "answers", "first").content.decode()
    links = re.findall(r'href="([^"]+/records/biotest/[^"]+)"', html)
    refs = BioTest.objects.order_by("-happened_on").values_list("origin", flat=True)
    assert len(refs) == 15
    assert links == [reverse("record", args=["first", "biotest", ref]) for ref in refs]
    assert "3 more" in html


def test_without_questions_the_page_says_so_and_offers_nothing_false(client, world):
    answer = get(signed_in(client, world, "coordinator"), "answers", "first")
    assert answer.status_code == 200
    if not answer.context["judgement"].answers:
        assert "No question is answered here" in text_of(answer)
    assert "licensed practice outrank" in text_of(answer)


def test_the_clinic_page_counts_the_answers_and_leads_to_them(client, answered):
    answer = get(signed_in(client, answered, "coordinator"), "clinic", "first")
    assert "1 no record found, 1 in part, 1 yes." in text_of(answer)
    assert reverse("answers", args=["first"]) in answer.content.decode()


def test_the_day_asked_about_is_carried_from_page_to_page(client, answered):
    html = get(signed_in(client, answered, "coordinator"), "clinic", "first", as_of="2026-03-11").content.decode()
    assert f'{reverse("answers", args=["first"])}?as_of=2026-03-11"' in html
    seen = get(client, "answers", "first", as_of="2026-03-11")
    assert "The answers of 11 Mar 2026" in text_of(seen)
    assert f'{reverse("clinic", args=["first"])}?as_of=2026-03-11"' in seen.content.decode()


# ------------------------------------------------------------------------------------------------ known at


@pytest.mark.parametrize("name", ["clinic", "answers", "unit"])
def test_only_what_had_been_logged_by_a_moment_counts(client, world, name):
    """Growth known on 16 March and logged a day later: on the sixteenth nobody could know."""
    args = ["first", world.unit.ref] if name == "unit" else ["first"]
    signed_in(client, world, "coordinator")
    with clock.at(made.NOW + timedelta(days=1)):
        made.spore_test(world, date(2026, 3, 15), test="growth")
        now = get(client, name, *args, as_of="2026-03-16")
        then = get(client, name, *args, as_of="2026-03-16", known_at="2026-03-16")
    assert now.context["known_at"] is None
    assert {u.standing.word.value for u in now.context["judgement"].units} == {"Out of service"}
    assert {u.standing.word.value for u in then.context["judgement"].units} == {"In service, overdue"}
    assert "Only what had been logged by 16 Mar 2026, 23:59 counts" in text_of(then)


def test_without_a_day_the_day_of_the_moment_is_judged(client, world):
    answer = get(signed_in(client, world, "coordinator"), "clinic", "first", known_at="2026-03-12T09:30")
    assert answer.context["as_of"] == date(2026, 3, 12)
    assert answer.context["known_at"].isoformat() == "2026-03-12T09:30:00-05:00"
    assert "as_of=2026-03-12&amp;known_at=2026-03-12T09%3A30%3A00-05%3A00" in answer.content.decode()


def test_an_offset_may_be_written_and_its_plus_sign_lost(client, world):
    signed_in(client, world, "coordinator")
    for text in ("2026-03-12T14:30+00:00", "2026-03-12T14:30 00:00"):
        answer = get(client, "clinic", "first", known_at=text)
        assert answer.context["known_at"].isoformat() == "2026-03-12T14:30:00+00:00", text


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("soon", "“soon” is not a moment that can be read"),
        ("2026-02-30", "“2026-02-30” is not a moment that can be read"),
        ("2026-03-12T25:00", "is not a moment that can be read"),
        ("2026-03-17", "has not come yet"),
        ("2026-03-16T23:00", "has not come yet"),
    ],
)
def test_a_moment_that_cannot_be_used_gets_a_message_and_all_that_is_logged(client, world, typed, told):
    answer = get(signed_in(client, world, "coordinator"), "answers", "first", known_at=typed)
    assert answer.status_code == 400
    assert told in text_of(answer) and "Shown is all that is logged." in text_of(answer)
    assert answer.context["known_at"] is None


def test_today_as_a_moment_is_now(client, world):
    answer = get(signed_in(client, world, "coordinator"), "clinic", "first", known_at=made.TODAY.isoformat())
    assert answer.status_code == 200 and answer.context["known_at"] == clock.now()


def test_a_clinic_opened_for_a_stranger_to_it_costs_no_facts(client, world, django_assert_max_num_queries):
    signed_in(client, world, "other-coordinator")
    with django_assert_max_num_queries(8):
        assert get(client, "answers", "first").status_code == 404


def test_the_engine_gives_the_pages_the_same_answers_it_gives_the_binder(client, world):
    answer = get(signed_in(client, world, "coordinator"), "answers", "first")
    assert answer.context["judgement"] == evaluate(clinic_facts(world.clinic), made.TODAY)
