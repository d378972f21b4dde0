"""Rows typed or pasted into a table on a page: one entry for all of them, judged as the forms judge each."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from records import clock
from records import models as m
from records.ledger import tamper_check
from tests import world as build
from tests.paper_files import drawn

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make(units=3)


@pytest.fixture
def typed(client, world):
    """Send rows of spore tests, each a dict by field; `same` holds in all of them."""
    client.force_login(world.people["operator"])

    def do(*rows, kind="spore-tests", name="type-rows", same=(), **more):
        data = {"count": len(rows), "request_key": str(build.key()), "who": "", "paper": "", **more}
        data |= {f"same:{field}": text for field, text in dict(same).items()}
        for n, row in enumerate(rows, 1):
            data |= {f"{n}:{field}": text for field, text in row.items()}
        return client.post(reverse(name, args=["first", kind]), data)

    return do


SAME = {"unit": "Unit 1", "lot": "B-100", "control_lot": "the lot of the test", "cycle_type": "wrapped"}
PAGE = "log book 2, page 14, in the cupboard of room 1"


def week(n: int) -> dict:
    read = {"read:on": f"2025-03-{n + 1:02}", "read:test": "no growth", "read:control": "growth"}
    return {"on": f"2025-03-{n:02}"} | read


def said(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_typed_rows_are_one_entry_each_its_own_fact(world, typed):
    answer = typed(week(3), {}, week(10), same=SAME, who="Ann Old", paper=PAGE)
    assert answer.status_code == 302
    entry = m.Entry.objects.latest("pk")
    assert (entry.what, entry.paper, str(entry.logged_by)) == ("spore tests from a table", PAGE, "Pat Operator")
    tests = m.BioTest.objects.filter(entry=entry)
    assert [(t.happened_on.day, str(t.run_by), t.control_lot) for t in tests] == [
        (3, "Ann Old", world.lot), (10, "Ann Old", world.lot),
    ]  # fmt: skip
    assert m.BioReading.objects.filter(entry=entry).count() == 2
    assert tamper_check.verify(world.clinic).whole


def test_who_is_not_named_is_whoever_types_as_in_the_form(typed):
    typed({"on": "2026-03-16", "result": "pass", "unit": "Unit 1"}, kind="air-removal-tests")
    assert str(m.AirRemovalTest.objects.get().run_by) == "Pat Operator"


def test_one_wrong_row_and_nothing_is_recorded_and_all_stays_typed(typed):
    answer = typed(week(3), week(10) | {"read:on": "2025-03-09"}, same=SAME, paper=PAGE)
    assert answer.status_code == 422 and m.BioTest.objects.count() == 0
    shown = said(answer)
    assert "2025-03-09 lies before 2025-03-10, the day the test was run" in shown
    assert 'value="2025-03-03"' in shown and f'value="{PAGE}"' in shown and 'data-row="2" class="row--bad"' in shown


def test_the_same_form_sent_twice_is_recorded_once(typed):
    key = str(build.key())
    typed(week(3), same=SAME, paper=PAGE, request_key=key)
    answer = typed(week(3), same=SAME, paper=PAGE, request_key=key)
    assert answer.status_code == 422 and "Every row is on record already" in said(answer)
    assert m.BioTest.objects.count() == 1


def test_what_is_asked_is_confirmed_for_all_rows(typed):
    """Of what is not from paper, a day before the unit was on the register is asked about, as in the form."""
    row = week(3) | {"on": "2024-03-03", "read:on": "2024-03-04"}
    assert "on the register" in said(typed(row, same=SAME))
    assert typed(row, same=SAME, confirmed="before-register").status_code == 302


def test_pasted_text_is_taken_over_by_its_heads_and_nothing_is_swallowed(typed):
    pasted = "Date\tSterilizer\tResult\tControl\n2025-03-03\tUnit 2\tnegative\todd word\n"
    shown = said(typed(paste="1", pasted=pasted, same=SAME))
    assert 'name="1:on" value="2025-03-03"' in shown and 'name="1:unit" value="Unit 2"' in shown
    assert '<option value="no growth" selected>' in shown and "<option selected>odd word</option>" in shown
    assert m.BioTest.objects.count() == 0


def test_more_than_five_hundred_rows_are_not_typed(typed):
    pasted = "\n".join(f"Unit 1\t2025-03-{n % 28 + 1:02}" for n in range(501))
    assert "at most 500 are typed at a time" in said(typed(paste="1", pasted=pasted))


def test_a_row_is_checked_as_it_is_typed_and_nothing_is_written(typed):
    before = m.Entry.objects.count()
    good = json.loads(typed(week(3), same=SAME, name="check-row", paper=PAGE).content)
    assert good == {"faults": [], "known": ""}
    bad = json.loads(typed(week(3) | {"unit": "Unit 7"}, same=SAME, name="check-row").content)
    (fault,) = bad["faults"]
    assert fault["head"] == "Unit" and "No unit stands here that is called “Unit 7”" in fault["message"]
    assert m.Entry.objects.count() == before and m.PersonText.objects.filter(value="Ann Old").count() == 0


def test_the_picture_of_the_page_is_a_paper_in_the_same_entry(typed):
    typed(week(3), same=SAME, paper=PAGE, picture=SimpleUploadedFile("page.pdf", drawn()))
    entry = m.Entry.objects.latest("pk")
    paper = m.Document.objects.get(entry=entry)
    assert paper.title == f"Page that rows were copied from: {PAGE}" and m.BioTest.objects.get().entry == entry


def test_a_picture_that_cannot_be_kept_is_refused_with_all_rows(typed):
    answer = typed(week(3), same=SAME, paper=PAGE, picture=SimpleUploadedFile("page.pdf", b"%PDF-1.7 broken"))
    assert answer.status_code == 422 and m.BioTest.objects.count() == 0 and m.Document.objects.count() == 0


@pytest.mark.parametrize(
    "kind, row",
    [
        ("loads", {"cycle_number": "12", "program": "wrapped", "mechanical": "pass", "chemical": "pass"}),
        ("air-removal-tests", {"result": "fail"}),
        ("leak-tests", {"rise": "2.0", "unit_of_measure": "mbar", "minutes": "10"}),
        ("checks", {"kind": "automatic control", "result": "pass", "signed_by": "Ann Old"}),
        ("chemical-indicators", {"type": "5", "result": "pass"}),
    ],
)
def test_every_kind_makes_the_same_row_as_its_form(client, world, typed, kind, row):
    """Typed into the table and sent by the form: all columns of the two rows are alike, but for what says where."""
    from records.brought.kinds import KINDS

    model, form = KINDS[kind].model, {"loads": "log-load", "air-removal-tests": "log-air-removal",
                                      "leak-tests": "log-leak", "checks": "log-user-check",
                                      "chemical-indicators": "log-chemical"}[kind]  # fmt: skip
    usual = {"purpose": "routine", "chamber": "empty"} if kind == "air-removal-tests" else {}
    usual |= {"purpose": "routine"} if kind in ("leak-tests", "checks") else {}
    usual |= {"limit": "0.13", "limit_source": "Invented manual"} if kind == "leak-tests" else {}
    confirmed = ["unit-out"]
    same = {"limit_source": "Invented manual"} if kind == "leak-tests" else {}
    answer = typed(row | {"unit": "Unit 1", "on": "2026-03-12"} | same, kind=kind, confirmed=confirmed)
    assert answer.status_code == 302, said(answer)
    other = row | usual | {"unit": str(world.unit.ref), "on": "2026-03-13", "request_key": str(build.key())}
    other |= {"confirmed": [*confirmed, "cycle-repeated"], "seen_rate": "when it is sent"}
    assert client.post(reverse(form, args=["first"]), other).status_code == 302
    one, two = model.objects.order_by("happened_on")
    apart = {"id", "ref", "origin", "entry", "line", "happened_on", "limit_source"}
    for name in [f.name for f in model._meta.concrete_fields if f.name not in apart]:
        assert getattr(one, name) == getattr(two, name), name
    assert m.FailureCase.objects.count() == (2 if row.get("result") == "fail" else 0)


KEYS_A_SECOND = 4  # 48 words a minute, which is no fast typist: common practice, no source


def test_a_year_of_paper_of_three_units_takes_less_than_twenty_minutes_of_keys(typed):
    """What is the same in all rows is typed once; a day without its zeros; a result by its first letters."""
    same = {"lot": "B-100", "control_lot": "the lot of the test", "cycle_type": "wrapped"}
    year, keys = [], 0
    for week_of_year in range(52):
        run = build.TODAY - timedelta(days=7 * week_of_year + 1)
        days = [f"{day.day}.{day.month}.{day:%y}" for day in (run, run + timedelta(days=1))]
        for unit in ("Unit 1", "Unit 2", "Unit 3"):
            read = {"read:on": days[1], "read:test": "no growth", "read:control": "growth"}
            year.append({"unit": unit, "on": days[0]} | read)
            keys += sum(len(text) + 1 for text in (unit, *days, "no ", "g"))
    assert keys / KEYS_A_SECOND < 20 * 60
    assert typed(*year, same=same, who="Ann Old", paper="log book 3").status_code == 302
    assert m.BioTest.objects.count() == m.BioReading.objects.count() == 156
    assert m.BioTest.objects.values("entry").distinct().count() == 1


def test_rows_of_one_table_see_each_other_as_entries_of_the_form_do(typed):
    """A number that leaps between rows is asked about; from paper, which comes in any order, it is not."""
    rows = [
        {"unit": "Unit 1", "on": "2026-03-12", "cycle_number": n, "program": "wrapped", "mechanical": "pass"}
        for n in ("10", "14")
    ]
    shown = said(typed(*rows, kind="loads", confirmed="unit-out"))
    assert "Cycle 14 leaves 3 cycles without a record: the last one on record is 10" in shown
    assert m.Load.objects.count() == 0
    assert typed(*rows, kind="loads", confirmed=["unit-out"], paper=PAGE).status_code == 302
