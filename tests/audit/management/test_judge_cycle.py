"""The command that judges a recorded cycle: its words, its data and how it ends; it opens no database."""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import call_command

from tests.audit.judge.cycle.logs import HEAD, NAMES, file, rows, text, without

KEYS = {"id", "verdict", "measured", "limit", "unit", "margin", "at_s", "words"}


@pytest.fixture
def judge_cycle(tmp_path):
    """Write a file and judge it: exit status, output and error output. No test here may open the database."""

    def run(content: bytes, *words):
        path = tmp_path / "cycle.txt"
        path.write_bytes(content)
        out, err = io.StringIO(), io.StringIO()
        with pytest.raises(SystemExit) as end:
            call_command("judge_cycle", str(path), *words, stdout=out, stderr=err)
        return end.value.code, out.getvalue(), err.getvalue()

    return run


def own(profile: str, **how) -> bytes:
    """A file that names its profile in line 5."""
    return file(head=(*HEAD, f"# profile: {profile}"), **how)


@pytest.mark.parametrize(
    ("content", "status", "word"),
    [
        (file(), 0, "met"),
        (file(rows(hold=100)), 1, "not met"),
        (file(rows()[:150]), 1, "incomplete"),
        (file(without(rows(), 2), names="t_s,temperature_c,temperature_2_c"), 1, "cannot be judged"),
    ],
)
def test_the_word_and_the_exit_status(judge_cycle, content, status, word):
    ended, out, err = judge_cycle(content, "--profile", "holding-134", "--json")
    said = json.loads(out)
    assert (ended, said["verdict"], err) == (status, word, "")
    assert set(said) == {"verdict", "criteria", "f0_min", "f0_least_min", "problems"}
    assert len(said["criteria"]) == 10 and all(set(c) == KEYS for c in said["criteria"])
    ended, out, _ = judge_cycle(content, "--profile", "holding-134")
    assert ended == status and f"cycle.txt: {word.upper()}\n" in out


def test_a_file_that_is_not_in_the_form_names_its_line(judge_cycle):
    content = file().replace(b"\n9,", b"\n8,")
    ended, out, err = judge_cycle(content, "--profile", "holding-134")
    assert (ended, out) == (2, "") and "line 15" in err and "times only grow" in err
    ended, out, err = judge_cycle(content, "--profile", "holding-134", "--json")
    said = json.loads(out)
    assert ended == 2 and said["verdict"] is None and [p["line"] for p in said["problems"]] == [15]


@pytest.mark.parametrize("words", [[], ["--profile", "holding-135"], ["--profile", ""], ["--profile", "../profile"]])
def test_without_a_profile_that_is_known_those_on_file_are_named(judge_cycle, words):
    ended, out, err = judge_cycle(file(), *words)
    assert (ended, out) == (2, "") and "holding-121, holding-126, holding-134" in err


def test_the_file_may_name_its_profile(judge_cycle):
    assert judge_cycle(own("holding-134"))[0] == 0
    assert judge_cycle(own("holding-121"))[0] == 1
    assert judge_cycle(own("holding-999"))[0] == 2


def test_the_profile_asked_for_goes_before_and_that_is_said(judge_cycle):
    ended, out, _ = judge_cycle(own("holding-121"), "--profile", "holding-134", "--json")
    (problem,) = json.loads(out)["problems"]
    assert ended == 0 and problem["line"] == 5 and "holding-121" in problem["words"]
    assert json.loads(judge_cycle(own("holding-134"), "--profile", "holding-134", "--json")[1])["problems"] == []


def test_a_file_that_is_not_there_is_bad_input(tmp_path, capsys):
    for path in (tmp_path / "none", tmp_path):
        with pytest.raises(SystemExit) as end:
            call_command("judge_cycle", str(path), "--profile", "holding-134")
        assert end.value.code == 2 and "cannot be read" in capsys.readouterr().err


def test_numbers_that_no_float_holds_make_no_invalid_data(judge_cycle):
    body = [["0", "100"], ["1", "9" * 60], ["2", "100"]]
    ended, out, _ = judge_cycle(text(body, names="t_s,temperature_c").encode(), "--profile", "holding-134", "--json")
    said = json.loads(out, parse_constant=pytest.fail)
    assert ended == 1 and said["f0_min"] is None and [p for p in said["problems"] if "F0" in p["words"]]


def test_keys_and_sources_are_shown_to_people(judge_cycle):
    out = judge_cycle(file(head=(*HEAD, "# mood: fair"), names=NAMES), "--profile", "holding-134")[1]
    assert "mood: fair" in out and "source: EN 285" in out and "(from memory)" in out and "F0 " in out
