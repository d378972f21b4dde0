"""The judgement as a whole: rules followed, faults that must not crash, look-backs, the command."""

import json
from datetime import date
from io import StringIO

import pytest
from django.core.management import call_command

from audit.judge import evaluate as module
from audit.judge.evaluate import coverage_over, evaluate, evaluate_over
from audit.judge.judgement import Severity
from tests.audit.exchange.unit_history import history_of
from tests.fact_builders import (
    bio,
    case,
    clinic,
    counter,
    event,
    job,
    load,
    measured,
    part,
    step,
    terms,
    unit,
    weekly,
)

DAY = date(2025, 6, 20)
START = (event("2025-01-01"),)


def bad_unit(**more):
    tests = (*weekly("2025-01-01", "2025-06-04"), bio("2025-06-05", result="growth", ref="bad", cycle="105"))
    return unit(events=START, bio_tests=tests, **more)


def test_no_terms_or_unknown_rules_are_an_open_item():
    for place in (clinic(unit(), terms=()), clinic(unit(), regime="us-nowhere")):
        said = evaluate(place, DAY)
        assert (said.regime, [f.rule for f in said.findings]) == ("base", ["no-rules"])
        assert len(said.units) == 1


def test_terms_hold_from_their_day():
    place = clinic(unit(), terms=(terms("us-dental-cdc-2003"), terms("us-or-dental", "2025-06-20")))
    assert evaluate(place, date(2025, 6, 19)).regime == "us-dental-cdc-2003"
    assert evaluate(place, DAY).regime == "us-or-dental"


def test_a_rule_that_raises_is_an_open_item_and_the_others_still_run(monkeypatch, caplog):
    def broken(judged):
        raise ZeroDivisionError("invented")
        yield

    monkeypatch.setattr(module, "RULES", [("broken", broken), *module.RULES])
    found = evaluate(clinic(bad_unit()), DAY).units[0].findings
    assert "'broken'" in next(f.message for f in found if f.rule == "rule-failed")
    assert "positive-test-open" in [f.rule for f in found]
    (record,) = caplog.records
    assert (record.name, record.levelname) == ("audit.judge.evaluate", "ERROR")
    assert "'broken' could not be applied to unit unit-1" in record.getMessage() and str(DAY) in record.getMessage()
    assert 'raise ZeroDivisionError("invented")' in caplog.text, "where it went wrong"


def test_a_unit_that_cannot_be_judged_is_never_usable_and_leaves_the_others_alone(monkeypatch):
    def broken(s):
        if s.unit.ref == "unit-2":
            raise RuntimeError("invented")
        return original(s)

    original = module.stand
    monkeypatch.setattr(module, "stand", broken)
    said = evaluate(clinic(unit(events=START), unit(ref="unit-2", events=START)), DAY).units
    assert [u.standing.word.may_be_used for u in said] == [True, False]
    assert said[1].findings[0].severity is Severity.FORBIDS


def test_the_look_back_runs_from_the_last_negative_test_to_the_day_it_was_known():
    loads = ("2025-06-03", "2025-06-04", "2025-06-05", "2025-06-06", "2025-06-07")
    facts = bad_unit(
        loads=tuple(load(d, str(100 + n)) for n, d in enumerate(loads)),
        counters=(counter("2025-06-01", 90), counter("2025-06-30", 120)),
        jobs=(job("2025-06-05", parts=(part("2025-06-05"),), readings=(measured("2025-06-05"),)),),
    )
    (back,) = evaluate(clinic(facts), date(2025, 6, 30)).units[0].look_backs
    assert (back.after, back.to) == (date(2025, 6, 4), date(2025, 6, 6))
    # the load of 4 June has no time: it may have run after the test of that day
    assert [e.text.split(":")[0] for e in back.loads] == [f"cycle {101 + n} of {d}" for n, d in enumerate(loads[1:4])]
    assert "rose by 30" in back.unlogged and "not logged" in back.unlogged
    assert (len(back.parts), len(back.readings)) == (1, 1)


def test_without_a_negative_test_before_everything_is_in_doubt():
    facts = unit(events=START, bio_tests=(bio("2025-06-05", result="growth"),), loads=(load("2025-01-02"),))
    (back,) = evaluate(clinic(facts), DAY).units[0].look_backs
    assert back.after is None and len(back.loads) == 1 and "no negative spore test" in back.after_text
    assert "not known" in back.unlogged


@pytest.mark.parametrize(
    ("day", "found"),
    [("2025-06-05", False), ("2025-06-06", False), ("2025-06-07", True)],
)
def test_loads_run_while_out_of_service(day, found):
    said = evaluate(clinic(bad_unit(loads=(load(day, "7"),))), DAY).units[0]
    assert ("loads-while-out" in [f.rule for f in said.findings]) is found


def test_a_test_cycle_logged_as_a_load_is_no_load():
    repeat = bio("2025-06-09", cycle="9")
    facts = bad_unit(loads=(load("2025-06-09", "9"),))
    facts = unit(events=START, bio_tests=(*facts.bio_tests, repeat), loads=facts.loads)
    assert "loads-while-out" not in [f.rule for f in evaluate(clinic(facts), DAY).units[0].findings]


