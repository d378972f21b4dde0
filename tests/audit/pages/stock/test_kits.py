"""A kit from its list to a visit that opens one: each component with its own lot, each piece accounted for."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.pages.stock.read import stock_of
from records import clock, log
from records.log.kit_rules import kits_of
from records.models import Entry, FittedPart, PartLot
from tests import visit_world
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of
from tests.audit.pages.visit.test_pages import END, Phone, words
from tests.records.page_form import form_of
from tests.records.template_world import kit_of, parts_of

pytestmark = pytest.mark.django_db
CAME = date(2026, 2, 2)


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def bag(settings, tmp_path):
    """The technician's van holds one kit: a gasket and two filters, the second of them of another lot."""
    settings.BLOBS_DIR = tmp_path
    built = visit_world.make()
    world = built.world
    who = {"by": world.people["stores"], "owner": world.company}
    keeper = world.people["technician"].full_name
    world.van = log.log_stock_place(**who, request_key=made.key(), name="Van 1", kind="van", keeper=keeper)
    gasket = log.log_part(**who, request_key=made.key(), name="Bag gasket", component="gasket", number="B-1")
    filters = log.log_part(**who, request_key=made.key(), name="Bag filter", component="air filter", number="B-2")
    world.kit = log.log_kit(
        **who, request_key=made.key(), name="Two-year kit", components=[(gasket, 1), (filters, 2)]
    )
    listed = kits_of(world.company)[0].list
    lots = {row.origin: {"lot": f"LOT-{n}"} for n, row in enumerate(listed)}
    world.came = log.receive_kit(
        **who, request_key=made.key(), kit=world.kit, kits=1, receipt_lot="R-9", on=CAME, place=world.van, lots=lots
    )
    return built


def left(world) -> dict[str, int]:
    """By the lot as printed how many lie in the van."""
    return {
        held.row.lot: held.account.left for held in stock_of(world.company, made.TODAY).lots if held.account.known
    }


# ------------------------------------------------------------------------------------------------ lists and receipts


def test_a_kit_is_a_list_of_parts_and_another_list_takes_its_place(world):
    parts = parts_of(world)
    kit = kit_of(world, parts)
    (held,) = kits_of(world.company)
    assert [(row.part.name, row.quantity) for row in held.list] == [("Cassette seal", 1), ("Air filter", 2)]
    newer = kit_of(world, parts, instead_of=kit, components=[(parts["Air filter"], 1)])
    assert kits_of(world.company) == [newer] and len(kits_of(world.company)[0].list) == 1
    with pytest.raises(log.Refused, match="changed meanwhile"):
        kit_of(world, parts, instead_of=kit)


def test_what_no_kit_may_say(world):
    parts = parts_of(world)
    seal = parts["Cassette seal"]
    for more, message in (
        ({"name": " "}, "What is the kit called"),
        ({"components": []}, "at least one part"),
        ({"components": [(seal, 0)]}, "At least one"),
        ({"components": [(seal, 1), (seal, 2)]}, "twice"),
    ):
        with pytest.raises(log.Refused, match=message):
            kit_of(world, parts, **more)
    kit_of(world, parts)
    with pytest.raises(log.Refused, match="kit called Two-year kit already"):
        kit_of(world, parts)
    theirs = log.log_part(
        by=world.people["other-dispatcher"],
        request_key=made.key(),
        owner=world.other_company,
        name="X",
        component="x",
    )
    with pytest.raises(log.Refused, match="not in your books"):
        kit_of(world, parts, name="Other", components=[(theirs, 1)])
    with pytest.raises(log.NotYours):
        kit_of(world, parts, name="Other", by=world.people["other-dispatcher"])


def test_some_that_came_are_a_receipt_of_each_component(bag):
    world = bag.world
    assert [(lot.part.name, lot.lot, lot.receipt_lot) for lot in world.came] == [
        ("Bag gasket", "LOT-0", "R-9"), ("Bag filter", "LOT-1", "R-9"),
    ]  # fmt: skip
    assert {name: left(world)[name] for name in ("LOT-0", "LOT-1")} == {"LOT-0": 1, "LOT-1": 2}


