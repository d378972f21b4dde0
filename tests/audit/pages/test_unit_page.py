"""The unit's page: the answer, its proof, everything that happened."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from audit.facts import in_order
from audit.gather.read import clinic_facts
from records import log
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_the_unit_page_shows_answer_proof_due_items_and_history(client, world):
    made.weekly_tests(world, 3)
    made.seal_replaced(world, date(2026, 2, 3))
    answer = get(signed_in(client, world, "technician"), "unit", world.clinic.slug, world.unit.ref)
    seen, html = text_of(answer), answer.content.decode()
    for words in (
        "May it be used?", "Changes", "Cassette seal", "lot S-9", "old part: scrapped",
        "134.6", "V1 function cycle", "Replace air filter", "Invented manual, section 7", "Signed for: released",
        "flattened at the hinge", "3 passed", "control lot B-100",
    ):  # fmt: skip
        assert words in seen, words
    # The due item of the seal counts from the row that shows the replacement, 24 months from 3 February 2026.
    assert "3 Feb 2028" in seen
    unit = clinic_facts(world.clinic).units[0]
    job = in_order(unit.jobs)[0]
    assert reverse("record", args=["first", "fittedpart", job.parts[0].row.origin]) in html
    assert reverse("visit", args=["first", job.visit]) in html


def test_every_piece_of_proof_on_the_unit_page_is_a_link(client, world):
    made.weekly_tests(world, 2)
    made.spore_test(world, made.TODAY - timedelta(days=2), test="growth")
    page = get(signed_in(client, world, "coordinator"), "unit", world.clinic.slug, world.unit.ref)
    judged, proofs = page.context["judged"], page.context["proofs"]
    rested_on = [*judged.standing.proof, *(c.counts_from for c in judged.clocks if c.counts_from)]
    rested_on += [e for case in judged.cases for e in case.evidence]
    assert rested_on
    assert [e for e in rested_on if proofs.place(e.ref) is None] == []


def test_a_correction_is_shown_with_old_and_new_and_reason(client, world):
    log.correct(
        by=world.people["coordinator"], request_key=made.key(), row=world.unit, changes={"serial": "INV-2"},
        reason="plate misread",
    )  # fmt: skip
    seen = text_of(get(signed_in(client, world, "coordinator"), "unit", world.clinic.slug, world.unit.ref))
    assert "serial INV-2" in seen
    assert "“INV-Unit 1” became “INV-2”" in seen and "plate misread" in seen


def test_a_page_from_paper_says_so_once_a_job(client, world):
    made.seal_replaced(world, date(2026, 2, 3), paper="Service book, page 7")
    seen = text_of(get(signed_in(client, world, "technician"), "unit", world.clinic.slug, world.unit.ref))
    assert seen.count("transcribed from paper: Service book, page 7") == 1
