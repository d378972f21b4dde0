"""Files of recorded cycles are read in a process apart: whatever they are, an answer comes, and the next is read."""

from __future__ import annotations

import random

import pytest

from audit.gather import cycle_apart
from audit.gather.cycle_apart import read_apart
from tests.audit.judge.cycle import logs

GOOD = logs.file(
    logs.rows(dt=5),
    head=("# cycle 1", "# cycle: 7", "# profile: holding-134", "# started: 2026-06-09T08:12:00-05:00"),
)


def test_what_is_read_is_what_the_file_says_and_shows():
    read = read_apart(GOOD)
    assert (read.verdict, read.profile, read.held, read.least) == ("met", "holding-134", "200", "135")
    assert read.keys["cycle"] == "7" and read.started_at.isoformat() == "2026-06-09T13:12:00+00:00"
    assert read.whole is None and read.lasting
    whole = read_apart(GOOD, whole=True).whole
    assert [c["id"] for c in whole["judged"]["criteria"]][:2] == ["holding-time", "plateau-time"]
    assert whole["sources"]["holding-time"] and whole["picture"]["hold"] == [65.0, 265.0]


def test_a_hold_is_never_said_longer_or_hotter_than_it_was():
    body = logs.rows(at="134.0006", hold=200)
    body[-1][0] = str(float(body[-1][0]) + 0.0004)
    read = read_apart(logs.file(body, head=("# cycle 1", "# profile: holding-134")))
    assert (read.held, read.least) == ("200", "134.001")  # as the file writes it, to a thousandth
    fahrenheit = logs.file(
        [["0", "32"], *[[str(60 + n), "273.3"] for n in range(200)], ["900", "32"]],
        names="t_s,temperature_f", head=("# cycle 1", "# profile: holding-134"),
    )  # fmt: skip
    assert read_apart(fahrenheit).least == "134.055", "134.0555… rounded down"


def test_a_started_that_no_calendar_holds_is_no_moment():
    head = ("# cycle 1", "# started: 0001-01-01T00:00:00+14:00")
    read = read_apart(logs.file(head=head))
    assert read.started_at is None and read.refused == ""


@pytest.mark.parametrize("least, verdict", [("", "cannot be judged"), ("134", "met"), ("133", "cannot be judged")])
def test_without_a_profile_of_its_own_it_takes_that_of_the_program(least, verdict):
    assert read_apart(logs.file(logs.rows(dt=5)), least).verdict == verdict


def test_a_file_that_takes_too_long_ends_its_reader_and_the_next_is_read(monkeypatch):
    assert read_apart(GOOD).verdict == "met"
    monkeypatch.setattr(cycle_apart, "SECONDS", 0.0)
    read = read_apart(logs.file(logs.rows(up=30_000, low="20.0")))
    assert read.verdict == "cannot be read" and "was not read to its end" in read.refused and not read.lasting
    monkeypatch.undo()
    assert read_apart(GOOD).verdict == "met"


def test_a_reader_that_was_ended_from_outside_is_started_again():
    assert read_apart(GOOD).verdict == "met"
    cycle_apart._THIS._process.kill()
    cycle_apart._THIS._process.wait()
    assert read_apart(GOOD).verdict == "met"


def test_no_damage_raises_and_none_turns_a_short_cycle_into_one_that_met():
    short = logs.file(logs.rows(hold=100, dt=5), head=("# cycle 1", "# profile: holding-134"))
    chance = random.Random(7)
    for _ in range(60):
        damaged = bytearray(short)
        for _ in range(chance.randrange(1, 4)):
            at = chance.randrange(len(damaged))
            if chance.random() < 0.5:
                del damaged[at : at + chance.randrange(1, 40)]
            else:
                damaged[at] = chance.randrange(128, 256)
        assert read_apart(bytes(damaged)).verdict != "met"
    for end in range(0, len(GOOD) - 1, 97):
        assert read_apart(GOOD[:end]).verdict != "met", end
