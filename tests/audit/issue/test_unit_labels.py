"""Labels of units: the file, its places, what it says to a screen reader, and who may print it."""

from __future__ import annotations

import uuid
from datetime import date

import pytest
from django.core.management import call_command
from django.urls import reverse

from audit.binder.pdf.page import LEFT, SIZES, sheet
from audit.binder.pdf.unit_labels import COLUMNS, PER_SHEET, ROWS, TALL, WIDE, Label, _places, render_labels
from records import clock
from tests import world as made
from tests.audit.binder.blank_forms.test_drawn import STANDARDS
from tests.audit.binder.paper import texts
from tests.audit.binder.standards.checks import findings

TODAY = date(2026, 3, 16)
SITE = "https://standing.example"


def label(n: int) -> Label:
    ref = uuid.UUID(int=(n << 96) + n)
    return Label(f"Unit {n}", f"INV-{n}", f"{SITE}/u/{ref}/", f"standing.example/u/{ref.hex[:8]}")


@pytest.mark.parametrize("size", sorted(SIZES))
def test_twenty_labels_stand_on_a_sheet_and_inside_it(size):
    paper = sheet(size)
    places = _places(paper)
    assert len(places) == len(set((p.x, p.y) for p in places)) == PER_SHEET == COLUMNS * ROWS
    # A margin of 10 mm is what the least of printers can print to; common practice, no source.
    least = 10 / 25.4 * 72
    assert min(p.x + LEFT for p in places) > least and max(p.x + LEFT + WIDE for p in places) < paper.width - least
    assert min(p.y for p in places) > least and max(p.y + TALL for p in places) < paper.height - least


@pytest.mark.parametrize("size", sorted(SIZES))
@pytest.mark.parametrize(("count", "skip", "pages"), [(1, 0, 1), (20, 0, 1), (20, 1, 2), (1, 19, 1), (23, 19, 3)])
def test_used_places_are_left_free(size, count, skip, pages):
    body, made_pages = render_labels("Clinic", [label(n) for n in range(count)], TODAY, skip=skip, page_size=size)
    read = texts(body)
    assert made_pages == len(read) == pages
    on_first = min(count, PER_SHEET - skip)
    assert read[0].count("Serial INV-") == on_first
    assert [f"INV-{n}" in " ".join(read) for n in range(count)] == [True] * count


@pytest.fixture(scope="module", params=sorted(SIZES))
def body(request):
    return render_labels("Clinic", [label(n) for n in range(21)], TODAY, skip=3, page_size=request.param)[0]


def test_the_file_keeps_the_standards_of_the_binder(body):
    # A sheet of labels has no sections for an outline to lead to.
    assert findings(body, [each for each in STANDARDS if each != "outline_leads_through"]) == {}


def test_same_labels_same_bytes_and_long_names_are_cut():
    long = Label("A name that is far too long for a label of any size", "S" * 60, label(1).address, "x" * 90)
    first = render_labels("Clinic", [long, label(2)], TODAY)
    assert first == render_labels("Clinic", [long, label(2)], TODAY)
    assert "…" in texts(first[0])[0]


@pytest.mark.parametrize(
    ("labels", "skip", "page"), [([], 0, "a4"), ([1], 20, "a4"), ([1], -1, "a4"), ([1], 0, "a9")]
)
def test_what_cannot_be_printed_says_why(labels, skip, page):
    with pytest.raises(ValueError, match=r"[Cc]hoose|Give 0 to 19"):
        render_labels("Clinic", [label(n) for n in labels], TODAY, skip=skip, page_size=page)


@pytest.fixture
def world(db):
    with clock.at(made.NOW):
        yield made.make(units=2)


def test_the_page_prints_the_chosen_units(client, world):
    client.force_login(world.people["viewer"])
    page = client.get(reverse("labels", args=["first"])).content.decode()
    assert page.count('name="unit"') == page.count("checked") == 2
    file = reverse("labels-file", args=["first"])
    answer = client.get(file, {"unit": str(world.units[1].origin), "skip": "4", "page": "a4"})
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/pdf"
    read = " ".join(texts(answer.content))
    assert "INV-Unit 2" in read and "INV-Unit 1" not in read
    assert f"testserver/u/{world.units[1].origin.hex[:8]}" in read


@pytest.mark.parametrize(
    ("asked", "said"),
    [({}, "No unit is chosen"), ({"unit": "1", "skip": "20"}, "0 to 19"), ({"unit": "1", "skip": "x"}, "0 to 19")],
)
def test_the_page_says_what_is_wrong_and_keeps_what_was_chosen(client, world, asked, said):
    client.force_login(world.people["viewer"])
    if "unit" in asked:
        asked["unit"] = str(world.unit.origin)
    answer = client.get(reverse("labels-file", args=["first"]), asked)
    page = answer.content.decode()
    assert answer.status_code == 400 and said in page
    assert page.count("checked") == len([1 for key in asked if key == "unit"])


def test_units_of_others_have_no_label_here(client, world):
    file, foreign = reverse("labels-file", args=["first"]), str(world.other_unit.origin)
    client.force_login(world.people["coordinator"])
    assert client.get(file, {"unit": foreign}).status_code == 404
    assert client.get(file, {"unit": str(world.unit.origin), "page": "a9"}).status_code == 404
    assert client.get(reverse("labels-file", args=["other"]), {"unit": foreign}).status_code == 404
    client.force_login(world.people["nobody"])
    assert client.get(file, {"unit": str(world.unit.origin)}).status_code == 404
    client.logout()
    assert client.get(file).status_code == 302


@pytest.fixture
def command(capsys, tmp_path, world):
    def run(*args):
        out = tmp_path / "labels.pdf"
        with pytest.raises(SystemExit) as end:
            call_command("unit_labels", "first", *args, "--out", str(out))
        said, wrong = capsys.readouterr()
        return end.value.code, said, wrong, out

    return run


def test_the_command_writes_all_units(command):
    status, said, _, out = command("--address", SITE + "/", "--page", "a4", "--skip", "19")
    assert status == 0 and "2 label(s) on 2 sheet(s)" in said
    assert "standing.example/u/" in texts(out.read_bytes())[0] and "INV-Unit 2" in texts(out.read_bytes())[1]


def test_the_command_takes_the_address_of_the_site_from_the_settings(command, settings):
    settings.SITE_ADDRESS = "https://clinics.example"
    status, _, _, out = command("--unit", "Unit 2")
    read = texts(out.read_bytes())[0]
    assert status == 0 and "clinics.example/u/" in read and "INV-Unit 1" not in read


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((), "this machine only"),
        (("--address", "standing.example"), "not the address of a site"),
        (("--address", SITE, "--unit", "Nine"), "no unit labelled “Nine”"),
        (("--address", SITE, "--skip", "20"), "0 to 19"),
    ],
)
def test_the_command_refuses_and_writes_nothing(command, settings, args, said):
    settings.SITE_ADDRESS = "http://localhost:8000"
    status, _, wrong, out = command(*args)
    assert status == 2 and said in wrong and not out.exists()
