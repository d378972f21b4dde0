"""Until when a record is kept: published lengths, what each counts from, and which of several holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.judge.retention import kept_until, longest
from audit.regimes import Retention, load_regime
from audit.regimes.source import Source

DAY = date(2023, 3, 15)
PLAIN = Retention("records", 12, 0, "record", "twelve months", Source("invented"))
YEARS = replace(PLAIN, months=0, calendar_years=2)
LAST = replace(PLAIN, months=84, starts="last entry")
LIFE = replace(PLAIN, months=300, starts="end of life")
WORDS = replace(PLAIN, months=0)


def only(id: str) -> Retention:
    (rule,) = load_regime(id).retention
    return rule


def test_oregon_keeps_the_current_calendar_year_and_the_two_before_it():
    # OAR 818-012-0040: a record of 15 March 2023 is kept on 1 February 2025 (2023 is the second year before) and may
    # go on 1 February 2026; so it may go from the first day of 2026.
    first = kept_until(only("us-or-dental"), DAY)
    assert date(2025, 2, 1) < first <= date(2026, 2, 1)
    assert first == date(2026, 1, 1)
    assert kept_until(only("us-or-dental"), date(2023, 12, 31)) == kept_until(only("us-or-dental"), date(2023, 1, 1))


@pytest.mark.parametrize(
    ("id", "first"),
    [
        ("us-ca-dental", date(2024, 3, 16)),  # 16 CCR 1005(b)(17): 12 months
        ("us-ca-body-art", date(2026, 3, 16)),  # California Health and Safety Code 119315: 3 years
        ("us-nj-body-art", date(2026, 3, 16)),  # N.J.A.C. 8:27-5.4: 3 years
        ("neha-body-art-model", date(2026, 3, 16)),  # NEHA Body Art Model Code 6.4: at least 3 years
        ("ca-toronto-personal-services", date(2026, 3, 16)),  # O. Reg. 136/18: 1 year on site and 2 more
        ("gb-eng-dental-htm0105", date(2025, 3, 16)),  # HTM 01-05 4.3: not less than 2 years
        ("us-oh-dental", date(2025, 3, 16)),  # OAC 4715-20: 2 years, from memory
        ("us-dental-cdc-2003", None),  # CDC 2003 VI.F: as state and local rules say
    ],
)
def test_published_lengths_from_the_record(id, first):
    assert kept_until(only(id), DAY) == first


def test_australia_counts_from_the_last_entry():
    rule = only("au-racgp-2023")  # RACGP 2023: at least 7 years from the last entry
    assert kept_until(rule, DAY) is None
    assert kept_until(rule, DAY, last_entry=date(2026, 6, 1)) == date(2033, 6, 2)


def test_scotland_counts_from_the_end_of_the_units_life():
    rule = only("gb-sct-2024")  # SHTM 01-05 (2024) 5.7-5.10: the life of the equipment and 25 years
    assert kept_until(rule, DAY, last_entry=date(2026, 6, 1)) is None
    assert kept_until(rule, DAY, life_ended=date(2031, 1, 31)) == date(2056, 2, 1)


def test_months_clamp_and_the_last_day_is_still_kept():
    # common practice, no source: a year from 29 February is over on 28 February, and that day still counts
    assert kept_until(PLAIN, date(2024, 2, 29)) == date(2025, 3, 1)
    assert kept_until(replace(PLAIN, months=1), date(2026, 1, 31)) == date(2026, 3, 1)


def test_a_last_entry_before_the_record_never_shortens():
    assert kept_until(LAST, DAY, last_entry=date(2020, 1, 1)) == kept_until(LAST, DAY, last_entry=DAY)
    assert kept_until(LIFE, DAY, life_ended=date(2020, 1, 1)) == date(2048, 3, 16)


def test_of_several_rules_the_longest_holds():
    assert longest([PLAIN, YEARS], DAY) == date(2026, 1, 1)
    assert longest([YEARS, PLAIN, LAST], DAY, last_entry=DAY) == date(2030, 3, 16)


def test_no_day_is_named_where_one_rule_names_none():
    assert longest([], DAY) is None
    assert longest([PLAIN, WORDS], DAY) is None
    assert longest([PLAIN, LIFE], DAY, last_entry=DAY) is None


lengths = st.builds(
    lambda months, years: replace(PLAIN, months=0 if years else months, calendar_years=years),
    st.integers(1, 360),
    st.integers(0, 30),
)
days = st.dates(date(1990, 1, 1), date(2090, 1, 1))


@given(lengths, days, st.integers(0, 800))
def test_a_later_record_never_goes_sooner(rule, day, more):
    assert day < kept_until(rule, day) <= kept_until(rule, day + timedelta(days=more))


@given(st.lists(lengths, min_size=1, max_size=5), days)
def test_the_longest_is_one_of_them_and_none_is_longer(rules, day):
    each = [kept_until(rule, day) for rule in rules]
    assert longest(rules, day) in each and longest(rules, day) == sorted(each)[-1]