def test_the_pages_of_kits(bag):
    world = bag.world
    client = signed_in(Client(), world, "stores")
    slug = world.company.slug
    assert "Two-year kit" in text_of(get(client, "kits", slug))
    address = reverse("change-kit", args=[slug, world.kit.ref])
    sent = form_of(client.get(address)) | {"quantity_1": "3"}
    assert client.post(address, sent).status_code == 302
    assert [row.quantity for row in kits_of(world.company)[0].list] == [1, 3]
    # The list that was changed is no kit any more; a second tap is answered all the same.
    assert client.get(address).status_code == 404
    kit = kits_of(world.company)[0]
    address = reverse("receive-kit", args=[slug, kit.ref])
    sent = form_of(client.get(address)) | {"receipt_lot": "R-10", "kits": "2", "lot_0": "LOT-A"}
    refused = client.post(address, sent | {"kits": "none"})
    assert refused.status_code == 422 and "not a whole number" in text_of(refused)
    for _ in range(2):
        assert client.post(address, sent).status_code == 302
    assert sorted(PartLot.objects.filter(receipt_lot="R-10").values_list("lot", flat=True)) == ["", "LOT-A"]


# ---------------------------------------------------------------------------------------------------- in a visit


def opened(bag, **fates):
    """The answers of the kit's page: of each piece what became of it, with its lot where it was fitted."""
    gasket, filters = bag.world.came
    said = {"kit": "Two-year kit"}
    for n, lot in enumerate((gasket, filters, filters)):
        fate = fates.get(f"piece{n}", "fitted")
        said |= {f"k0p{n}_fate": fate, f"k0p{n}_lot": str(lot.origin)}
        said |= {f"k0p{n}_old": "scrapped"} if fate == "fitted" else {}
    places = {p.code: str(p.origin) for p in bag.unit_positions}
    return said | {"k0p0_position": places["door-gasket"], "k0p1_position": places["air-filter"]}


@pytest.fixture
def phone(bag):
    from records.models import Position

    bag.unit_positions = list(Position.objects.filter(unit=bag.unit))
    return Phone(bag).begin().to_the_tasks()


def test_a_kit_with_one_piece_unused_is_recorded_piece_by_piece_and_stock_follows(phone, bag):
    assert phone.send("kit-1", **opened(bag, piece2="left out")).status_code == 302
    assert phone.send("task-replace-gasket", go="done", from_kit="Two-year kit").status_code == 302
    phone.send("end", **END | {"conclusion": "not released", "clinic": "left out of use", "reason": "tests to come"})
    before = left(bag.world)
    answer = phone.record()
    assert answer.status_code == 302, words(answer)
    rows = FittedPart.objects.filter(kit="Two-year kit").order_by("line")
    assert [(r.name, r.lot, r.quantity, r.kit_fate, r.kit_pieces) for r in rows] == [
        ("Bag gasket", "LOT-0", 1, "fitted", 1), ("Bag filter", "LOT-1", 1, "fitted", 1),
        ("Bag filter", "LOT-1", 0, "left out", 1),
    ]  # fmt: skip
    now = left(bag.world)
    assert (now["LOT-0"], now["LOT-1"]) == (before["LOT-0"] - 1, before["LOT-1"] - 1)
    page = get(signed_in(Client(), bag.world, "stores"), "stock-lot", "keepers", bag.world.came[1].origin)
    assert "1 not fitted: left out, Two-year kit: Kettle, First Clinic; nothing moved" in text_of(page)


def test_a_piece_that_was_not_in_the_bag_is_missed_until_it_is_counted(phone, bag):
    phone.send("kit-1", **opened(bag, piece2="not in the bag"))
    phone.send("end", **END | {"conclusion": "not released", "clinic": "left out of use", "reason": "tests to come"})
    assert phone.record().status_code == 302
    client = signed_in(Client(), bag.world, "stores")
    told = "1 not in the bag on 16 Mar 2026"
    assert told in text_of(get(client, "stock", "keepers"))
    log.log_stock_move(
        by=bag.world.people["stores"], request_key=made.key(), owner=bag.world.company, lot=bag.world.came[1],
        kind="counted", quantity=0, place=bag.world.van, on=made.TODAY,
    )  # fmt: skip
    assert told not in text_of(get(client, "stock", "keepers"))