def test_steps_tell_done_open_late_and_not_needed():
    steps = (
        step("2025-06-06", "withdraw", done="2025-06-06"),
        step("2025-06-06", "review", due="2025-06-10"),
        step("2025-06-06", "notify", done="2025-06-12", due="2025-06-11"),
    )
    said = evaluate(clinic(bad_unit(cases=(case("bad", "2025-06-06", *steps),))), DAY).units[0].cases[0]
    assert {s.action: s.state for s in said.steps} == {
        "withdraw": "done",
        "review": "late",
        "retest": "open",
        "recall packs": "not needed",
        "find cause": "not needed",
        "requalify": "not needed",
        "return": "open",
        "notify": "late",
    }


# ------------------------------------------------------------------------------------------------ the command


def run(tmp_path, content, *more):
    path = tmp_path / "history.json"
    path.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    out, err = StringIO(), StringIO()
    arguments = ["evaluate", str(path), *(more or ("--regime", "us-dental-cdc-2003", "--as-of", "2025-06-20"))]
    with pytest.raises(SystemExit) as end:
        call_command(*arguments, stdout=out, stderr=err)
    return end.value.code, out.getvalue(), err.getvalue()


def test_the_command_answers_and_ends_with_1_when_use_is_forbidden(tmp_path):
    status, out, err = run(tmp_path, history_of(clinic(bad_unit())))
    assert (status, err) == (1, "")
    assert "Out of service [R4]" in out and "outrank" in out


def test_the_command_ends_with_0_when_nothing_is_wrong(tmp_path):
    good = unit(events=START, bio_tests=weekly("2025-01-01", "2025-06-18"))
    status, out, _ = run(tmp_path, history_of(clinic(good)))
    assert (
        status == 0 and "In service [R11]" in out and "changes: from 2025-06-30 on, with nothing new logged: " in out
    )


def test_the_command_gives_json(tmp_path):
    arguments = ("--regime", "us-dental-cdc-2003", "--as-of", "2025-06-20", "--json")
    status, out, _ = run(tmp_path, history_of(clinic(bad_unit())), *arguments)
    said = json.loads(out)
    unit_said = said["units"][0]
    assert (status, unit_said["standing"]["word"], unit_said["standing"]["rule"]) == (1, "Out of service", "R4")
    for what in ("clocks", "findings", "cases", "look_backs", "coverage"):
        assert unit_said[what], what
    assert {a["answer"] for a in said["answers"]} >= {"no", "no record found"}
    assert all(a["source"]["citation"] for a in said["answers"])


def test_the_command_prints_what_it_gives_as_json(tmp_path):
    _, out, _ = run(tmp_path, history_of(clinic(bad_unit())))
    for words in ("due item:", "open item (forbids use)", "loads affected:", "kept:", "gap:"):
        assert words in out


@pytest.mark.parametrize(
    ("content", "regime", "day", "words"),
    [
        ("no json", "base", "2025-01-01", "is not JSON"),
        ({"format": "x"}, "base", "2025-01-01", "format: is 'x'"),
        ("{}", "us-nowhere", "2025-01-01", "Known rules"),
        ("{}", "base", "2025-02-30", "is not a day"),
    ],
)
def test_bad_input_ends_with_2_and_a_message(tmp_path, content, regime, day, words):
    status, out, err = run(tmp_path, content, "--regime", regime, "--as-of", day)
    assert (status, out) == (2, "") and words in err


def test_a_file_that_is_not_there(tmp_path):
    err = StringIO()
    with pytest.raises(SystemExit) as end:
        call_command("evaluate", str(tmp_path / "gone"), "--regime", "base", "--as-of", "2025-01-01", stderr=err)
    assert end.value.code == 2 and "cannot be read" in err.getvalue()


PERIODS = [("2024-06-01", "2025-05-31"), ("2025-03-01", "2025-12-31"), ("2026-01-01", "2026-02-01")]


@pytest.mark.parametrize(("first", "last"), PERIODS)
def test_a_judgement_with_the_coverage_of_a_period_settles_each_unit_once(monkeypatch, first, last):
    place = clinic(bad_unit(), unit(ref="unit-2", events=START, bio_tests=weekly("2025-01-01", "2025-04-09")))
    first, last = date.fromisoformat(first), date.fromisoformat(last)
    expected = evaluate(place, DAY), coverage_over(place, DAY, first, last)
    settled = []
    settle = module.settle
    monkeypatch.setattr(module, "settle", lambda unit, *more: settled.append(unit.ref) or settle(unit, *more))
    assert evaluate_over(place, DAY, first, last) == expected
    assert settled == [each.ref for each in place.units] and len(settled) == 2


def test_a_unit_that_cannot_be_judged_has_no_coverage_and_takes_none_from_the_others(monkeypatch):
    place = clinic(bad_unit(), unit(ref="unit-2", events=START))
    stand = module.stand

    def broken(now):
        if now.unit.ref == place.units[0].ref:
            raise ZeroDivisionError("invented")
        return stand(now)

    monkeypatch.setattr(module, "stand", broken)
    judgement, kept = evaluate_over(place, DAY, START[0].row.happened_on, DAY)
    assert [each.standing.rule for each in judgement.units][0] == "R5"
    assert list(kept) == ["unit-2"] and kept["unit-2"]
