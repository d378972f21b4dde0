"""The stock of parts in the open format: what is written reads back the same, and tells where each lot is."""

from __future__ import annotations

import copy
import json
from datetime import date

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from jsonschema import Draft202012Validator

from audit.exchange import stock
from audit.exchange.codec import BadFile, export_of
from audit.gather.read import clinic_facts
from audit.gather.stock import stock_facts
from audit.pages.stock.read import stock_of
from audit.planning.stock import StockStep, account
from records import clock, log
from tests import world as made

pytestmark = pytest.mark.django_db
CAME = date(2026, 2, 2)


@pytest.fixture
def world():
    """Ten of a lot in the store, four moved to the van, one fitted, one thrown away, the van counted, one recall."""
    with clock.at(made.NOW):
        built = made.make()
        built.store, built.van = place(built, "Store", "store"), place(built, "Van 1", "van", keeper="Pat Technician")
        part = log.log_part(
            **by(built), owner=built.company, name="Invented gasket", component="gasket", number="G-7"
        )
        built.lot = log.log_part_lot(
            **by(built), owner=built.company, part=part, receipt_lot="K-1", lot="L-77", on=CAME, quantity=10,
            place=built.store, expiry=date(2029, 1, 31),
        )  # fmt: skip
        moved(built, "moved", 4, built.store, to_place=built.van)
        fitted(built)
        moved(built, "thrown away", 1, built.store, reason="bag torn")
        moved(built, "counted", 2, built.van)
        notice = log.log_part_recall(
            **by(built, "dispatcher"), owner=built.company, part="Invented gasket", number="G-7", lot="L-77",
            issued_by="Invented Parts", reason="too soft", action="replace", on=made.TODAY,
        )  # fmt: skip
        log.log_recall_told(
            **by(built, "dispatcher"), owner=built.company, recall=notice, clinic=built.clinic, told_to="Rae",
            how="telephone", on=made.TODAY,
        )  # fmt: skip
        yield built


def by(world, role="stores") -> dict:
    return {"by": world.people[role], "request_key": made.key()}


def place(world, name, kind, keeper=""):
    return log.log_stock_place(**by(world), owner=world.company, name=name, kind=kind, keeper=keeper)


def moved(world, kind, quantity, where, **more):
    said = {"owner": world.company, "lot": world.lot, "kind": kind, "quantity": quantity, "place": where} | more
    return log.log_stock_move(**by(world), on=made.TODAY, **said)


def fitted(world):
    part = {"part_lot": world.lot, "action": "replaced on condition", "old_part": "scrapped"}
    job = {"unit": world.unit, "reason": "breakdown", "contamination": "declared clean", "parts": [part],
           "conclusion": {"conclusion": "released"}}  # fmt: skip
    confirmed = ("recalled-part",)
    return log.log_visit(
        **by(world, "technician"), clinic=world.clinic, on=made.TODAY, jobs=[job], confirmed=confirmed
    )


@pytest.fixture
def data(world, tmp_path) -> dict:
    path = tmp_path / "stock.json"
    call_command("export", "keepers", "--stock", out=str(path))
    return json.loads(path.read_text(encoding="utf-8"))


def test_what_is_written_reads_back_as_the_same_facts(world, data):
    books = stock.read_stock(data)
    assert books == stock_facts(world.company)
    assert [len(x) for x in (books.places, books.lots, books.moves, books.fitted, books.recalls, books.told)] == [
        2, 1, 4, 1, 1, 1,
    ]  # fmt: skip
    assert (books.lots[0].lot, books.lots[0].expiry, books.lots[0].part) == (
        "L-77", date(2029, 1, 31), "Invented gasket",
    )  # fmt: skip
    assert (books.fitted[0].clinic, books.fitted[0].unit, books.fitted[0].worked_by) == (
        "First Clinic", "Unit 1", "Pat Technician",
    )  # fmt: skip
    assert (books.told[0].clinic, books.told[0].recall) == ("First Clinic", books.recalls[0].row.origin)


def test_the_file_tells_where_each_lot_is_as_the_page_does(world, data):
    books = stock.read_stock(data)
    vans = {p.keeper: p.row.origin for p in books.places if p.keeper}
    steps = [
        StockStep(m.row.happened_on, (m.row.number, m.row.line), m.kind, m.quantity, m.place, m.to_place)
        for m in books.moves
    ]
    # One ledger's numbers say nothing beside another's: it was fitted after the van was filled, before the rest.
    between = next(s.order for s in steps if s.kind == "moved")
    steps += [
        StockStep(p.row.happened_on, (*between, 1), "fitted", p.quantity, "", "", vans[p.worked_by])
        for p in books.fitted
    ]
    told = account(steps, made.TODAY)
    (held,) = stock_of(world.company, made.TODAY).lots
    assert {(x.place, x.level) for x in told.lying} == {(x.place, x.level) for x in held.account.lying}
    assert {x.level for x in told.lying} == {5, 2} and told.fitted == held.account.fitted == 1
    assert [d.difference for d in told.differences] == [d.difference for d in held.account.differences] == [-1]


