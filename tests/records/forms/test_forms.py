"""Bad input on the pages: the message says what, why and the way out, what was typed is kept, nothing is written."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from records import clock, log
from records.models import (
    BioTest,
    Entry,
    PlanLine,
)
from tests import world as build
from tests.records.page_form import form_of
from tests.records.typed import ready, text_of, typed_bio, typed_visit

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Bad:
    """One kind of bad input: the page, what is typed, and words that the answer must hold."""

    name: str
    changes: dict
    says: tuple
    kept: str
    page: str = "log-bio"
    args: tuple = ()
    confirm: str = ""
    more: dict = field(default_factory=dict)


ROW = "jobs-0-readings-1-"
BAD_INPUTS = [
    Bad("future date", {"on": "2026-03-17"}, ("is in the future", "log it when it has"), "C-4711"),
    Bad("no such day", {"on": "2026-02-30"}, ("not a day of the calendar", "Write year-month-day"), "2026-02-30"),
    Bad("unknown lot", {"lot": str(uuid.uuid4())}, ("lot is not known", "add it first"), "C-4711"),
    Bad("unit of another clinic", {"unit": "{other_unit}"},
        ("does not stand at this clinic", "Choose one of its units"), "C-4711"),
    Bad("expired lot", {"lot": "{expired}"}, ("expired on 2026-01-31", "Use another box"), "C-4711",
        confirm="expired-lot"),
    Bad("reading without unit of measure",
        {ROW + "quantity": "chamber temperature", ROW + "as_found": "134.25"},
        ("chamber temperature has no unit of measure", "such as °C"), "134.25", page="log-visit"),
    Bad("reading that is no number",
        {ROW + "quantity": "temperature", ROW + "unit_of_measure": "°C", ROW + "as_found": "134,2"},
        ("“134,2” is not a number", "with a point"), "134,2", page="log-visit"),
    Bad("half-filled finding", {"jobs-0-findings-2-seen": "perished rim"},
        ("This is missing", "Fill it in"), "perished rim", page="log-visit"),
    Bad("lot of another company",
        {"jobs-0-parts-0-part_lot": "{foreign_part_lot}", "jobs-0-parts-0-action": "replaced on plan",
         "jobs-0-parts-0-old_part": "scrapped", "jobs-0-parts-0-kit": "kit nine"},
        ("not received by your company", "Choose one of your own lots"), "kit nine", page="log-visit"),
    Bad("counter running backwards",
        {"jobs-0-counters-0-counter": "cycles", "jobs-0-counters-0-shown": "17"},
        ("cycles counter shows 17, but it stood at 1200", "what to add for the life total"), "17",
        page="log-visit"),
    Bad("deferred without reason", {"{seal_line}-outcome": "deferred", "{seal_line}-found": "still soft"},
        ("needs its reason", "Deferred until when?"), "still soft", page="log-visit"),
    Bad("visit without a conclusion", {"jobs-0-conclusion-conclusion": ""},
        ("Nothing is chosen", "Choose what was the case"), "R-4711", page="log-visit"),
    Bad("refusal without reason",
        {"jobs-0-signatures-0-meaning": "refused", "jobs-0-signatures-0-name": "Ina Invented"},
        ("“refused” is a record too", "say why"), "Ina Invented", page="log-visit"),
    Bad("expired part",
        {"jobs-0-parts-0-name": "Door seal", "jobs-0-parts-0-lot_state": "printed", "jobs-0-parts-0-lot": "S-77",
         "jobs-0-parts-0-expiry": "2026-01-01", "jobs-0-parts-0-action": "replaced on plan",
         "jobs-0-parts-0-old_part": "scrapped"},
        ("The part expired on 2026-01-01", "Fit another one"), "S-77", page="log-visit",
        confirm="expired-part"),
    Bad("departure before arrival", {"at": "10:00", "departed_at": "09:00"},
        ("departure lies before the arrival", "Check both times"), "R-4711", page="log-visit"),
]  # fmt: skip


@pytest.fixture
def places(world):
    """What the table's names in braces stand for."""
    ora = world.people["other-dispatcher"]
    with clock.at(build.NOW):
        expired = log.log_indicator_lot(
            by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="biological",
            name="Invented spore ampoule", lot="B-99", on=build.BEGIN, incubation_hours=24,
            expiry=date(2026, 1, 31),
        )  # fmt: skip
        part = log.log_part(by=ora, request_key=build.key(), owner=world.other_company, name="Seal", component="seal")
        lot = log.log_part_lot(
            by=ora, request_key=build.key(), owner=world.other_company, part=part, receipt_lot="X-1",
            on=build.BEGIN,
        )  # fmt: skip
        build.seal_replaced(world, build.TODAY - timedelta(days=30))
    line = PlanLine.objects.get(unit=world.unit, code="replace-seal")
    return {
        "{other_unit}": str(world.other_unit.ref), "{expired}": str(expired.ref),
        "{foreign_part_lot}": str(lot.ref), "{seal_line}": f"jobs-0-line-{line.pk}",
    }  # fmt: skip


