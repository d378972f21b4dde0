"""The clinic's page: the answer for each unit, and what is to be done."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Clock, DueKind, State, Step
from audit.pages import opened
from audit.pages.duties import DOING, ENTRIES, entry_of, page_of
from audit.regimes.model import SUBJECTS
from audit.regimes.source import Source
from records import log
from records.models import FailureCase
from tests import world as made
from tests.audit.pages import filled
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_the_clinic_page_answers_with_word_reason_rules_and_caution(client, world):
    made.weekly_tests(world, 3)
    seen = text_of(get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug))
    assert "First Clinic" in seen
    assert "Rules: US dental" in seen or "Rules: " in seen
    assert "May each unit be used?" in seen
    assert "Unit 1" in seen and "Room 1" in seen
    assert "In service" in seen
    assert "Local codes, the maker’s instructions and licensed practice outrank" in seen


def test_a_missed_week_shows_the_duty_with_its_day_and_a_way_to_start_it(client, world):
    made.spore_test(world, date(2026, 3, 2))
    answer = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug)
    seen = text_of(answer)
    # The week of 9 March (Monday) to 15 March had no test; the sixteenth is the first day overdue.
    assert "In service, overdue" in seen
    assert "due 15 Mar 2026, 1 day overdue" in seen
    assert f"{reverse('log-bio', args=['first'])}?unit={world.unit.ref}" in answer.content.decode()


def test_a_spore_test_without_a_result_is_to_be_read_when_its_hours_have_passed(client, world):
    run = made.spore_test(world, date(2026, 3, 14), test="", cycle_number="812")
    answer = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug)
    assert "Read it now : spore test of 14 Mar 2026 , cycle 812, Unit 1" in text_of(answer)
    assert reverse("read-bio", args=["first", run.origin]) in answer.content.decode()


def test_a_spore_test_still_incubating_says_from_when_no_growth_counts(client, world):
    made.spore_test(world, made.TODAY, test="", at=made.NOW - timedelta(hours=1))
    seen = text_of(get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug))
    # 13:00 UTC plus 24 hours is 13:00 UTC the next day, 8:00 in Chicago in March.
    assert "no growth counts from 17 Mar 2026, 08:00 on" in seen


def test_a_positive_test_stands_first_with_its_next_step_and_its_links(client, world):
    made.spore_test(world, date(2026, 3, 9), test="growth")
    case = FailureCase.objects.get()
    log.log_follow_up(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, case=case, action="review",
        what="look through the loads", on=date(2026, 3, 11), due_on=date(2026, 3, 20),
    )  # fmt: skip
    signed_in(client, world, "coordinator")
    answer = get(client, "clinic", world.clinic.slug)
    html = answer.content.decode()
    assert "Out of service" in text_of(answer)
    assert "Open failures" in html
    assert "Look through the loads" in html and "It is done" in html
    assert reverse("log-follow-up", args=["first", case.origin]) in html
    step = next(s for u in clinic_facts(world.clinic).units for c in u.cases for s in c.followups)
    assert reverse("follow-up-done", args=["first", step.row.origin]) in html
    unit = text_of(get(client, "unit", world.clinic.slug, world.unit.ref))
    assert "Positive spore test" in unit and "Loads affected" in unit and "What would change it" in unit


def test_papers_training_and_instruments_of_the_place_are_due_with_a_way_to_file_them(client, world, monkeypatch):
    filled.fill(monkeypatch)
    answer = get(signed_in(client, world, "coordinator"), "clinic", "first")
    seen, html = text_of(answer), answer.content.decode()
    assert "Overdue : Yearly training of A. User, due 10 Mar 2026, 7 days overdue" in seen
    assert seen.index("Liability insurance") < seen.index("Yearly training of A. User")  # no evidence is worst
    assert "1 in order" in seen and "Written scheme" not in seen
    assert f"{reverse('add-document', args=['first'])}?next=" in html
    assert "File the paper" not in text_of(get(signed_in(client, world, "viewer"), "clinic", "first"))


def test_what_the_rules_ask_decides_where_it_is_recorded():
    def item(subject, kind=DueKind.DUTY):
        return Clock(kind, "x", "x", State.DUE, None, None, None, "", Source(""), subject=subject)

    def entry(*asked):
        return entry_of(item(*asked))

    assert entry("biological") == "log-bio"
    assert entry("air removal") == "log-air-removal"
    assert entry("air leak") == "log-leak"
    assert entry("pressure examination") == entry("insurance") == "add-document"
    assert entry("servicing") == entry("", DueKind.PLAN) == entry("something new") == "log-visit"
    assert page_of(item("something new")) == ""


def test_every_page_of_entry_there_is_a_link_to_exists_and_says_what_it_does():
    assert set(ENTRIES) - {""} <= set(SUBJECTS)
    for name in ENTRIES.values():
        assert reverse(name, args=["first"]) and DOING[name]


def test_an_open_failure_says_by_when_what_is_missing_and_what_was_done_otherwise(client, world, monkeypatch):
    made.spore_test(world, date(2026, 3, 9), test="growth")

    def judged(facts, as_of):
        said = evaluate(facts, as_of)
        unit = said.units[0]
        notify = Step(
            "notify", "Tell the authority", "open", None, (), Source("Invented rule 2"), "", date(2026, 3, 17)
        )
        case = replace(unit.cases[0], steps=(notify,), needs="two more tests", warnings=("run before the cause",))
        return replace(said, units=(replace(unit, cases=(case,)),))

    monkeypatch.setattr(opened, "evaluate", judged)
    seen = text_of(get(signed_in(client, world, "coordinator"), "clinic", "first"))
    assert "Clinic: Tell the authority, by 17 Mar 2026" in seen
    assert "Still missing before this is closed: two more tests" in seen and "Note: run before the cause" in seen