def test_what_was_entered_in_error_is_not_in_it_and_what_was_corrected_is_as_corrected(world):
    wrong = moved(world, "returned", 2, world.store, reason="wrong part")
    log.void(**by(world), row=wrong, reason="another lot")
    log.correct(**by(world), row=world.lot, changes={"lot": "L-78"}, reason="misread", confirmed=("lot-alone",))
    books = stock_facts(world.company)
    assert "returned" not in {m.kind for m in books.moves}
    (lot,) = books.lots
    assert (lot.lot, lot.row.corrected, lot.row.origin) == ("L-78", True, str(world.lot.origin))
    assert {m.lot for m in books.moves} == {lot.row.origin} == {p.lot for p in books.fitted}
    assert stock.read_stock(json.loads(json.dumps(stock.export_of(books)))) == books


def test_it_is_of_one_organisation_and_a_clinics_file_holds_none_of_it(world):
    assert stock_facts(world.other_company).lots == () == stock_facts(world.clinic).lots
    assert "L-77" not in json.dumps(export_of(clinic_facts(world.clinic))["clinic"].get("moves", ""))
    assert "moves" not in export_of(clinic_facts(world.clinic))["clinic"]


def test_the_schema_is_in_step_and_says_what_the_reader_accepts(data):
    assert stock.FILE.read_text(encoding="utf-8") == stock.text()
    Draft202012Validator.check_schema(stock.schema())
    assert [e.message for e in Draft202012Validator(stock.schema()).iter_errors(data)] == []


# what is spoilt, where it is said, whether the schema sees it too
SPOILT = [
    (lambda d: d.update(format="steam-unit-history"), "format", True),
    (lambda d: d.update(version=2), "version", True),
    (lambda d: d.update(version=True), "version", False),  # JSON Schema takes no notice of what Python calls True
    (lambda d: d.update(more=1), "more", True),
    (lambda d: d.pop("books"), "books", True),
    (lambda d: d["books"]["moves"][0].update(kind="lost"), "books.moves[0].kind", True),
    (lambda d: d["books"]["moves"][0].update(quantity="10"), "books.moves[0].quantity", True),
    (lambda d: d["books"]["moves"][0].update(lot="nowhere"), "books.moves[0].lot", False),
    (lambda d: d["books"]["moves"][0].update(place=""), "books.moves[0].place", False),
    (lambda d: d["books"]["moves"][1].update(to_place="nowhere"), "books.moves[1].to_place", False),
    (lambda d: d["books"]["fitted"][0].update(lot="nowhere"), "books.fitted[0].lot", False),
    (lambda d: d["books"]["told"][0].update(recall="nowhere"), "books.told[0].recall", False),
    (lambda d: d["books"]["lots"].append(copy.deepcopy(d["books"]["lots"][0])), "books.lots[1].row.origin", False),
    (lambda d: d["books"]["lots"][0].pop("part"), "books.lots[0].part", True),
    (lambda d: d["books"]["lots"][0].update(expiry="soon"), "books.lots[0].expiry", True),
]


@pytest.mark.parametrize(("spoil", "where", "seen"), SPOILT, ids=[row[1] for row in SPOILT])
def test_a_spoilt_file_is_refused_with_the_place(data, spoil, where, seen):
    spoil(data)
    with pytest.raises(BadFile) as error:
        stock.read_stock(data)
    assert where in [path for path, _ in error.value.faults]
    assert Draft202012Validator(stock.schema()).is_valid(data) is not seen or where == "version"


def test_what_is_no_such_file_is_refused():
    for junk in (None, [], "x", 7):
        with pytest.raises(BadFile):
            stock.read_stock(junk)


@pytest.mark.parametrize(
    "more", [["nowhere", "--stock"], ["keepers", "--stock", "--known-at", "2026-03-01T00:00:00Z"]]
)
def test_the_command_refuses_what_it_cannot_write(world, tmp_path, more, capsys):
    with pytest.raises(SystemExit) as end:
        call_command("export", *more, out=str(tmp_path / "x.json"))
    assert end.value.code == 2 and not (tmp_path / "x.json").exists()


def test_queries_do_not_grow_with_the_books(world):
    counted = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as taken:
            stock_facts(world.company)
        counted.append(len(taken))
        for _ in range(3):
            moved(world, "moved", 1, world.store, to_place=world.van)
            fitted(world)
    assert counted[0] == counted[1] <= 10
