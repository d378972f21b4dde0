"""A table brought in from the command line: told fault by fault, all of it or nothing."""

from __future__ import annotations

import pytest

from audit.models import BroughtTable
from records import clock
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db

HEADS = "Sterilizer,Date,Cycle no,Program,Gauges,Strip\n"
GOOD = HEADS + "".join(f"Unit 1,2025-03-{n:02},{n},wrapped,pass,pass\n" for n in (3, 4, 5))
WHO = ("--clinic", "first", "--by", "coordinator", "--kind", "loads", "--who", "Old Hand")


@pytest.fixture
def load(command, tmp_path):
    with clock.at(build.NOW):
        build.make()

        def run(text: str, *more):
            file = tmp_path / "loads.csv"
            file.write_text(text, encoding="utf-8")
            return command("load", file, *WHO, "--confirm", "unit-out", *more)

        yield run


def test_all_rows_are_recorded_and_the_same_file_again_writes_nothing(load):
    status, out, err = load(GOOD, "--paper", "log book 1")
    assert (status, err) == (0, "") and "3 rows can be recorded, 0 are on record already." in out
    assert m.Load.objects.count() == 3
    assert m.Load.objects.first().entry.paper == "log book 1; table “loads.csv”, sheet “loads.csv”"
    status, out, _ = load(GOOD)
    assert status == 0 and "0 rows can be recorded, 3 are on record already." in out
    assert m.Load.objects.count() == 3


def test_a_fault_is_told_and_nothing_is_written_but_what_is_right_with_aside(load, tmp_path):
    bad = GOOD + "Unit 7,2025-03-06,6,wrapped,pass,pass\n"
    status, _, err = load(bad)
    assert status == 1 and "row 5, A Unit: No unit stands here that is called “Unit 7”." in err
    assert (m.Load.objects.count(), BroughtTable.objects.count()) == (0, 0)
    aside = tmp_path / "aside.csv"
    status, out, _ = load(bad, "--aside", aside)
    assert status == 0 and "1 rows with a fault are in" in out and m.Load.objects.count() == 3
    mended = aside.read_text(encoding="utf-8-sig").replace("Unit 7", "Unit 1")
    assert load(mended)[0] == 0 and m.Load.objects.count() == 4


def test_check_writes_nothing(load):
    assert load(GOOD, "--check")[0] == 0 and m.Load.objects.count() == 0


@pytest.mark.parametrize(
    "text, more, said",
    [
        (GOOD, ("--kind", "visits"), "--kind “visits” is not known"),
        (GOOD, ("--by", "viewer"), "“viewer” may not record at First Clinic"),
        (GOOD, ("--sheet", "2024"), "There is no sheet “2024”. There are: loads.csv."),
        (GOOD, ("--same", "colour=red"), "--same “colour=red”"),
        (GOOD, ("--confirm", "because"), "--confirm “because” is no code"),
        (GOOD.replace("2025-03-0", "03/0").replace(",wr", "/2025,wr", 0), (), "cannot be read"),
        (GOOD.replace("Program", "Colour"), (), "Program: choose its column"),
        ("", (), "The file is empty"),
    ],
)
def test_what_cannot_be_used_is_said_with_the_way_out(load, text, more, said):
    status, out, err = load(text, *more)
    assert (status in (1, 2)) and said in err + out
    assert (m.Load.objects.count(), BroughtTable.objects.count()) == (0, 0)


def test_what_no_column_holds_is_said_once_for_all(load):
    without = "\n".join(",".join(line.split(",")[1:]) for line in GOOD.splitlines())
    assert load(without, "--same", "unit=Unit 1")[0] == 0 and m.Load.objects.count() == 3
