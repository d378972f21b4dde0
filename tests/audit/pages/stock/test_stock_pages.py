"""Pages of a company's parts: what is entered is where it lies, a visit lowers it, a recall finds it everywhere."""

from __future__ import annotations

import io
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from records import clock, log
from records.log import Refused
from records.models import FittedPart, PartLot, RecallTold, StockMove
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of
from tests.budget import MOST_QUERIES
from tests.records.page_form import form_of

pytestmark = pytest.mark.django_db
CAME = date(2026, 2, 2)


@pytest.fixture
def parts(world):
    """A lot of ten in the store, four of them in the technician's van."""
    with clock.at(made.NOW):
        who = {"by": world.people["stores"], "owner": world.company}
        world.store = log.log_stock_place(**who, request_key=made.key(), name="Store", kind="store")
        keeper = world.people["technician"].full_name
        world.van = log.log_stock_place(**who, request_key=made.key(), name="Van 1", kind="van", keeper=keeper)
        world.part = log.log_part(
            **who, request_key=made.key(), name="Invented gasket", component="gasket", number="G-7"
        )
        world.stocked = lot_of(world, "K-1", lot="L-77", quantity=10, place=world.store)
        moved(world, "moved", 4, world.store, to_place=world.van)
        yield world


def lot_of(world, receipt: str, **more):
    return log.log_part_lot(
        by=world.people["stores"], owner=world.company, request_key=made.key(), part=world.part,
        receipt_lot=receipt, on=CAME, **more,
    )  # fmt: skip


def moved(world, kind, quantity, place, **more):
    said = {"lot": world.stocked, "on": made.TODAY} | more
    return log.log_stock_move(
        by=world.people["stores"], owner=world.company, request_key=made.key(), kind=kind, quantity=quantity,
        place=place, **said,
    )  # fmt: skip


def fitted(world, on=made.TODAY, clinic=None, unit=None, by="technician", **more):
    part = {"part_lot": world.stocked, "action": "replaced on condition", "old_part": "scrapped"} | more
    job = {"unit": unit or world.unit, "reason": "breakdown", "contamination": "declared clean", "parts": [part]}
    job["conclusion"] = {"conclusion": "released"}
    log.log_visit(
        by=world.people[by], request_key=made.key(), clinic=clinic or world.clinic, on=on, jobs=[job],
        confirmed=("recalled-part",),
    )  # fmt: skip
    return FittedPart.objects.order_by("id").last()


def recalled(world, **more):
    said = {"part": "Invented gasket", "number": "G-7", "lot": "L-77", "issued_by": "Invented Works"}
    said |= {"reason": "too soft", "action": "replace", "on": made.TODAY}
    return log.log_part_recall(by=world.people["stores"], owner=world.company, request_key=made.key(), **said | more)


def shown(client, world, name="stock", *args, role="stores", **query) -> str:
    return text_of(get(signed_in(client, world, role), name, world.company.slug, *args, **query))


def test_a_company_without_parts_is_told_the_three_steps(client, world):
    seen = shown(client, world)
    assert "No lot is in the books yet" in seen and "Add a store or a van" in seen and "Enter a receipt" in seen


def test_each_lot_says_where_it_lies_and_a_visit_lowers_the_van_of_who_did_the_work(client, parts):
    assert "Store: 6 Van 1: 4" in shown(client, parts)
    fitted(parts)
    assert "Store: 6 Van 1: 3" in shown(client, parts)
    seen = shown(client, parts, "stock-lot", parts.stocked.ref)
    assert "1 fitted: Unit 1, First Clinic, from Van 1 (the van of who did the work)" in seen


def test_what_was_found_in_place_or_entered_in_error_lowers_nothing(client, parts):
    fitted(parts, action="found in place", old_part="not known")
    wrong = fitted(parts)
    log.void(by=parts.people["technician"], request_key=made.key(), row=wrong, reason="another unit")
    assert "Store: 6 Van 1: 4" in shown(client, parts)


