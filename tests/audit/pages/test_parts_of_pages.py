"""Parts that several pages show: how duties were kept, what a trigger puts in doubt."""

from __future__ import annotations

import re

import pytest
from django.template.loader import render_to_string

from audit.gather.proofs import proofs_of
from audit.gather.read import clinic_facts
from tests import world as made
from tests.audit.pages import filled

pytestmark = pytest.mark.django_db


def shown(world, name: str, **context) -> str:
    facts = clinic_facts(world.clinic)
    html = render_to_string(f"audit/{name}", context | {"proofs": proofs_of("first", facts)})
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_coverage_reads_its_counts_its_reasons_and_its_bound(world):
    made.weekly_tests(world, 1)
    tests = clinic_facts(world.clinic).units[0].bio_tests
    seen = shown(world, "_coverage.html", coverage=filled.coverage(tests))
    for text in (
        "From 17 Mar 2024 to 16 Mar 2026 , both included",
        "Met late 1",
        "Exempt: 3: closed; 1: no patients. Longest gap: 21 days, 1 Jan 2026 to 22 Jan 2026.",
        "3 lapses, or exempt",
        "5 Jan 2026 to 18 Jan 2026 , 2 times in a row: no test logged",
        "at most 0.0304 per test (95 % one-sided)",
    ):
        assert text in seen, text


def test_a_look_back_reads_its_trigger_its_window_what_is_asked_and_what_is_left_out(world):
    unit = clinic_facts(world.clinic).units[0]
    seen = shown(world, "_look_backs.html", look_backs=(filled.look_back(unit),))
    for text in (
        "Part recall received 2 Mar 2026: cassette seal, lot S-9",
        "In doubt: 1 part, from the first record, with no good proof before it, up to and with 2 Mar 2026.",
        "Still open: no decision is on record .",
        "Not known: 2 cycles on the counter.",
        "The rules ask: replace it Invented rule 9 (from memory)",
        "The unit : fitted after 2 Mar 2026",
    ):
        assert text in seen, text


@pytest.mark.parametrize(("name", "empty"), [("_coverage.html", "coverage"), ("_look_backs.html", "look_backs")])
def test_with_nothing_to_say_nothing_is_shown(world, name, empty):
    assert shown(world, name, **{empty: ()}).strip() == ""