def _put_in(value: str, places: dict) -> str:
    for name, stands_for in places.items():
        value = value.replace(name, stands_for)
    return value


@pytest.mark.parametrize("bad", BAD_INPUTS, ids=lambda b: b.name)
def test_bad_input_is_refused_with_the_way_out_and_nothing_is_written(at, world, places, bad):
    changes = {_put_in(k, places): _put_in(v, places) for k, v in bad.changes.items()}
    if bad.page == "log-visit":
        data = typed_visit(at.sign_in("technician"), world, **changes)
    else:
        data = typed_bio(at, world, **changes)
    before = Entry.objects.count()
    answer = at.send(bad.page, data=data)
    assert answer.status_code == 422
    page = text_of(answer)
    for words in bad.says:
        assert words in page
    assert bad.kept in page
    assert Entry.objects.count() == before
    assert form_of(answer)["request_key"] == data["request_key"]
    if not bad.confirm:
        return
    assert f'value="{bad.confirm}"' in page
    confirmed = at.send(bad.page, data=form_of(answer) | {"confirmed": bad.confirm})
    assert confirmed.status_code == 302
    assert Entry.objects.count() == before + 1


def test_a_confirmation_stays_ticked_while_something_else_is_put_right(at, world, places):
    data = typed_bio(at, world, lot=places["{expired}"], confirmed="expired-lot", cycle_type="")
    answer = at.send("log-bio", data=data)
    assert answer.status_code == 422
    assert form_of(answer)["confirmed"] == ["expired-lot"]


def test_no_growth_before_the_labels_hours_is_asked_about(at, world):
    test = build.spore_test(world, build.TODAY, test="", at=datetime(2026, 3, 16, 12, tzinfo=UTC))
    data = form_of(at.open("read-bio", test.ref)) | {
        "test": "no growth", "control": "growth", "incubated_hours": "2", "report": "L-4711",
    }  # fmt: skip
    before = Entry.objects.count()
    answer = at.send("read-bio", test.ref, data=data)
    page = text_of(answer)
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert "at least 24 h" in page and "read it again later" in page and "L-4711" in page
    assert "17 Mar 2026, 07:00" in page  # ready a day after 12:00 UTC, which is 07:00 in Chicago
    answer = at.send("read-bio", test.ref, data=form_of(answer) | {"confirmed": "read-early"})
    assert answer.status_code == 302 and Entry.objects.count() == before + 1


def test_the_same_form_sent_twice_is_one_entry_and_says_so(at, client, world):
    data = typed_bio(at, world)
    first = at.send("log-bio", data=data)
    before = Entry.objects.count()
    second = at.send("log-bio", data=data)
    assert second.status_code == 302 and second.url == first.url
    assert Entry.objects.count() == before
    assert "already recorded" in text_of(client.get(second.url))


@pytest.mark.parametrize("page", ["follow-up-done", "register-unit", "correct", "void", "log-visit"])
def test_every_kind_of_form_may_be_sent_twice(at, world, page):
    args, data = ready(at, world, page)
    before = Entry.objects.count()
    first, second = (at.send(page, *args, data=data) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302), text_of(first)
    assert Entry.objects.count() == before + 1


def test_the_same_key_with_other_content_shows_both_and_writes_nothing(at, world):
    data = typed_bio(at, world)
    at.send("log-bio", data=data)
    before = Entry.objects.count()
    answer = at.send("log-bio", data=data | {"cycle_number": "C-4712"})
    page = text_of(answer)
    assert answer.status_code == 409 and Entry.objects.count() == before
    stands = BioTest.objects.get()
    assert reverse("record", args=[world.clinic.slug, "biotest", stands.ref]) in page
    assert "C-4712" in page and "Nothing new was written" in page


@pytest.mark.parametrize("page", ["correct", "void"])
def test_a_correction_needs_its_reason(at, world, page):
    args, data = ready(at, world, page)
    before = Entry.objects.count()
    answer = at.send(page, *args, data=data | {"reason": "  ", "row_cycle_number": "C-88"})
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert "Say why it" in text_of(answer)
    assert page == "void" or "C-88" in text_of(answer)


def test_a_withdrawal_needs_its_reason(at, world):
    data = form_of(at.open("unit-event", world.unit.ref)) | {"kind": "withdrawn"}
    before = Entry.objects.count()
    answer = at.send("unit-event", world.unit.ref, data=data)
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert "Say why" in text_of(answer)
