"""Finding things by what is printed on them, within what the account may see."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse

from audit.pages.found import EACH, search
from records import clock, log
from records.models import BioTest, FittedPart
from tests import world as made
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def world(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    built = made.make()
    made.spore_test(built, date(2026, 3, 9), cycle_number="C-4711")
    made.seal_replaced(built, date(2026, 2, 3))
    by = built.people["coordinator"]
    log.log_document(
        by=by, request_key=made.key(), clinic=built.clinic, kind="procedure", title="Written scheme of the clinic",
        valid_from=date(2026, 1, 5), content=b"x", filename="scheme.txt",
    )  # fmt: skip
    log.log_load(
        by=by, request_key=made.key(), clinic=built.clinic, unit=built.unit, on=date(2026, 3, 10),
        cycle_number="C-4712", program="wrapped",
    )  # fmt: skip
    part = log.log_part(
        by=built.people["stores"], request_key=made.key(), owner=built.company, name="Cassette seal", number="INV-77",
        component="seal",
    )  # fmt: skip
    log.log_part_lot(
        by=built.people["stores"], request_key=made.key(), owner=built.company, part=part, receipt_lot="R-500",
        lot="S-500", on=made.BEGIN,
    )  # fmt: skip
    return built


def found(world, role: str, words: str) -> dict[str, list[str]]:
    return {group.title: [line.title for line in group.lines] for group in search(world.people[role], words)}


def test_a_serial_or_label_finds_the_unit_and_leads_to_its_page(world):
    groups = search(world.people["technician"], "inv-unit 1")
    assert [g.title for g in groups] == ["Units", "Parts on units with it", "Cycles of units with it"]
    line = groups[0].lines[0]
    assert line.title == "Unit 1, serial INV-Unit 1" and "First Clinic" in line.about
    assert line.address == reverse("unit", args=["first", world.unit.origin])


def test_a_serial_finds_what_was_fitted_and_run_on_the_unit_newest_first_and_cycles_hide_no_part(world):
    lines = found(world, "viewer", "INV-Unit 1")
    assert lines["Cycles of units with it"] == ["Load, cycle C-4712", "Spore test, cycle C-4711"]
    assert lines["Parts on units with it"] == ["Cassette seal, lot S-9"]


def test_a_lot_that_is_looked_for_says_recalled_taken_out_and_corrected(world):
    made.seal_replaced(world, date(2026, 3, 10))
    log.log_part_recall(
        by=world.people["stores"], request_key=made.key(), owner=world.company, part="Cassette seal", lot="",
        issued_by="Invented Works", reason="too soft", action="replace", on=made.TODAY,
    )  # fmt: skip
    first = FittedPart.objects.order_by("id").first()
    log.correct(
        by=world.people["technician"], request_key=made.key(), row=first,
        changes={"lot": "S-8", "receipt_lot": "R-8"}, reason="misread",
    )  # fmt: skip
    told = {g.title: {line.title: line.about for line in g.lines} for g in search(world.people["stores"], "S-")}
    parts = told["Parts fitted"]
    old = parts["Cassette seal, lot S-8"]
    assert "recalled: notice of 2026-03-16" in old and "taken out by 2026-03-10" in old
    assert "corrected: misread" in old
    assert "taken out" not in parts["Cassette seal, lot S-9"]
    assert "recalled" in told["Parts in stock"]["Cassette seal, lot S-500"]


def test_a_lot_finds_the_box_its_tests_and_the_parts(world):
    assert found(world, "coordinator", "B-100") == {
        "Boxes of indicators": ["Invented spore ampoule, lot B-100"],
        "Spore tests": ["Spore test with lot B-100"],
    }
    assert found(world, "coordinator", "S-9") == {"Parts fitted": ["Cassette seal, lot S-9"]}
    groups = {g.title: g.lines for g in search(world.people["coordinator"], "S-9")}
    assert groups["Parts fitted"][0].address == reverse(
        "record", args=["first", "fittedpart", FittedPart.objects.get().origin]
    )
    assert found(world, "stores", "R-500") == {"Parts in stock": ["Cassette seal, lot S-500"]}
    assert found(world, "coordinator", "R-500") == {}, "the books of the company are its own"


def test_a_cycle_number_finds_tests_and_loads_newest_first(world):
    assert found(world, "viewer", "c-471") == {"Cycle numbers": ["Load, cycle C-4712", "Spore test, cycle C-4711"]}
    line = search(world.people["viewer"], "C-4711")[0].lines[0]
    assert line.address == reverse("record", args=["first", "biotest", BioTest.objects.get().origin])
    assert line.day == date(2026, 3, 9)


def test_a_clinic_and_a_paper_are_found_by_name(world):
    assert found(world, "dispatcher", "first cl") == {"Clinics": ["First Clinic"]}
    assert found(world, "coordinator", "WRITTEN SCHEME") == {"Papers on file": ["Written scheme of the clinic"]}


@pytest.mark.parametrize("words", ["INV-Unit 1", "B-100", "S-9", "C-4711", "First Clinic", "Written scheme", "R-500"])
def test_nothing_is_found_at_places_that_the_account_may_not_see(world, words):
    for role in ("other-coordinator", "other-dispatcher", "nobody"):
        assert found(world, role, words) == {}, role


def test_everything_found_opens(client, world):
    client.force_login(world.people["coordinator"])
    seen = set()
    for words in ("INV", "B-100", "S-9", "C-47", "First", "scheme"):
        page = client.get(reverse("search"), {"q": words})
        for address in re.findall(r'<p><a href="(/clinic/[^"]+)">', page.content.decode()):
            assert client.get(address).status_code == 200, address
            seen.add(address)
    assert len(seen) > 6


def test_what_was_corrected_is_found_by_its_newest_words_only(world):
    log.correct(
        by=world.people["coordinator"], request_key=made.key(), row=BioTest.objects.get(),
        changes={"cycle_number": "C-9999"}, reason="misread",
    )  # fmt: skip
    assert "Cycle numbers" not in found(world, "viewer", "C-4711")
    assert found(world, "viewer", "C-9999") == {"Cycle numbers": ["Spore test, cycle C-9999"]}
    log.void(
        by=world.people["coordinator"], request_key=made.key(), row=BioTest.objects.newest().get(), reason="no test"
    )
    assert found(world, "viewer", "C-9999") == {}


@pytest.mark.parametrize("words", ["%", "_", "%%", "__", "C_4711", "';--", "\\", "“”"])
def test_signs_are_looked_for_as_themselves(client, world, words):
    client.force_login(world.people["coordinator"])
    answer = client.get(reverse("search"), {"q": words})
    assert answer.status_code == (400 if len(words) < 2 else 200)
    if len(words) >= 2:
        assert "Nothing with" in answer.content.decode()


def test_the_page_teaches_what_can_be_looked_for_and_what_to_do_when_nothing_is_found(client, world):
    client.force_login(world.people["viewer"])
    assert "A lot finds the box of indicators" in client.get(reverse("search")).content.decode()
    nothing = client.get(reverse("search"), {"q": "<b>zz"}).content.decode()
    assert "Nothing with “&lt;b&gt;zz”" in nothing and "Type a part of it" in nothing
    short = client.get(reverse("search"), {"q": "z"})
    assert short.status_code == 400 and "One letter finds too much" in short.content.decode()
    client.logout()
    assert client.get(reverse("search")).status_code == 302


def queries(client, count, words: str) -> int:
    with count(100) as taken:
        assert client.get(reverse("search"), {"q": words}).status_code == 200
    return len(taken.captured_queries)


def test_it_takes_the_same_few_queries_whatever_is_found(client, world, django_assert_max_num_queries):
    client.force_login(world.people["technician"])
    small = queries(client, django_assert_max_num_queries, "C-")
    for n in range(EACH + 3):
        log.log_load(
            by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
            on=date(2026, 3, 1) + timedelta(days=n % 9), cycle_number=f"C-{n}", program="wrapped",
            confirmed=("cycle-back", "cycle-leap"),
        )  # fmt: skip
    assert queries(client, django_assert_max_num_queries, "C-") == small <= MOST_QUERIES
    assert queries(client, django_assert_max_num_queries, "zzz") <= small
    group = search(world.people["technician"], "C-")[-1]
    assert len(group.lines) == EACH and group.more
