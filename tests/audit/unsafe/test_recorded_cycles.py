"""A recorded cycle that failed is a failed mechanical result; one that shows too little or another cycle is none."""

from dataclasses import replace
from datetime import date
from decimal import Decimal as D
from itertools import combinations_with_replacement

import pytest

from audit import facts as f
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from tests.audit.unsafe.table import DAY, PRACTICE, TESTED, History, history, holds
from tests.fact_builders import clinic, event, load, on, position, recording, row, unit

LAST = "2025-06-26"  # the day after the last spore test
OPEN = ("mechanical result of cycle 900 of 2025-06-26: failed",)
NOTHING, AGAINST = "recorded-proves-nothing", "recorded-against-typed"


def run(mechanical="pass", *, day=LAST, program="wrapped", **more) -> f.LoadFact:
    return load(day, "900", program=program, mechanical=mechanical, chemical="pass", **more)


def program(minutes="3", heat="134") -> f.ProgramFact:
    limits = (D(minutes), D(heat), None, None, None)
    return f.ProgramFact(row("2025-01-01"), "wrapped", *limits, "invented instructions", on("2025-01-01"), False)


def told(words, of, *recordings, programs=(), **more):
    return history(words, PRACTICE, loads=(of,), recordings=recordings, programs=programs, **more)


def rows():
    typed, untyped, failed = run(), run(""), run("fail")
    bad = {"says": (*OPEN, "and fell short by its own reading"), "word": Word.OUT}
    good = {"word": Word.IN_SERVICE, "not_says": OPEN}
    yield told("not met beside a typed pass", typed, recording(typed, "not met"), opens=(AGAINST,), **bad)
    yield told("not met, nothing typed", untyped, recording(untyped, "not met"), **bad)
    yield told("not met beside one that met", typed, recording(typed), recording(typed, "not met"), **bad)
    yield told("not met, of another serial by the file", typed, recording(typed, "not met", serial="S-9"), **bad)
    yield told("met beside a typed fail", failed, recording(failed), says=OPEN, word=Word.IN_SERVICE)
    yield told("met, held a thousandth of a minute short of its program", typed, recording(typed, held="179.9"),
               programs=(program(),), **bad)  # fmt: skip
    yield told("met, a tenth of a degree colder than its program", typed, recording(typed, least="133.9"),
               programs=(program(),), **bad)  # fmt: skip
    yield told("met at 110 °C, whatever profile", typed, recording(typed, least="110"), **bad)
    for verdict in ("incomplete", "cannot be judged", "cannot be read"):
        yield told(f"{verdict}, nothing typed", untyped, recording(untyped, verdict, held="", least=""),
                   opens=(NOTHING, "released-without-result"))  # fmt: skip
        yield told(f"{verdict} beside a typed pass", typed, recording(typed, verdict, held="", least=""),
                   opens=(NOTHING,), **good)  # fmt: skip
        both = (recording(untyped), recording(untyped, verdict))
        yield told(f"{verdict} beside one that met, nothing typed", untyped, *both,
                   opens=(NOTHING, "released-without-result"))  # fmt: skip
    for words, said in (
        ("serial", {"serial": "S-9"}), ("cycle", {"cycle_number": "901"}), ("program", {"program": "gravity"}),
        ("day", {"day": "2025-06-25"}),
    ):  # fmt: skip
        yield told(f"met, of another {words} by the file", untyped, recording(untyped, **said),
                   opens=(NOTHING, "released-without-result"))  # fmt: skip
    # On the other side the proof is there.
    yield told("met beside a typed pass", typed, recording(typed), **good)
    yield told("met, nothing typed", untyped, recording(untyped), **good)
    yield told("met, exactly what the program needs", untyped, recording(untyped, held="180", least="134"),
               programs=(program(),), **good)  # fmt: skip
    yield told("met, the file says nothing of itself", untyped,
               recording(untyped, serial="", cycle_number="", program=""), **good)  # fmt: skip


@pytest.mark.parametrize("row", [*rows()])
def test_what_must_not_come_out(row: History):
    holds(row)


def place(of, recordings):
    held = {"events": (event("2025-01-01"),), "positions": (position(),), "bio_tests": TESTED}
    return clinic(unit(**held, loads=(of,), recordings=tuple(recordings)))


def judged(of, recordings):
    return evaluate(place(of, recordings), on(DAY)).units[0]


def rank(of, recordings):
    return judged(of, recordings).standing.word.rank


VERDICTS = ("met", "not met", "incomplete", "cannot be judged", "cannot be read")
SETS = [(), *((v,) for v in VERDICTS), *combinations_with_replacement(VERDICTS, 2)]


@pytest.mark.parametrize("mechanical", ["", "not recorded", "pass", "fail"])
def test_a_recorded_cycle_never_permits_more_than_a_typed_pass_and_a_lost_one_never_helps(mechanical):
    of, best = run(mechanical), rank(run(), ())
    for verdicts in SETS:
        made = [recording(of, verdict) for verdict in verdicts]
        here = rank(of, made)
        assert here <= best, verdicts
        assert here <= rank(replace(of, mechanical="pass"), made), verdicts
        for each in made:
            if each.verdict == "met":
                assert rank(of, [other for other in made if other is not each]) <= here, verdicts
        if "not met" in verdicts:
            assert OPEN[0] in judged(of, made).standing.reason, verdicts


@pytest.mark.parametrize("mechanical", ["", "not recorded", "pass", "fail"])
def test_a_recorded_cycle_closes_no_item_that_a_typed_pass_leaves_open(mechanical):
    def items(of, made):
        return {finding.rule for finding in judged(of, made).findings}

    best = items(run(), ())
    for verdicts in SETS:
        of = run(mechanical)
        assert best <= items(of, [recording(of, verdict) for verdict in verdicts]), verdicts


def test_a_failed_recording_is_judged_as_a_typed_failure_that_stops_the_unit():
    """One fact, one telling: cases and answer are the same, whatever was typed beside it."""
    of = run()
    said, typed = judged(of, [recording(of, "not met")]), replace(of, mechanical="fail")
    failed = judged(typed, [recording(typed, "not met")])
    assert said.cases == failed.cases and said.standing == failed.standing
    plain = {x.rule for x in judged(typed, ()).findings}
    assert {x.rule for x in said.findings} - {AGAINST} == {x.rule for x in failed.findings} - {AGAINST} >= plain


def repeated(mechanical, verdicts):
    """The cases of a unit whose cycle failed, with the repeat of the next day that is recorded so."""
    failed = load(LAST, "899", mechanical="fail", chemical="pass")
    again = run(mechanical, day=DAY)
    held = {"events": (event("2025-01-01"),), "positions": (position(),), "bio_tests": TESTED}
    made = tuple(recording(again, verdict) for verdict in verdicts)
    found = evaluate(clinic(unit(**held, loads=(failed, again), recordings=made)), on(DAY)).units[0].cases
    return found[-1].passes


def test_as_the_repeat_after_a_failure_it_counts_as_a_typed_pass_does_and_only_where_each_met():
    assert repeated("pass", ()) == 1 and repeated("", ()) == 0
    for verdicts in SETS[1:]:
        assert repeated("", verdicts) == (set(verdicts) == {"met"}), verdicts
        assert repeated("pass", verdicts) == ("not met" not in verdicts), verdicts


def test_a_day_before_knows_nothing_of_it():
    of = run()
    made = place(of, [recording(of, "not met")])
    assert evaluate(made, date.fromisoformat("2025-06-25")).units[0].cases == ()
