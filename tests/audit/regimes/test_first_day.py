"""How well the first and last day of each edition are known: stated by each, never inherited, said with the day."""

from __future__ import annotations

import json
from datetime import date

import pytest

from audit.regimes import RegimeError, all_regimes, load_regime
from audit.regimes.held import days_held, in_brackets, why_that_day
from audit.regimes.in_words import editions
from audit.regimes.model import DAY_GRADES
from tests.audit.regimes.test_load import GOOD, HEAD, SOURCE, before, changed, rules

EDITIONS = [each for one in all_regimes().values() for each in editions(one)]
GRADED = 'valid_from_grade = "read"\n'
BARE_BLOCK = '[[before]]\nedition = "old"\nvalid_from = 2010-01-01\n'


def head(text: str) -> str:
    return changed(GRADED, text)


# ------------------------------------------------------------------------------------------------ what a file says


@pytest.mark.parametrize(
    ("text", "key", "what"),
    [
        (head(""), "valid_from_grade", "is missing. Say how well the first day is known: read, quoted"),
        (head('valid_from_grade = "sure"\n'), "valid_from_grade", "'sure'"),
        (head('valid_from_grade = "common practice"\n'), "valid_from_grade", "'common practice'"),
        (head('valid_from_grade = "from memory"\n'), "valid_from_unread", "is missing"),
        (head('valid_from_grade = "cautious reading"\n'), "valid_from_unread", "is missing"),
        (head('valid_from_grade = "from memory"\nvalid_from_unread = " "\n'), "valid_from_unread", "is empty"),
        (head(GRADED + 'valid_from_unread = "why"\n'), "valid_from_unread", "stands beside the grade 'read'"),
        (
            head('valid_from_grade = "from memory"\nvalid_from_unread = "why"\nvalid_from_citation = "c"\n'),
            "valid_from_citation",
            "stands beside the grade 'from memory'",
        ),
        (head(GRADED + 'valid_from_citation = ""\n'), "valid_from_citation", "is empty"),
        (GOOD + BARE_BLOCK, "before[0].valid_from_grade", "is missing"),
        (GOOD + BARE_BLOCK + 'valid_from_grade = "from memory"\n', "before[0].valid_from_unread", "is missing"),
    ],
)
def test_a_first_day_without_its_grade_is_refused(tmp_path, text, key, what):
    with pytest.raises(RegimeError) as error:
        rules(tmp_path, text)
    assert (error.value.file, error.value.key) == ("mine.toml", key)
    assert what in str(error.value) and error.value.way_out


def test_neither_an_heir_nor_an_earlier_edition_takes_over_how_well_a_day_is_known(tmp_path):
    cited = head(GRADED + 'valid_from_citation = "the gazette"\n') + before("2010-01-01")
    child = HEAD.replace('"mine"', '"child"').replace('"base"', '"mine"')
    heir = rules(tmp_path, child, "child", mine=cited)
    mine = load_regime("mine", tmp_path)
    assert [(e.valid_from_grade, e.valid_from_citation) for e in editions(mine)] == [
        ("read", "the gazette"),
        ("quoted", ""),
    ]
    assert (heir.valid_from_grade, heir.valid_from_citation) == ("read", "")
    with pytest.raises(RegimeError) as error:
        rules(tmp_path, child.replace(GRADED, "").replace('"child"', '"orphan"'), "orphan")
    assert (error.value.file, error.value.key) == ("orphan.toml", "valid_from_grade")


def test_the_last_day_is_the_one_before_the_next_edition_or_before_the_end_and_is_known_as_well_as_that(tmp_path):
    ended = f'\n[ended]\non = 2024-03-01\nwords = "w"\n{SOURCE}'
    mine = rules(tmp_path, GOOD + ended + before("2015-01-01") + before("2010-01-01"))
    assert [(h.regime.valid_from.year, h.valid_to, h.valid_to_grade) for h in days_held(mine)] == [
        (2020, date(2024, 2, 29), "quoted"),
        (2015, date(2019, 12, 31), "read"),
        (2010, date(2014, 12, 31), "quoted"),
    ]
    assert all(mine.on(held.valid_to) is held.regime for held in days_held(mine))
    assert not mine.has_ended(date(2024, 2, 29)) and mine.has_ended(date(2024, 3, 1))
    (open_end,) = days_held(load_regime("ie"))
    assert (open_end.valid_to, open_end.valid_to_grade) == (None, "")


