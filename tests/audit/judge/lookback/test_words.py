"""How rows of a look-back read, what is not logged, and loads run while out of service."""

from dataclasses import replace

import pytest

from audit.judge.lookback import loads_while_out
from audit.judge.lookback.inside import load_words, nearest, part_words, reading_words, unlogged
from audit.judge.situation import settle
from audit.regimes import load_regime
from tests.audit.judge.lookback.said import DAY, RULES, seal, taken
from tests.fact_builders import bio, clinic, counter, load, unit


def test_a_load_in_one_line():
    assert load_words(load("2025-06-01", "7", implant=True)) == "cycle 7 of 2025-06-01: 3 packs, implant, released"
    bare = replace(load("2025-06-01", released=""), contents="")
    assert load_words(bare) == "cycle without number of 2025-06-01: contents not recorded, release not recorded"


def test_a_measurement_in_one_line():
    said = reading_words(taken("2025-06-01", found=None))
    assert said == "temperature at drain of 2025-06-01: as found not measured, as left 134.2 °C"


@pytest.mark.parametrize(
    ("part", "lot"),
    [
        (seal("2025-06-01"), "P1"),
        (seal("2025-06-01", ""), "R1"),
        (seal("2025-06-01", "", receipt_lot="", state="unreadable"), "lot unreadable"),
    ],
)
def test_a_part_in_one_line(part, lot):
    assert part_words(part) == f"seal (N-1, {lot}) replaced on plan on 2025-06-01"


def test_the_nearest_says_how_many_more():
    assert nearest(["x"], 1, "before") == (("x", "before"),)
    assert nearest(["x"], 2, "before") == (("x", "before (the nearest of 2)"),)


@pytest.mark.parametrize(
    ("counts", "says"),
    [
        (
            (("2025-05-01", 1), ("2025-06-01", 10), ("2025-06-05", 12), ("2025-07-01", 99)),
            "rose by 2 from 2025-06-01",
        ),
        ((("2025-06-01", 10), ("2025-06-05", 12)), "2 cycles logged in that time"),
        ((("2025-06-01", 10), ("2025-06-05", 13)), "2 cycles logged in that time: 1 not logged"),
        ((("2025-06-05", 12),), "not known"),
        ((("2025-06-01", 10),), "not known"),
    ],
)
def test_what_is_not_logged(counts, says):
    run = (load("2025-06-02", "1"), load("2025-06-05", "2"), load("2025-06-06", "3"))
    readings = tuple(counter(*c) for c in counts)
    said = unlogged(
        unit(loads=run, counters=readings), counter("2025-06-01", 0).row.happened_on, run[1].row.happened_on
    )
    assert says in said and (": 1 not logged" in said) is (": 1 not logged" in says) and ": 0" not in said


def test_loads_run_while_out_are_those_between_known_and_proven():
    failed = bio("2025-06-01", result="growth", known="2025-06-03")
    repeat = bio("2025-06-05", result="pass", known="2025-06-06", purpose="repeat", cycle="9")
    run = [load(f"2025-06-0{n}", str(n)) for n in range(2, 8)] + [load("2025-06-05", "9")]
    facts = unit(bio_tests=(failed, repeat), loads=tuple(run))
    s = settle(facts, clinic(facts), load_regime(RULES), DAY)
    (replay,) = s.replays
    # of the days it was known and proven the order is not known; cycle 9 is the repeat itself
    held = loads_while_out(s.unit, replay)
    assert [x.cycle_number for x in held.shown] == ["4", "5"]
    assert [x.cycle_number for x in held.unsure] == ["3", "6"]
    still_open = settle(replace(facts, bio_tests=(failed,)), clinic(facts), load_regime(RULES), DAY)
    held = loads_while_out(still_open.unit, still_open.replays[0])
    assert [x.cycle_number for x in held.shown] == ["4", "5", "9", "6", "7"]
    assert [x.cycle_number for x in held.unsure] == ["3"]
