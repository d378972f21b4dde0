"""`manage.py binder`: what it refuses, how it ends, and that a failure leaves the old file as it was."""

from __future__ import annotations

import os
from datetime import timedelta
from functools import partial

import pytest

from records import clock
from tests import world as build

pytestmark = pytest.mark.django_db

PERIOD = ("--from", "2024-01-01", "--to", "2030-12-31")


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.tested_for_seven_weeks()


@pytest.fixture
def binder(command):
    return partial(command, "binder")


def test_the_same_command_twice_gives_the_same_bytes(world, binder, tmp_path):
    one, two = tmp_path / "one.pdf", tmp_path / "two.pdf"
    first, out, _ = binder(world.clinic.slug, *PERIOD, "--out", one)
    second, _, _ = binder(world.clinic.slug, *PERIOD, "--out", two)
    assert first == second == (1 if "Forbids use" in out else 0)
    assert one.read_bytes() == two.read_bytes()
    assert one.read_bytes().startswith(b"%PDF-")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["one.pdf", "two.pdf"]


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"clinic": "nowhere"}, "nowhere"),
        ({"--from": "2026-02-30"}, "--from"),
        ({"--to": "tomorrow"}, "--to"),
        ({"--as-of": "9.3.2026"}, "--as-of"),
        ({"--known-at": "2026-03-09T10:00"}, "--known-at"),
        ({"--from": "2026-03-02", "--to": "2026-03-01"}, "is after --to"),
    ],
)
def test_bad_input_ends_with_2_names_the_fault_and_writes_nothing(world, binder, tmp_path, changed, named):
    out = tmp_path / "binder.pdf"
    asked = {"--from": "2026-01-01", "--to": "2026-01-31", "--out": out, **changed}
    clinic = asked.pop("clinic", world.clinic.slug)
    status, _, error = binder(clinic, *(each for pair in asked.items() for each in pair))
    assert status == 2
    assert named in error
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_does_not_exist_is_refused_with_the_way_out(world, binder, tmp_path):
    status, _, error = binder(world.clinic.slug, *PERIOD, "--out", tmp_path / "none" / "binder.pdf")
    assert status == 2
    assert "cannot be written" in error and "With --out name a file in a folder that exists" in error


def test_a_failed_rename_leaves_the_old_file_and_no_part_of_the_new_one(world, binder, tmp_path, monkeypatch):
    out = tmp_path / "binder.pdf"
    out.write_bytes(b"old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    status, _, error = binder(world.clinic.slug, *PERIOD, "--out", out)
    assert status == 2 and "No space left on device" in error
    assert [(file.name, file.read_bytes()) for file in tmp_path.iterdir()] == [("binder.pdf", b"old")]


def test_the_status_says_whether_something_forbids_use(world, binder, tmp_path):
    """0 with a unit tested week by week, 1 after growth in a test; the file is written both times."""
    first, second = tmp_path / "first.pdf", tmp_path / "second.pdf"
    status, out, _ = binder(world.clinic.slug, *PERIOD, "--out", first)
    assert (status, "Forbids use" in out, first.exists()) == (0, False, True)
    build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    status, out, _ = binder(world.clinic.slug, *PERIOD, "--out", second)
    assert (status, "Forbids use" in out, second.exists()) == (1, True, True)


def test_a_day_that_has_not_come_is_refused(world, binder, tmp_path):
    code, _, err = binder("first", *PERIOD, "--as-of", "2099-01-01", "--out", tmp_path / "b.pdf")
    assert code == 2 and "has not come yet" in err and not (tmp_path / "b.pdf").exists()
