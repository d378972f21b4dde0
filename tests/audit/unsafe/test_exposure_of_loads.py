"""A load that is called passing although its exposure fell short of what its program needs counts as failed."""

from dataclasses import replace
from datetime import date
from decimal import Decimal as D

import pytest

from audit import facts as f
from audit.judge.evaluate import evaluate
from audit.judge.exposure import program_on, short_of
from audit.judge.judgement import Word
from tests.audit.unsafe.table import DAY, PERMITS, PRACTICE, TESTED, History, history, holds
from tests.fact_builders import clinic, load, on, position, row, unit
from tests.fact_builders import event as happened

# HTM 2010 part 3 (from memory) has no band below 115 °C; all other limits are those that a program's document states.
STEAM = "HTM 2010 part 3, bands of sterilizing temperature (from memory)"
RIGHT = {"mechanical": "pass", "chemical": "pass"}
LAST = "2025-06-26"  # the day after the last spore test
# A failed mechanical result that its own reading shows stops the unit: common practice, no source.
OPEN = ("mechanical result of cycle 900 of 2025-06-26: failed", "and fell short by its own reading")


def program(name="wrapped", minutes="3.5", heat="134", since="2025-01-01", *, retired=False) -> f.ProgramFact:
    least = (None if minutes is None else D(minutes), None if heat is None else D(heat))
    limits = (*least, None, None, None)
    return f.ProgramFact(row(since), name, *limits, "invented instructions", on(since), retired)


def run(minutes=None, heat=None, *, day=LAST, program="wrapped", **more) -> f.LoadFact:
    spent, warm = (None if v is None else D(v) for v in (minutes, heat))
    made = load(day, "900", program=program, **(RIGHT | more))
    return replace(made, exposure_minutes=spent, exposure_temperature=warm)


def banded():
    return replace(program(), pressure_low=D("205"), pressure_high=D("230"))


def pressed(kpa, *more):
    return replace(run(*more), exposure_pressure=D(kpa))


def told(words, source, load, *programs, **more):
    forbidden = {"word": Word.OUT, "never": PERMITS} if "says" in more else {}
    return history(words, source, loads=(load,), programs=programs, **(forbidden | more))


ROWS = [
    told("a tenth of a minute short", PRACTICE, run("3.4", "134.6"), program(), says=OPEN),
    told("a tenth of a degree too cold", PRACTICE, run("4", "133.9"), program(), says=OPEN),
    told("short, and the program written in capitals", PRACTICE, run("3.4"), program("Wrapped "), says=OPEN),
    told("short, gauges never asked", PRACTICE, run("3.4", mechanical=""), program(), says=OPEN),
    told("short and rejected", PRACTICE, run("3.4", released="rejected"), program(), says=OPEN),
    told("at 110 °C, no program on record", STEAM, run(None, "110"), says=OPEN),
    told("at 110 °C, the program states no temperature", STEAM, run(None, "110"), program(heat=None), says=OPEN),
    told("short under the newer limit", PRACTICE, run("3.6"), program(), program(minutes="4", since="2025-06-01"),
         says=OPEN),
    told("a kPa below its band", PRACTICE, pressed("204"), banded(), says=OPEN),
    told("a kPa below its band, minutes and heat enough", PRACTICE, pressed("204", "4", "135"), banded(), says=OPEN),
    # On the other side of each edge the proof is there.
    told("the lowest pressure of its band", PRACTICE, pressed("205"), banded(), word=Word.IN_SERVICE, not_says=OPEN),
    told("no band of pressure stated", PRACTICE, pressed("90"), program(), word=Word.IN_SERVICE, not_says=OPEN),
    told("the least itself", PRACTICE, run("3.5", "134"), program(), word=Word.IN_SERVICE, not_says=OPEN),
    told("the coldest band itself", STEAM, run(None, "115"), word=Word.IN_SERVICE, not_says=OPEN),
    told("short of another program", PRACTICE, run("3.4", program="gravity"), program(),
         word=Word.IN_SERVICE, not_says=OPEN),
    told("short of a program that is retired", PRACTICE, run("3.4"), program(),
         program(since="2025-06-01", retired=True), word=Word.IN_SERVICE, not_says=OPEN),
    told("short of a limit that holds from the next day on", PRACTICE, run("3.4"), program(since="2025-06-27"),
         word=Word.IN_SERVICE, not_says=OPEN),
    told("nothing of the exposure recorded", PRACTICE, run(), program(), word=Word.IN_SERVICE, not_says=OPEN),
    told("no limit stated", PRACTICE, run("1", "116"), program(minutes=None, heat=None),
         word=Word.IN_SERVICE, not_says=OPEN),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_what_must_not_come_out(row: History):
    holds(row)


def place(*loads):
    held = {"events": (happened("2025-01-01"),), "positions": (position(),), "bio_tests": TESTED}
    return clinic(unit(**held, loads=loads, programs=(program(),)))


def test_a_short_load_is_judged_as_one_whose_gauges_failed():
    """One fact, one telling: whatever stands beside the number, open items, cases and answers are the same."""
    short = run("3.4", "134.6")
    said = evaluate(place(short), on(DAY)).units[0]
    failed = evaluate(place(replace(short, mechanical="fail")), on(DAY)).units[0]
    assert said.standing == failed.standing and said.findings == failed.findings and said.cases == failed.cases
    assert "released-on-failure" in {finding.rule for finding in said.findings}


def test_one_that_is_only_called_failed_stops_no_unit_and_the_next_good_one_ends_either():
    called = evaluate(place(run(mechanical="fail")), on(DAY)).units[0].standing
    assert called.word is Word.IN_SERVICE and "a failure is open: mechanical result" in called.reason
    good = replace(run("3.5", "134.6", day=DAY), cycle_number="901")
    for bad in (run("3.4", "134.6"), run(mechanical="fail")):
        said = evaluate(place(bad, good), on(DAY)).units[0]
        assert said.standing.word is Word.IN_SERVICE and said.cases[0].resolved_on == on(DAY)


def naive(load: f.LoadFact, programs) -> bool:
    """A second way: the newest row of the name in effect, and its two limits."""
    named = [p for p in programs if p.name.strip().lower() == load.program.strip().lower()]
    named = [p for p in named if p.effective_on <= load.row.happened_on]
    newest = sorted(named, key=lambda p: p.effective_on)[-1:] or [program(minutes=None, heat=None)]
    limits = program(minutes=None, heat=None) if newest[0].retired else newest[0]
    heat = limits.temperature_low or D(115)
    few = (
        None not in (load.exposure_minutes, limits.exposure_minutes)
        and load.exposure_minutes < limits.exposure_minutes
    )
    return few or (load.exposure_temperature is not None and load.exposure_temperature < heat)


def test_what_falls_short_is_the_same_counted_naively():
    every = [
        (), (program(),), (program(minutes=None),), (program(heat=None),), (program(retired=True),),
        (program(), program(minutes="4", since="2025-06-20")), (program("other"),),
    ]  # fmt: skip
    loads = [run(m, h) for m in (None, "3.4", "3.5", "3.9", "4") for h in (None, "110", "115", "133.9", "134")]
    found = [(bool(short_of(unit(programs=p), x)), naive(x, p)) for p in every for x in loads]
    assert all(a == b for a, b in found) and {a for a, _ in found} == {True, False}
    assert program_on(unit(programs=(program(),)), "wrapped", date(2024, 12, 31)) is None