def test_where_a_part_was_taken_from_can_be_said_once(client, parts):
    part = fitted(parts)
    signed_in(client, parts, "stores")
    address = reverse("stock-fitted-from", args=[parts.company.slug, parts.stocked.ref, part.ref])
    typed = form_of(client.get(address)) | {"place": str(parts.store.ref)}
    assert client.post(address, typed).status_code == 302
    assert "Store: 5 Van 1: 4" in shown(client, parts)
    again = client.post(address, form_of(client.get(address)) | {"place": str(parts.van.ref)})
    assert again.status_code == 422 and "is on record" in text_of(again)


def test_a_count_is_entered_on_its_page_and_its_difference_is_said(client, parts):
    signed_in(client, parts, "technician")
    address = reverse("stock-move", args=[parts.company.slug, parts.stocked.ref, "counted"])
    typed = form_of(client.get(address)) | {"place": str(parts.van.ref), "quantity": "1"}
    assert client.post(address, typed).status_code == 302
    seen = shown(client, parts)
    assert "at Van 1: 1, 3 fewer than the entries say" in seen
    assert "Store: 6 Van 1: 1" in seen


def test_more_out_than_in_is_recorded_and_said_with_the_way_out(client, parts):
    moved(parts, "thrown away", 9, parts.van, reason="wet")
    seen = shown(client, parts)
    assert "5 more went out of Van 1 than came in" in seen and "count what lies there" in seen


def test_a_lot_received_without_a_number_is_not_known_until_it_is_counted(client, parts):
    lot = lot_of(parts, "K-2")
    assert "not known: count them" in shown(client, parts)
    moved(parts, "counted", 2, parts.store, lot=lot)
    assert "not known" not in shown(client, parts)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"kind": "moved", "quantity": 1}, "To where were they moved"),
        ({"kind": "moved", "quantity": 0, "to_place": "van"}, "Enter at least 1"),
        ({"kind": "thrown away", "quantity": 1}, "Say why"),
        ({"kind": "counted", "quantity": 1, "on": made.TODAY + timedelta(days=1)}, "future"),
        ({"kind": "counted", "quantity": 1, "on": CAME - timedelta(days=1)}, "The lot came on"),
        ({"kind": "fitted", "quantity": 1}, "Which fitted part"),
        ({"kind": "counted", "quantity": 1, "to_place": "van"}, "Leave it out"),
    ],
)
def test_what_cannot_be_is_refused_with_the_way_out_and_nothing_is_written(parts, more, says):
    before, said = StockMove.objects.count(), dict(more)
    if said.get("to_place"):
        said["to_place"] = parts.van
    with pytest.raises(Refused) as refusal:
        moved(parts, said.pop("kind"), said.pop("quantity"), parts.store, **said)
    assert says in str([p.message for p in refusal.value.problems])
    assert StockMove.objects.count() == before


def test_a_place_or_lot_of_another_company_is_refused(parts):
    theirs = log.log_stock_place(
        by=parts.people["other-dispatcher"], owner=parts.other_company, request_key=made.key(), name="Their store",
        kind="store",
    )  # fmt: skip
    with pytest.raises(Refused, match="no place of"):
        moved(parts, "counted", 1, theirs)
    with pytest.raises(log.NotYours):
        log.log_stock_move(
            by=parts.people["other-dispatcher"], owner=parts.company, request_key=made.key(), lot=parts.stocked,
            kind="counted", quantity=1, place=parts.store, on=made.TODAY,
        )  # fmt: skip


def test_a_recalled_or_expired_lot_is_never_shown_unmarked(client, parts):
    lot_of(parts, "K-9", expiry=made.TODAY - timedelta(days=1), quantity=1, place=parts.store)
    assert "do not fit: out of date" in shown(client, parts)
    recalled(parts)
    seen = shown(client, parts)
    assert seen.count("do not fit: recalled by Invented Works: replace") == 3  # by lot, and in both places
    assert "do not fit: may be of a lot recalled by Invented Works: replace; out of date" in seen  # none is printed
    signed_in(client, parts, "technician")
    offered = text_of(get(client, "log-visit", parts.clinic.slug, units=str(parts.unit.ref)))
    assert "out of date" in offered and "in doubt by the notice" in offered


