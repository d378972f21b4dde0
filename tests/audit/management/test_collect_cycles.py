"""A watched folder: what is on record is moved aside, what cannot be taken stays and is named, nothing twice."""

from __future__ import annotations

from datetime import timedelta

import pytest

from records import clock, log
from records import models as m
from tests import world as build
from tests.audit.judge.cycle import logs

pytestmark = pytest.mark.django_db
DAY = build.TODAY - timedelta(days=3)


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "watched"
    made.mkdir()
    return made


@pytest.fixture
def collect(command, settings, tmp_path, folder):
    settings.BLOBS_DIR = tmp_path / "blobs"
    with clock.at(build.NOW):
        made = build.make()

        def run(by="operator"):
            return command("collect_cycles", folder, "--clinic", "first", "--by", by)

        run.world = made
        yield run


def file(world, number, rows=None) -> bytes:
    told = {
        "serial": world.unit.serial, "cycle": number, "program": "wrapped", "profile": "holding-134",
        "started": f"{DAY.isoformat()}T0{number[-1]}:12:00-05:00",
    }  # fmt: skip
    head = ["# cycle 1", *(f"# {key}: {value}" for key, value in told.items())]
    return logs.file(logs.rows(dt=5) if rows is None else rows, head=head)


def names(folder) -> set[str]:
    return {path.name for path in folder.iterdir() if path.is_file()}


def test_each_file_finds_or_makes_its_load_and_what_cannot_be_taken_stays(collect, folder):
    world = collect.world
    who = {"by": world.people["operator"], "request_key": build.key(), "clinic": world.clinic}
    known = log.log_load(**who, unit=world.unit, on=DAY, cycle_number="71", program="wrapped")
    (folder / "a.csv").write_bytes(file(world, "71"))
    (folder / "b.csv").write_bytes(file(world, "74", logs.rows(hold=100, dt=5)))
    (folder / "cut.csv").write_bytes(file(world, "75")[:-3])
    (folder / "photo.jpg").write_bytes(b"\xff\xd8\xff")
    status, out, err = collect()
    assert status == 1 and "4 files: 2 on record, 2 stay." in out
    assert "a.csv: recorded as entry" in out and "b.csv: recorded as entry" in out and ": not met" in out
    last = file(world, "75").count(b"\n")
    assert f"cut.csv stays: Line {last}: the file ends within a row" in err and "photo.jpg stays: " in err
    assert names(folder) == {"cut.csv", "photo.jpg"} and names(folder / "recorded") == {"a.csv", "b.csv"}
    assert {row.load.cycle_number for row in m.CycleRecording.objects.all()} == {"71", "74"}
    assert m.CycleRecording.objects.filter(load=known, how="collected").exists()
    assert m.FailureCase.objects.get().opened_by == m.Load.objects.get(cycle_number="74").origin


def test_the_same_file_again_writes_nothing_and_one_entered_in_error_is_taken_anew(collect, folder):
    content = file(collect.world, "71")
    for _ in range(2):
        (folder / "a.csv").write_bytes(content)
        assert collect()[0] == 0 and m.CycleRecording.objects.count() == 1
    assert names(folder / "recorded") == {"a.csv", "a-1.csv"}
    row = m.CycleRecording.objects.get()
    log.void(by=collect.world.people["operator"], request_key=build.key(), row=row, reason="of another place")
    (folder / "a.csv").write_bytes(content)
    assert collect()[0] == 0 and m.CycleRecording.objects.in_force().count() == 1


def test_an_empty_folder_is_nothing_wrong(collect):
    assert collect()[:2] == (0, "0 files: 0 on record, 0 stay.\n")


def test_who_may_not_log_a_load_may_not_collect(collect, folder):
    (folder / "a.csv").write_bytes(file(collect.world, "71"))
    for by in ("viewer", "other-coordinator", "nobody at all"):
        status, _, err = collect(by)
        assert status == 2 and "may not record at" in err
    assert names(folder) == {"a.csv"} and not m.CycleRecording.objects.exists()


def test_a_folder_that_is_not_there_is_said(command, db):
    with clock.at(build.NOW):
        build.make()
        status, _, err = command("collect_cycles", "no/such/folder", "--clinic", "first", "--by", "operator")
    assert status == 2 and "cannot be read" in err
