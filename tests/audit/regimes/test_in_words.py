"""Rules in words, and the commands that print them: every rule with its source, the day checked and its grade."""

from __future__ import annotations

import json

import pytest

from audit.regimes import FREQUENCIES, load_regime
from audit.regimes.in_words import CAUTION, lines, memory_count, sections
from tests.audit.regimes.test_on_file import IDS, SHARE, edition_id, sourced
from tests.in_turn import in_turn

# ------------------------------------------------------------------------------------------------ words


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_every_rule_stands_in_the_words_with_its_source(one):
    told = lines(one)
    assert sorted(str(line.source) for line in told) == sorted(str(source) for _, source in sourced(one))
    assert all(line.head and line.grade for line in told)
    assert memory_count(one) == sum(source.grade == "from memory" for _, source in sourced(one))


def test_the_words_of_a_duty():
    (toronto,) = [x for x in lines(load_regime("ca-toronto-personal-services")) if "in a row before" in x.head]
    assert toronto.text == (
        "After installation, the arrival of a loaner, relocation, a major repair, a repair or breakdown "
        "or more than 14 days unused, before use; 3 passing results in a row; "
        "the unit may not be used while it is not met"
    )


def test_the_words_of_a_failure():
    section = next(s for s in sections(load_regime("us-mt-body-art")) if s.title == "After a failure: biological")
    assert section.lines[0].text == (
        "Out of service until it is passed; 1 passing repeat, in the same cycle type, mechanical and chemical "
        "results recorded as passing; after a failed repeat an inspection, a repair or the cause, then 3 passing "
        "tests in a row"
    )
    assert section.lines[-1].head == "Tell the health authority"
    assert section.lines[-1].text == (
        "Within 1 business day of the failure being known; public holidays of US-MT are not business days"
    )


@pytest.mark.parametrize("one", SHARE, ids=edition_id)
def test_frequencies_are_said_in_words(one):
    for each in one.duties:
        assert each.every in FREQUENCIES and "{" not in each.words and each.words


# ------------------------------------------------------------------------------------------------ commands


def test_the_list_names_every_set_of_rules(command):
    code, out, err = command("regimes")
    assert (code, err) == (0, "")
    assert [row.split(":")[0] for row in out.splitlines()[:-1]] == sorted(IDS)
    oregon = next(row for row in out.splitlines() if row.startswith("us-or-dental"))
    count = memory_count(load_regime("us-or-dental"))
    assert "Oregon, United States; dental" in oregon and "valid from 2003-12-19" in oregon
    assert oregon.endswith(f"Rules from memory: {count}.")
    assert CAUTION in out


@pytest.mark.parametrize("id", in_turn(sorted(IDS), 4))
def test_one_set_is_printed_with_every_rule_and_source(id, command):
    code, out, _ = command("regimes", id)
    assert code == 0 and CAUTION in out
    for line in lines(load_regime(id)):
        assert line.decisive in out
        assert line.head in out and f"{line.source.citation}. Checked {line.source.checked_on}; {line.grade}." in out


def test_the_edition_of_a_day_is_printed(command):
    _, before, _ = command("regimes", "gb-sct-2024", "--on", "2024-03-31")
    _, after, _ = command("regimes", "gb-sct-2024", "--on", "2024-04-01")
    assert "Automatic control test: On each day of use" in before
    assert "Automatic control test: Once in each calendar week" in after
    assert "Nothing on file." in before and "Nothing on file." not in after


def test_json_holds_the_rules_of_the_day(command):
    code, out, _ = command("regimes", "gb-sct-2024", "--on", "2024-03-31", "--json")
    found = json.loads(out)
    assert code == 0 and found["valid_from"] == "2013-01-01" and found["duties"][0]["every"] == "day-of-use"
    assert [e["valid_from"] for e in found["editions"]] == ["2024-04-01", "2013-01-01"]
    assert found["duties"][0]["source"]["checked_on"] == "2026-11-25" and found["caution"] == CAUTION
    assert {one["id"] for one in json.loads(command("regimes", "--json")[1])} == IDS


@pytest.mark.parametrize(
    ("args", "said"),
    [(["us-nowhere"], "Known: au-racgp-2023, base"), (["ie", "--on", "lately"], "year-month-day")],
)
def test_bad_input_ends_with_two(args, said, command):
    code, out, err = command("regimes", *args)
    assert (code, out) == (2, "") and said in err