def test_a_recall_says_what_is_open_and_done_in_stock_and_in_units_and_who_was_told(client, parts):
    fitted(parts, on=made.TODAY - timedelta(days=20))
    notice = recalled(parts)
    seen = shown(client, parts, "part-recall", notice.ref)
    assert "1 open, 0 done" in seen and "9 left" in seen and "Not told yet" in seen
    assert "Unit 1, serial INV-Unit 1 : open" in seen
    address = reverse("recall-told", args=[parts.company.slug, notice.ref, parts.clinic.slug])
    typed = form_of(client.get(address)) | {"told_to": "Ana Example", "how": "telephone"}
    assert client.post(address, typed).status_code == 302
    row = RecallTold.objects.get()
    assert (str(row.told_to), str(row.told_by), row.clinic) == (
        "Ana Example", parts.people["stores"].full_name, parts.clinic,
    )  # fmt: skip
    seen = shown(client, parts, "part-recall", notice.ref)
    assert "telephone, to Ana Example" in seen
    assert "Not told yet" not in seen


def test_the_letter_names_the_clinic_s_own_units_alone(client, parts):
    second = made.clinic_of(parts.people["coordinator"], "second", "Second Clinic")
    log.log_agreement(
        by=parts.people["coordinator"], request_key=made.key(), clinic=second, company=parts.company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    there = made.unit_at(second, parts.people["coordinator"], "Unit far away")
    for clinic, unit in ((parts.clinic, parts.unit), (second, there)):
        fitted(parts, on=made.TODAY - timedelta(days=20), clinic=clinic, unit=unit)
    notice = recalled(parts, action="stop use")
    signed_in(client, parts, "dispatcher")
    for place, own, other in ((parts.clinic, "Unit 1", "far away"), (second, "far away", "Unit 1")):
        answer = get(client, "recall-letter", parts.company.slug, notice.ref, place.slug)
        assert answer["Content-Type"] == "application/pdf"
        words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
        words = " ".join(words.split())
        assert own in words and other not in words and place.name in words
        assert "Do not use these units from now on" in words
    elsewhere = get(client, "recall-letter", parts.company.slug, notice.ref, parts.other_clinic.slug)
    assert elsewhere.status_code == 404


def test_a_receipt_is_corrected_on_its_page_and_both_versions_stay(client, parts):
    signed_in(client, parts, "stores")
    address = reverse("correct-lot", args=[parts.company.slug, parts.stocked.ref])
    typed = form_of(client.get(address)) | {"row_lot": "L-78", "reason": "misread"}
    asked = client.post(address, typed)
    assert asked.status_code == 422 and "receipt number" in text_of(asked)
    confirmed = client.post(address, form_of(asked) | {"confirmed": "lot-alone"})
    assert confirmed.status_code == 302
    assert PartLot.objects.newest().get(origin=parts.stocked.origin).lot == "L-78"
    seen = shown(client, parts, "stock-lot", parts.stocked.ref)
    assert "L-77" in seen and "L-78" in seen and "corrected: misread" in seen and "Store: 6 Van 1: 4" in seen


def test_the_pages_take_as_many_queries_however_many_lots_there_are(client, parts):
    fitted(parts)
    notice = recalled(parts)
    signed_in(client, parts, "stores")
    slug = parts.company.slug
    pages = [reverse("stock", args=[slug]), reverse("stock-lot", args=[slug, parts.stocked.ref])]
    pages += [reverse("part-recalls", args=[slug]), reverse("part-recall", args=[slug, notice.ref])]

    def counted():
        found = []
        for page in pages:
            client.get(page)
            with CaptureQueriesContext(connection) as taken:
                assert client.get(page).status_code == 200
            found.append(len(taken))
        return found

    few = counted()
    for n in range(4):
        lot = lot_of(parts, f"K-1{n}", lot="L-77", quantity=3, place=parts.store)
        moved(parts, "moved", 1, parts.store, to_place=parts.van, lot=lot)
        fitted(parts, part_lot=lot)
    assert counted() == few
    assert max(few) <= MOST_QUERIES