def test_every_piece_has_an_answer_and_what_was_fitted_its_lot(phone, bag):
    refused = phone.send("kit-1", **opened(bag) | {"k0p2_fate": "", "k0p0_lot": ""})
    assert refused.status_code == 422
    assert "What became of Bag filter?" in words(refused) and "Which lot was fitted?" in words(refused)


def test_a_task_that_names_the_kit_rests_on_its_page(phone, bag):
    phone.send("task-replace-gasket", go="done", from_kit="Two-year kit")
    phone.send("end", **END | {"conclusion": "not released", "clinic": "left out of use", "reason": "tests to come"})
    refused = phone.record()
    assert refused.status_code == 422 and "no page of that kit fitted one here" in words(refused)
    phone.send("kit-1", **opened(bag, piece0="old one kept"))
    assert phone.record().status_code == 422
    phone.send("kit-1", **opened(bag))
    assert phone.record().status_code == 302


def test_only_what_was_fitted_renews_its_place(phone, bag):
    phone.send("kit-1", **opened(bag, piece0="old one kept", piece1="left out"))
    phone.send("end", **END | {"conclusion": "not released", "clinic": "left out of use", "reason": "tests to come"})
    assert phone.record().status_code == 302
    facts = clinic_facts(bag.world.clinic)
    said = next(u for u in evaluate(facts, made.TODAY).units if u.unit == str(bag.unit.ref))
    told = [f.message for f in said.findings if f.rule == "kit-part-not-fitted"]
    assert any("Bag gasket of kit Two-year kit" in m and "old one kept" in m for m in told), told
    gasket = next(c for c in said.clocks if c.code == "replace-gasket")
    assert gasket.counts_from.text.endswith("2024-03-11") or "2024-03-11" in gasket.counts_from.text


# ------------------------------------------------------------------------------------------------- the writer's rule


def parts_row(bag, n, fate="fitted", **more):
    row = {"part_lot": bag.world.came[n], "kit": "Two-year kit", "kit_fate": fate, "kit_pieces": 1}
    row |= {"quantity": 1 if fate == "fitted" else 0, "action": "replaced on condition", "old_part": "scrapped"}
    return row | more


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (((0, "fitted", {}), (1, "fitted", {})), "holds 2 × Bag filter, and 1 are accounted for"),
        (((0, "fitted", {"kit_pieces": 2}),), "2 pieces are said to be fitted, and 1 counted"),
        (((0, "left out", {"quantity": 1}),), "fitted none of them"),
        (((0, "fitted", {"kit": ""}),), "Out of which kit"),
        (((0, "fitted", {"kit_pieces": None}),), "How many pieces"),
        (((0, "", {}),), "What became of these pieces"),
    ],
)
def test_what_no_visit_may_say_of_a_kit(bag, rows, message):
    world = bag.world
    parts = [parts_row(bag, n, fate) | more for n, fate, more in rows]
    job = {"unit": bag.unit, "reason": "planned", "contamination": "declared clean", "parts": parts}
    job["conclusion"] = {"conclusion": "released"}
    before = Entry.objects.count()
    with pytest.raises(log.Refused, match=message):
        log.log_visit(
            by=world.people["technician"], request_key=made.key(), clinic=world.clinic, on=made.TODAY, jobs=[job]
        )
    assert Entry.objects.count() == before


def test_the_company_that_has_none_of_it_finds_nothing(bag):
    client = Client()
    client.force_login(bag.world.people["other-dispatcher"])
    for name, args in (("kits", []), ("change-kit", [bag.world.kit.ref]), ("receive-kit", [bag.world.kit.ref])):
        assert client.get(reverse(name, args=["keepers", *args])).status_code == 404
    assert client.get(reverse("change-kit", args=["strangers", bag.world.kit.ref])).status_code == 404
