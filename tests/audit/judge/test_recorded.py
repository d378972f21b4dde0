"""What a recorded cycle makes of the mechanical result of its load, row by row, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal as D

import pytest

from audit import facts as f
from audit.gather.cycle_apart import CycleRead
from audit.judge.recorded import contradicted, failed, loads_as_judged, proves, told_of, why_failed
from tests.fact_builders import load, on, recording, row, unit

DAY = "2025-06-26"


def program(name, minutes, heat) -> f.ProgramFact:
    limits = (None if minutes is None else D(minutes), None if heat is None else D(heat), None, None, None)
    return f.ProgramFact(row("2025-01-01"), name, *limits, "invented instructions", on("2025-01-01"), False)


WRAPPED, SLOW, COLD = program("wrapped", "3", "134"), program("slow", "18", "134"), program("cold", "3", "121")
NO_LIMITS = program("cold", None, None)


def run(mechanical="", program="wrapped") -> f.LoadFact:
    return load(DAY, "900", program=program, mechanical=mechanical, chemical="pass")


RESULTS = [
    # (what, typed, program, recorded cycles, programs on record, result)
    ("enough for its program, too short for another one", "", "wrapped", [{}], [WRAPPED, SLOW], "pass"),
    ("the same, in the other order of programs", "", "wrapped", [{}], [SLOW, WRAPPED], "pass"),
    ("the same beside a typed failure", "fail", "wrapped", [{}], [WRAPPED, SLOW], "fail"),
    ("the same, of another serial", "", "wrapped", [{"serial": "S-9"}], [WRAPPED, SLOW], ""),
    ("the same beside one that is incomplete", "", "wrapped", [{}, {"verdict": "incomplete"}], [WRAPPED, SLOW], ""),
    ("too short for its program alone", "pass", "slow", [{}], [WRAPPED, SLOW], "fail"),
    ("too short for it, the shorter program last", "pass", "slow", [{}], [SLOW, WRAPPED], "fail"),
    ("too cold for its program alone", "pass", "wrapped", [{"least": "125"}], [COLD, WRAPPED], "fail"),
    ("warm enough for its program, too cold for another", "", "cold", [{"least": "125"}], [COLD, WRAPPED], "pass"),
    ("a program that states nothing, beside one that does", "", "cold", [{"least": "125"}], [NO_LIMITS], "pass"),
    ("nothing measured in the hold", "", "wrapped", [{"held": "", "least": ""}], [WRAPPED], "pass"),
    (
        "one that did not meet its profile beside one that met",
        "pass",
        "wrapped",
        [{}, {"verdict": "not met"}],
        [],
        "fail",
    ),
    ("one that did not meet its profile, by itself", "pass", "wrapped", [{"verdict": "not met"}], [], "fail"),
    ("enough for every program", "", "wrapped", [{}], [WRAPPED], "pass"),
    ("the same where a result was not recorded", "not recorded", "wrapped", [{}], [WRAPPED], "pass"),
    ("the same beside a typed failure and a single program", "fail", "wrapped", [{}], [WRAPPED], "fail"),
    ("enough, of another serial", "", "wrapped", [{"serial": "S-9"}], [WRAPPED], ""),
    ("enough, beside one that cannot be judged", "", "wrapped", [{}, {"verdict": "cannot be judged"}], [WRAPPED], ""),
    ("incomplete alone", "not recorded", "wrapped", [{"verdict": "incomplete"}], [WRAPPED], "not recorded"),
    ("exactly what is needed", "", "wrapped", [{"held": "180", "least": "134"}], [WRAPPED], "pass"),
    ("a second short", "", "wrapped", [{"held": "179"}], [WRAPPED], "fail"),
    ("incomplete and short proves nothing, and fails nothing", "", "slow", [{"verdict": "incomplete"}], [SLOW], ""),
    ("incomplete and short beside a typed pass", "pass", "slow", [{"verdict": "incomplete"}], [SLOW], "pass"),
]


@pytest.mark.parametrize(
    ("typed", "name", "recorded", "programs", "result"), [r[1:] for r in RESULTS], ids=[r[0] for r in RESULTS]
)
def test_the_mechanical_result_of_the_load(typed, name, recorded, programs, result):
    of, other = run(typed, name), load(DAY, "901")
    made = unit(loads=(of, other), recordings=tuple(recording(of, **said) for said in recorded), programs=programs)
    assert [x.mechanical for x in loads_as_judged(made).loads] == [result, ""]


def test_of_a_unit_whose_loads_stay_as_they_are_nothing_is_made_anew():
    of = run("pass")
    made = unit(loads=(of,), recordings=(recording(of),))
    assert loads_as_judged(made) is made
    assert loads_as_judged(unit(loads=(of,))).loads[0] is of


FAILURES = [
    # (verdict, seconds, °C, program, why)
    ("not met", "200", "135", None, "it did not meet holding-134: invented words"),
    ("met", "200", "135", WRAPPED, ""),
    ("met", "150", "135", WRAPPED, "it recorded 2.5 minutes of exposure, 3 are needed"),
    ("met", "179.99", "135", WRAPPED, "it recorded 2.999 minutes of exposure, 3 are needed"),
    ("met", "150", "130.5", WRAPPED,
     "it recorded 2.5 minutes of exposure, 3 are needed and it recorded 130.5 °C, at least 134 °C is needed"),
    ("met", "200", "114.9", None, "it recorded 114.9 °C, at least 115 °C is needed"),
    ("met", "", "", WRAPPED, ""),
    ("incomplete", "150", "135", WRAPPED, ""),
    ("cannot be read", "", "", None, ""),
]  # fmt: skip


@pytest.mark.parametrize(("verdict", "held", "least", "needed", "why"), FAILURES)
def test_a_file_fails_before_it_is_on_record_as_it_does_afterwards(verdict, held, least, needed, why):
    of = run()
    fact = recording(of, verdict, held=held, least=least)
    made = unit(loads=(of,), recordings=(fact,), programs=() if needed is None else (needed,))
    assert failed(made, of, fact) == why
    assert why_failed(CycleRead(verdict, "invented words.", "holding-134", held, least), needed) == why


SAID = [
    # (what the file says, what it contradicts)
    ({}, ""),
    ({"serial": " s-1"}, ""),
    ({"serial": "S-2"}, "the file says serial S-2, not S-1"),
    ({"serial": ""}, ""),
    ({"cycle_number": "0900"}, ""),
    ({"cycle_number": ""}, ""),
    ({"cycle_number": "901"}, "the file says cycle 901, not 900"),
    ({"program": "WRAP PED"}, ""),
    ({"program": ""}, ""),
    ({"program": "gravity"}, "the file says program gravity, not wrapped"),
    ({"day": "2025-06-27"}, "the file says 2025-06-27, not 2025-06-26"),
    ({"serial": "S-2", "program": "gravity"}, "the file says serial S-2, not S-1; program gravity, not wrapped"),
]


@pytest.mark.parametrize(("said", "words"), SAID)
def test_where_file_and_record_say_otherwise(said, words):
    of = run()
    assert contradicted(unit(loads=(of,)), of, recording(of, **said)) == words


def test_what_is_not_on_record_contradicts_nothing():
    of = load(DAY, "", program="", mechanical="")
    said = recording(of, cycle_number="7", program="wrapped")
    assert contradicted(unit(loads=(of,)), of, said) == ""
    assert contradicted(replace(unit(loads=(run(),)), serial=""), run(), recording(run(), serial="S-9")) == ""


PROOFS = [
    ("met", {}, True), ("met", {"held": "150"}, False), ("met", {"serial": "S-9"}, False), ("incomplete", {}, False),
    ("not met", {}, False),
]  # fmt: skip


@pytest.mark.parametrize(("verdict", "said", "proof"), PROOFS)
def test_which_recorded_cycle_alone_is_a_passing_result(verdict, said, proof):
    of = run()
    fact = recording(of, verdict, **said)
    assert proves(unit(loads=(of,), recordings=(fact,), programs=(WRAPPED,)), of, fact) is proof


LINES = [
    ("met", {}, "recorded cycle met under holding-134"),
    ("met", {"profile": ""}, "recorded cycle met"),
    ("met", {"held": "150"}, "recorded cycle counts as failed: it recorded 2.5 minutes of exposure, 3 are needed"),
    ("incomplete", {}, "recorded cycle incomplete under holding-134: invented words"),
    ("incomplete", {"words": ""}, "recorded cycle incomplete under holding-134"),
    ("incomplete", {"serial": "S-2"},
     "recorded cycle incomplete under holding-134: invented words; the file says serial S-2, not S-1, so it proves "
     "nothing"),
]  # fmt: skip


@pytest.mark.parametrize(("verdict", "said", "line"), LINES)
def test_the_recorded_cycle_in_one_line(verdict, said, line):
    of = run()
    fact = replace(recording(of, verdict), **said) if "words" in said else recording(of, verdict, **said)
    assert told_of(unit(loads=(of,), recordings=(fact,), programs=(WRAPPED,)), of, fact) == line
