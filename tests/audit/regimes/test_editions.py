"""Earlier editions of a set of rules, and what a set takes over from another one."""

from __future__ import annotations

from datetime import date

import pytest

from audit.regimes import RegimeError, load_regime
from tests.audit.regimes.looked_up import duty


def test_florida_follows_the_guideline_of_2008_since_its_rule_adopts_it():
    # 64B5-25.002(4), amended 11 December 2019: CDC 2008; before that CDC 2003
    then, now = (load_regime("us-fl-dental").on(date(2019, 12, day)) for day in (10, 11))
    assert (then.inherits, now.inherits) == ("us-dental-cdc-2003", "us-healthcare-cdc-2008")
    assert then.path("biological").repeats == 1 and now.path("biological").repeats == 3
    assert "air-removal-test" in [d.id for d in now.duties] and len(then.duties) == 2
    assert all(duty("us-fl-dental", "biological-test", each.valid_from).hours == 40 for each in (then, now))


def test_scotland_asked_the_automatic_control_test_daily_until_april_2024():
    # SHTM 01-05 (2024) 5.33: weekly, no longer daily
    assert duty("gb-sct-2024", "automatic-control-test", date(2024, 3, 31)).every == "day-of-use"
    assert duty("gb-sct-2024", "automatic-control-test", date(2024, 4, 1)).every == "calendar-week"


def test_an_earlier_edition_keeps_what_did_not_differ():
    before = load_regime("gb-sct-2024").on(date(2020, 1, 1))
    assert before.title == "Scotland dental, SHTM 01-05" and before.retention == ()
    assert [d.id for d in before.duties] == [
        "automatic-control-test",
        "pressure-examination",
    ]  # the insurance is of the later text
    assert duty("gb-sct-2024", "pressure-examination", date(2020, 1, 1)).count == 14


def test_ontario_told_cycle_types_apart_from_2018():
    # RCDSO 2010: each day of use; RCDSO 2018 as reported: for each cycle type
    assert duty("ca-on-dental", "biological-test", date(2017, 12, 31)).every == "day-of-use"
    assert [d.id for d in load_regime("ca-on-dental").on(date(2017, 12, 31)).duties] == ["biological-test"]


def test_before_the_oldest_edition_it_is_the_oldest():
    oldest = load_regime("ca-on-dental").on(date(1990, 1, 1))
    assert oldest.edition.startswith("RCDSO 2010") and oldest.valid_from == date(2010, 2, 1)  # revised February 2010


# ------------------------------------------------------------------------------------------------ inheritance


def test_base_has_no_duty_of_its_own():
    assert load_regime("base").duties == ()


def test_inheritance_keeps_what_is_not_said_again():
    oregon, dental = load_regime("us-or-dental"), load_regime("us-dental-cdc-2003")
    assert oregon.failure == dental.failure
    assert [d.id for d in oregon.duties] == [d.id for d in dental.duties] == ["biological-test", "implant-load-test"]
    assert oregon.duties[0] != dental.duties[0] and oregon.duties[1] == dental.duties[1]


def test_unknown_rules_name_those_on_file():
    with pytest.raises(RegimeError, match="Known rules: au-racgp-2023, base, br-dental, ca-ab"):
        load_regime("us-nowhere")
