"""`manage.py sheets`: which sheets are written, and what is said when it cannot be."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from audit.issue.blank_forms import AHEAD
from records import clock
from tests import world as made
from tests.audit.binder.paper import texts

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheets(capsys, tmp_path):
    """Run the command at the moment of the small world: exit status, output, errors, the file."""
    with clock.at(made.NOW):
        made.make(units=2)

        def run(*args, out=tmp_path / "sheets.pdf"):
            with pytest.raises(SystemExit) as end:
                call_command("sheets", "first", *args, "--out", str(out))
            said, wrong = capsys.readouterr()
            return end.value.code, said, wrong, out

        yield run


@pytest.mark.parametrize(("kind", "title"), [("day", "Day sheet"), ("week", "Week sheet"), ("visit", "Visit sheet")])
def test_a_sheet_for_each_unit_is_written(sheets, kind, title):
    status, said, _, out = sheets("--kind", kind, "--page", "a4")
    read = texts(out.read_bytes())
    assert status == 0 and "2 sheet(s)" in said and f"{len(read)} pages" in said
    assert sum(page.count(f"{title}: Unit 1") for page in read) == 1
    assert sum(page.count(f"{title}: Unit 2") for page in read) == 1


def test_one_unit_and_one_day(sheets):
    status, said, _, out = sheets("--kind", "week", "--unit", "Unit 2", "--on", "2026-04-01")
    read = " ".join(texts(out.read_bytes()))
    assert status == 0 and "1 sheet(s)" in said
    assert "Unit 1" not in read and "30 Mar 2026 to 5 Apr 2026" in read and "as of 16 Mar 2026" in read


def test_a_past_day_is_judged_as_of_that_day(sheets):
    _, _, _, out = sheets("--kind", "day", "--unit", "Unit 1", "--on", "2026-02-02")
    assert "As of 2 Feb 2026" in texts(out.read_bytes())[0]


def test_a_stock_of_undated_sheets(sheets):
    status, _, _, out = sheets("--kind", "day", "--undated", "--unit", "Unit 1")
    assert status == 0 and "Day sheet, Unit 1, ____" in texts(out.read_bytes())[0]


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("--unit", "Unit 9"), "no unit labelled “Unit 9”. Its units: Unit 1, Unit 2."),
        (("--on", "soon"), "is not a day"),
        (("--on", "2027-03-18"), "more than a year ahead"),
        (("--on", "2026-03-18", "--undated"), "contradict each other"),
    ],
)
def test_what_cannot_be_printed_is_refused_with_the_way_out(sheets, args, says):
    status, _, wrong, out = sheets("--kind", "day", *args)
    assert status == 2 and says in wrong and not out.exists()


def test_the_last_day_that_may_be_printed_ahead(sheets):
    """366 days after 16 March 2026 is 17 March 2027."""
    assert AHEAD == 366
    assert sheets("--kind", "day", "--on", "2027-03-17")[0] == 0


def test_a_folder_that_does_not_exist_is_named(sheets, tmp_path):
    status, _, wrong, _ = sheets("--kind", "day", out=tmp_path / "no" / "sheets.pdf")
    assert status == 2 and "cannot be written" in wrong
