"""Why an answer is what it is: nothing it rests on is left out, and the command says the same as the page."""

import json
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings

from audit.judge.evaluate import evaluate
from audit.judge.explain import CAUTION, ORDER, explain
from records import clock
from records.models import Entry
from tests import world as build
from tests.examples import examples
from tests.fact_builders import bio, clinic, event, gap, placed, unit
from tests.strategies import clinics, days
from tests.world import NOW, TODAY, seal_replaced, spore_test

SOME = settings(max_examples=examples(60), deadline=None, suppress_health_check=list(HealthCheck))


def lines_of(place, as_of):
    said = evaluate(place, as_of)
    return said.units[0], explain(said.units[0], said.regime_title, place)


@SOME
@given(clinics(), days)
def test_everything_the_answer_rests_on_is_named(place, as_of):
    judged, lines = lines_of(place, as_of)
    named = {e.ref for line in lines for e in line.evidence}
    assert {e.ref for e in judged.standing.proof} <= named
    assert {e.ref for f in judged.findings for e in f.evidence} <= named
    text = "\n".join(line.text for line in lines)
    for clock_ in judged.clocks:
        assert clock_.title in text and (clock_.due_on is None or clock_.due_on.isoformat() in text)
    assert lines[-1].text == CAUTION


@SOME
@given(clinics(), days)
def test_the_rules_are_gone_through_up_to_the_one_that_holds(place, as_of):
    judged, lines = lines_of(place, as_of)
    answers = [x.text for x in lines if x.depth == 1 and x.text.split(":")[0] in {rule for rule, _ in ORDER}]
    assert [" Yes: " in text for text in answers] == [False] * (len(answers) - 1) + [True]
    assert answers[-1].startswith(f"{judged.standing.rule}:")


@SOME
@given(clinics(), days)
def test_a_source_that_was_not_read_says_so(place, as_of):
    for line in lines_of(place, as_of)[1]:
        if line.source is not None and line.source.grade not in ("", "read"):
            assert line.source.grade in str(line.source)


@pytest.mark.parametrize(
    ("facts", "day", "rule"),
    [
        (
            unit(events=(event("2025-01-06"),), placements=(placed("2025-01-06", "stored as spare"),)),
            "2025-02-01",
            "R1",
        ),
        (unit(events=(event("2025-01-06"),), bio_tests=(bio("2025-01-07", result="growth"),)), "2025-01-09", "R4"),
        (unit(events=(event("2025-01-06"),)), "2025-01-20", "R8"),
        (
            unit(
                events=(event("2025-01-06"),),
                bio_tests=(bio("2025-01-07", result="pass"),),
                gaps=(gap("2024-06-01", "2024-07-31", "2025-01-06"),),
            ),
            "2025-01-09",
            "R10",
        ),
    ],
)
def test_the_rule_that_holds(facts, day, rule):
    judged, lines = lines_of(clinic(facts), date.fromisoformat(day))
    assert judged.standing.rule == rule
    assert any(line.text.startswith(f"{rule}:") and " Yes: " in line.text for line in lines)


@pytest.fixture
def world(db):
    with clock.at(NOW):
        world = build.tested_for_seven_weeks()
        seal_replaced(world, TODAY - timedelta(days=20))
        yield world


def test_the_command(world, command):
    status, out, _ = command("explain", world.clinic.slug, "unit 1")
    assert status == 0
    assert "May Unit 1 be used on 2026-03-16? In service" in out
    assert "R4: is a failed test unresolved" in out
    assert "logged" in out and CAUTION in out


def test_the_command_as_of_and_known_at(world, command):
    """On the day before, it was in service; and before it was logged, nobody could know."""
    spore_test(world, TODAY - timedelta(days=3), "growth")
    status, out, _ = command("explain", world.clinic.slug, "Unit 1")
    assert status == 1 and "Out of service" in out
    status, out, _ = command("explain", world.clinic.slug, "Unit 1", "--as-of", str(TODAY - timedelta(days=4)))
    assert status == 0 and "In service" in out
    before = (Entry.objects.latest("logged_at").logged_at - timedelta(microseconds=1)).isoformat()
    status, out, _ = command("explain", world.clinic.slug, "Unit 1", "--known-at", before)
    assert status == 0 and "In service" in out


def test_the_command_as_json(world, command):
    _, out, _ = command("explain", world.clinic.slug, "INV-Unit 1", "--json")
    lines = json.loads(out)
    assert lines[0]["text"].startswith("May Unit 1 be used")
    assert any(line["source"] and line["source"]["citation"] for line in lines)


@pytest.mark.parametrize("name", ["Unit 9", "zz"])
def test_a_unit_that_is_not_there(world, command, name):
    status, _, err = command("explain", world.clinic.slug, name)
    assert status == 2
    assert name in err and "Unit 1 (serial INV-Unit 1" in err


def test_the_page_shows_it(world):
    client = Client()
    client.force_login(world.people["coordinator"])
    page = client.get(reverse("unit", args=[world.clinic.slug, world.unit.ref])).content.decode()
    assert "From the answer down to the entries" in page
    assert "R4: is a failed test unresolved" in page