# ------------------------------------------------------------------------------------------------ what is on file


def test_every_edition_says_how_well_its_first_day_is_known():
    for one in EDITIONS:
        weak = one.valid_from_grade not in ("read", "quoted")
        assert one.valid_from_grade in DAY_GRADES and bool(one.valid_from_unread) == weak, one.id
        assert "\n" not in one.valid_from_unread, one.id
        assert not [note for note in one.notes if "shown from" in note or "are shown" in note], (
            "said once, by its grade"
        )


def test_a_day_that_was_read_or_quoted_stands_in_what_is_named_for_it():
    said = 0
    for one in EDITIONS:
        if one.valid_from_grade in ("read", "quoted"):
            day = one.valid_from
            written = (f"{day.day} {day:%B %Y}", f"{day:%B} {day.day}, {day.year}")
            assert any(words in (one.valid_from_citation or one.edition) for words in written), one.id
            said += 1
    assert said >= 20


def test_a_day_taken_from_a_copy_that_names_none_is_a_cautious_reading():
    taken = {one.id for one in EDITIONS if one.valid_from_unread.startswith("the copy read")}
    assert {"us-ga-dental", "us-tn-dental"} <= taken
    for one in EDITIONS:
        if one.valid_from == date(2026, 11, 28):  # the day on which undated copies were read
            assert one.valid_from_grade == "cautious reading" and "undated" in one.valid_from_unread, one.id


# ------------------------------------------------------------------------------------------------ in words


@pytest.mark.parametrize(
    ("grade", "said"),
    [("read", ""), ("", ""), ("quoted", " (quoted)"), ("from memory", " (from memory)")],
)
def test_what_stands_behind_a_day(grade, said):
    assert in_brackets(grade) == said


@pytest.mark.parametrize(
    ("id", "said"),
    [
        ("ie", "The first day stands in: S.I. 445/2012: from 1 January 2013."),
        ("pl-dental", "The first day is not from a text: the day of the annex was not seen."),
        ("us-wa-dental", ""),
    ],
)
def test_where_a_first_day_stands_or_why_it_is_not_from_a_text(id, said):
    assert why_that_day(load_regime(id)) == said


def test_the_command_says_it_with_the_day(command):
    listed = command("regimes")[1].splitlines()
    for one in all_regimes().values():
        (line,) = [line for line in listed if line.startswith(f"{one.id}: ")]
        assert f"; valid from {one.valid_from}{in_brackets(one.valid_from_grade)}. Rules from memory" in line
    told = command("regimes", "us-fl-dental")[1].splitlines()
    assert any(line.startswith("Valid from 2019-12-11 (quoted). ") for line in told)
    assert any(
        line.startswith("  valid from 2003-12-19 (from memory) to 2019-12-10 (quoted): 64B5-25.003") for line in told
    )
    assert "  The first day stands in: S.I. 445/2012: from 1 January 2013." in command("regimes", "ie")[1]
    compared = command("regimes", "us-in", "--against", "ie")[1].splitlines()
    assert compared[0].endswith(", from 2003-12-19 (from memory)") and compared[1].endswith(", from 2013-01-01")


def test_as_json_each_edition_has_both_days_with_their_grades(command):
    found = json.loads(command("regimes", "gb-sct-2024", "--json")[1])
    assert found["valid_from_grade"] == "from memory" and "April 2024" in found["valid_from_unread"]
    assert [(e["valid_to"], e["valid_to_grade"]) for e in found["editions"]] == [
        (None, ""),
        ("2024-03-31", "from memory"),
    ]
    ended = json.loads(command("regimes", "au-racgp-2023", "--json")[1])["editions"]
    assert [(e["valid_from_grade"], e["valid_to"], e["valid_to_grade"]) for e in ended] == [
        ("quoted", "2026-06-28", "read")
    ]
