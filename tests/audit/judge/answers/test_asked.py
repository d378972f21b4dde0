"""What answers share: shares, numbers and lists in words, rows since a day, and which duty an id means."""

from __future__ import annotations

import pytest

from audit.facts import LocalDutyFact
from audit.judge.answers.asked import cited, joined, number, share, since
from tests.fact_builders import clinic, load, on, row

from .asking import own_unit, place_of

YES, NO, PART, NONE = "yes", "no", "in part", "no record found"


@pytest.mark.parametrize(
    ("good", "all_", "said"), [(0, 0, NONE), (0, 1, NO), (1, 1, YES), (1, 2, PART), (2, 3, PART), (3, 3, YES)]
)
def test_how_many_are_good(good, all_, said):
    assert share(good, all_) == said


def test_numbers_in_words():
    assert [number(n, "load") for n in (0, 1, 2)] == ["0 loads", "1 load", "2 loads"]
    assert [number(n, "person", "people") for n in (1, 2)] == ["1 person", "2 people"]


def test_lists_in_words():
    assert joined([]) == "" and joined("a") == "a" and joined("abcde") == "a; b; c; d; e"
    assert joined("abcdef") == "a; b; c; d; e; and 1 more" and joined("abc", 1) == "a; and 2 more"


def test_rows_of_the_day_and_later():
    loads = tuple(load(f"2025-06-0{n}") for n in (3, 1, 2))
    assert [x.row.happened_on.day for x in since(loads, on("2025-06-02"))] == [2, 3]
    assert [e.text for e in cited((x, f"{n}") for n, x in enumerate(loads * 9))][0] != "0"
    assert [e.ref for e in cited((x, "") for x in loads)] == [x.row.ref for x in loads]


def own(every, count, day="2024-01-01"):
    return LocalDutyFact(row(day), on(day), "water-check", every, count, "invented")


def test_a_duty_of_its_own_as_last_set_by_the_day():
    duties = (
        own("rolling-days", 10, "2025-01-01"),
        own("rolling-days", 20, "2025-06-30"),
        own("rolling-days", 30, "2025-07-01"),
    )
    place = place_of(clinic(own_unit(), local_duties=duties))
    assert (place.every("water-check-own"), place.count("water-check-own")) == ("rolling-days", 20)
    assert (place.every("nothing"), place.count("nothing"), place.subject("nothing")) == ("", 0, "")
    assert place.subject("biological-test") == "biological" and place.every("biological-test") == "calendar-week"
    assert place.since(12) == on("2024-06-30")
