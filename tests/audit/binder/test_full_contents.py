"""The binder as data where every part of the judgement is filled, and where none is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.binder.contents import binder_contents
from audit.binder.sections import KeyValues, Links, Table, to_json
from audit.judge.judgement import Lapse
from tests.audit.binder import full, sample
from tests.audit.binder.paper import spaced
from tests.audit.binder.test_contents import cells, column, section, table, words


@pytest.fixture(scope="module")
def judged():
    return full.clinic()


@pytest.fixture(scope="module")
def binder(judged):
    return binder_contents(*judged, from_on=sample.FROM, to_on=sample.TO)


def own(section) -> tuple:
    """The blocks of a section without the links back to answers."""
    return tuple(block for block in section.blocks if not isinstance(block, Links))


def pairs(block: KeyValues) -> list[tuple[str, str]]:
    return [(key, spaced(cell.text)) for key, cell in block.pairs]


def test_every_link_and_every_page_asked_for_leads_to_a_section(binder):
    ids = [each.id for each in binder.sections]
    assert len(set(ids)) == len(ids)
    asked = [cell for cell in cells(binder.sections) if cell.to or cell.page is not None]
    assert any(cell.page for cell in asked)
    assert {cell.to for cell in asked} | {to for cell in asked for to, _ in cell.pages} <= set(ids)


# ------------------------------------------------------------------------------------------------ coverage


def test_coverage_has_its_counts_its_days_and_the_reasons_for_what_was_exempt(binder):
    block = table(section(binder, "unit-1-coverage"), "From 1 Jun 2025 to 31 May 2026, both included")
    names = ("Due", "Met", "Met late", "Missed", "Invalid", "Awaited")
    assert [[column(block, name)[n] for name in names] for n in (0, 1)] == [
        ["51", "48", "0", "1", "1", "1"],
        ["260", "60", "0", "200", "0", "0"],
    ]
    assert column(block, "Exempt, and why") == ["1: closed for the holidays", "none"]
    assert column(block, "Longest gap") == ["14 days\n15 Dec 2025 to 29 Dec 2025", "fewer than two to compare"]
    assert column(block, "Duty")[1] == "Automatic control test\non each day of use"
    said = table(section(binder, "unit-1-coverage"), "What the tests say")
    assert column(said, "Duty, source")[1] == "Automatic control test\nCommon practice, no source (from memory)"


def test_a_bound_is_printed_only_where_no_test_failed(binder):
    block = table(section(binder, "unit-1-coverage"), "What the tests say")
    assert column(block, "Rate of failures") == [
        "no bound is stated: a test failed",
        "at most 0.0495 per test (95 % one-sided)",
    ]


def test_the_bounds_in_the_method_are_those_of_scipy(binder):
    """Clopper and Pearson 1934, by the beta quantile: an implementation that is not ours."""
    from scipy.stats import beta

    told = words(section(binder, "method-figures"))
    for tests, printed in ((5, "45 %"), (52, "5.6 %"), (104, "2.8 %")):
        bound = 100 * beta.ppf(0.95, 1, tests)
        digits = 0 if bound >= 10 else 1
        assert f"{bound:.{digits}f} %" == printed and printed in told


def test_lapses_of_which_the_same_is_known_share_a_row_and_those_with_rows_do_not(binder):
    block = table(section(binder, "unit-1-coverage"), "Lapses, and what was exempt")
    assert column(block, "Result") == ["missed", "invalid", "exempt", "missed"]
    assert column(block, "From, to")[3] == "2 Jun 2025 to 18 Dec 2025\n200 times in a row"


def test_a_lapse_of_another_kind_between_ends_the_run(judged):
    facts, judgement = judged
    unit = judgement.units[0]
    days = [date(2026, 1, n) for n in (1, 2, 3)]
    lapses = tuple(Lapse(day, day, "exempt" if n == 1 else "missed", "") for n, day in enumerate(days))
    one = replace(unit.coverage[0], lapses=lapses)
    judgement = replace(judgement, units=(replace(unit, coverage=(one,)), judgement.units[1]))
    made = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    block = table(section(made, "unit-1-coverage"), "Lapses, and what was exempt")
    assert column(block, "Result") == ["missed", "exempt", "missed"]


def test_coverage_of_other_days_than_the_period_says_so(judged):
    made = binder_contents(*judged, from_on=date(2026, 1, 1), to_on=sample.TO)
    assert "which is not the period of this binder" in words(section(made, "unit-1-coverage"))


def test_coverage_counted_for_the_period_goes_before_that_of_the_judgement(judged):
    facts, _ = judged
    first = date(2026, 1, 1)
    own = full.coverage(facts.units[0], first, sample.TO)
    made = binder_contents(*judged, from_on=first, to_on=sample.TO, coverage={facts.units[0].ref: own})
    told = words(section(made, "unit-1-coverage"))
    assert "From 1 Jan 2026 to 31 May 2026, both included" in told and "not the period" not in told


# ------------------------------------------------------------------------------------------------ checks and loads


def test_user_checks_are_counted_by_month_and_days_not_signed_are_named(binder):
    block = table(section(binder, "indicators-1-checks"), "User checks by month")
    assert column(block, "Month") == ["Feb 2026", "Mar 2026", "Apr 2026"]
    counts = zip(*(map(int, column(block, name)) for name in ("Passed", "Failed", "Not done")), strict=True)
    assert list(counts) == [(27, 1, 0), (30, 0, 1), (1, 0, 0)]
    assert column(block, "Not signed") == ["2: 10, 11 Feb", "none", "none"]
    assert column(block, "Values read")[0] == "134.2 to 134.8 °C"


def test_only_checks_that_did_not_pass_stand_by_themselves(binder):
    block = table(section(binder, "indicators-1-checks"), "User checks that failed or were not done")
    assert list(zip(column(block, "Day"), column(block, "Result"), strict=True)) == [
        ("20 Feb 2026", "fail"),
        ("3 Mar 2026", "not done"),
    ]
    assert "holding time short by 20 s" in column(block, "What was recorded")[0]


def test_loads_are_counted_by_month_with_what_was_monitored(binder):
    block = table(section(binder, "indicators-1-loads"), "Loads by month")
    assert column(block, "Loads") == ["2", "113", "48"]
    assert column(block, "Mechanical") == ["2 not asked", "112 pass\n1 not asked", "47 pass\n1 fail"]
    assert column(block, "Release")[2] == "47 released\n1 rejected"
    # 111 loads of 47.5 minutes are 87.875 hours.
    assert column(block, "Use")[1] == "87.9 h\n2 without"
    assert column(table(section(binder, "indicators-1-loads"), "Loads that failed or were rejected"), "Day") == [
        "2 Mar 2026"
    ]


def test_ten_years_of_daily_checks_and_loads_stay_a_summary(judged):
    facts, judgement = judged
    unit = facts.units[0]
    shift = [replace(c, row=replace(c.row, happened_on=date(y, c.row.happened_on.month, c.row.happened_on.day)))
             for y in range(2016, 2026) for c in unit.checks if c.row.happened_on.day < 29]  # fmt: skip
    facts = replace(facts, units=(replace(unit, checks=tuple(shift)), facts.units[1]))
    made = binder_contents(facts, judgement, from_on=date(2016, 1, 1), to_on=sample.TO)
    rows = [len(block.rows) for block in section(made, "indicators-1-checks").blocks if isinstance(block, Table)]
    assert len(shift) > 500 and sum(rows) <= 30 + 20


# ------------------------------------------------------------------------------------------------ people, recalls


def test_credentials_and_instruments_say_how_they_stand_on_the_day(binder):
    people = section(binder, "people")
    credentials = table(people, "Training, licences and other credentials")
    assert column(credentials, "On the day of the answer") == [
        "past its last valid day",
        "valid",
        "valid, no end stated",
    ]
    instruments = table(people, "Measuring instruments")
    assert [cell.split("\n")[0] for cell in column(instruments, "Instrument, kind")] == [
        "conductivity meter", "logger L-07", "tester",
    ]  # fmt: skip
    assert column(instruments, "On the day of the answer") == [
        "no calibration on record", "last calibration: out of tolerance", "holds",
    ]  # fmt: skip
    calibrations = table(people, "Calibrations")
    assert column(calibrations, "As found") == ["+0.1 °C at 134 °C", "+0.9 °C at 134 °C", "within, adjusted"]


def test_the_last_valid_day_is_valid(judged):
    """Ida Lund's training holds up to and with 31 March 2026."""
    facts, judgement = judged
    for day, state in ((date(2026, 3, 31), "valid"), (date(2026, 4, 1), "past its last valid day")):
        made = binder_contents(facts, replace(judgement, as_of=day), from_on=sample.FROM, to_on=sample.TO)
        block = table(section(made, "people"), "Training, licences and other credentials")
        assert column(block, "On the day of the answer")[0] == state


def test_due_items_of_the_whole_place_are_listed(binder):
    block = table(section(binder, "clinic-due"), "Due items of the whole place")
    assert column(block, "Due item") == ["Yearly training of Ida Lund", "Liability insurance"]
    assert column(block, "State")[0] == "overdue, 61 days"  # 1 April to 31 May, both inclusive


def test_a_part_recall_says_what_it_means_and_what_was_found(binder):
    block = table(section(binder, "lots"), "Part recalls")
    assert column(block, "Part, number, lot") == ["cassette seal\nXQ-0417 (invented)\nlot B25-118"]
    assert column(block, "Notice: which, why, what to do")[0].startswith("fitted from 1 Jan 2026 on\n")
    assert column(block, "Found on the units here") == [
        "S1 Łódź: cassette seal, lot B25-118, fitted 4 Mar 2026; 80 loads, 1 part; still open"
    ]


# ------------------------------------------------------------------------------------------------ failures


def test_look_backs_of_all_triggers_are_told_each_once(binder, judged):
    told = [each for each in binder.sections if "-look-back-" in each.id]
    kinds = [dict(pairs(own(each)[0]))["Kind"] for each in told]
    assert kinds == [
        "mechanical or penetration failure", "found out of tolerance", "instrument out of tolerance", "part recall",
    ]  # fmt: skip
    assert "positive spore test" in words(section(binder, "indicators-1-failure-1"))
    assert len(judged[1].units[0].look_backs) == len(kinds) + 1


def test_a_look_back_says_its_decision_what_the_rules_ask_and_what_is_outside(binder):
    mechanical, _, instrument, _ = (each for each in binder.sections if "-look-back-" in each.id)
    assert dict(pairs(own(mechanical)[0]))["Decision"] == "still open: no decision is on record"
    assert dict(pairs(own(instrument)[0]))["Decision"] == "decided on 2 May 2026"
    assert dict(pairs(own(instrument)[0]))["What the rules ask"] == "judge each reading taken with it"
    outside = table(mechanical, "What is outside, and why")
    assert column(outside, "Why") == ["its mechanical result passed"]


def test_many_loads_in_a_look_back_are_counted_by_month(binder):
    recall = [each for each in binder.sections if "-look-back-" in each.id][-1]
    block = table(recall, "What is in doubt")
    assert column(block, "Kind") == ["loads", "loads", "part"]
    assert column(block, "What is in doubt")[0].startswith("Feb 2026: 32 loads, from cycle 3080 of 21 Feb 2026")


@pytest.mark.parametrize(
    ("from_on", "to_on", "told"),
    [
        (date(2026, 5, 3), sample.TO, ["found", "mechanical", "part", "positive"]),
        (date(2026, 5, 2), sample.TO, ["found", "instrument", "mechanical", "part", "positive"]),
        (date(2025, 1, 1), date(2025, 1, 8), ["found"]),
    ],
)
def test_a_look_back_belongs_to_a_period_it_touches_or_in_which_it_is_open(judged, from_on, to_on, told):
    """The instrument's was decided on 2 May 2026; the one without any good proof reaches back to the first record.

    That of the positive spore test is told with its case where the case belongs to the period, else by itself.
    """
    made = binder_contents(*judged, from_on=from_on, to_on=to_on)
    kinds = sorted(dict(pairs(own(each)[0]))["Kind"] for each in made.sections if "-look-back-" in each.id)
    assert len(kinds) == len(told) and all(kind.startswith(start) for kind, start in zip(kinds, told, strict=True))


def test_a_case_tells_its_deadlines_what_is_missing_and_its_warnings(binder):
    told = words(section(binder, "indicators-1-failure-1"))
    for text in (
        "In time up to and with 4 Feb 2026",
        "a return signed by the responsible person",
        "the repeat was run before the cause was found on 9 Feb 2026",
    ):
        assert text in told


# ------------------------------------------------------------------------------------------------ method, nothing


def test_every_rule_from_memory_is_listed_and_no_other(binder):
    block = table(section(binder, "method-memory"), "Rules to be confirmed")
    (rules,) = column(block, "Rule")
    for rule in (
        "Automatic control test: on each day of use",
        "Yearly training of Ida Lund: at most 12 months apart",
        "Question: Are repair and maintenance logs present?",
        "Loads affected, found out of tolerance",
        "After a failure: Tell the health department",
    ):
        assert rule in rules.split("\n")
    assert "Spore test" not in rules


def test_with_nothing_filled_every_new_part_says_so_in_words():
    made = binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO)
    told = words(made)
    for text in (
        "No question is answered in this binder",
        "How the duties were kept: nothing is counted for this unit.",
        "User checks in the period: no record found.",
        "Training, licences and other credentials: no record found.",
        "No due item of the whole place",
    ):
        assert text in told, text
    assert not any(each.id == "lots" for each in made.sections), "no chapter of part recalls without a notice"


# What the data inside every binder call its parts. Files that were handed out hold these words, and others read them.
KINDS = {
    "Beside", "Binder", "CaseTimeline", "Cautions", "Cell", "Charts", "Column", "CounterChart", "CounterPoint",
    "DutyStrip", "KeyValues", "Lane", "LedgerHead", "Links", "Masthead", "MonthCalendar", "Paragraph", "Question",
    "ReadingChart", "RulesFollowed", "Sample", "Section", "Signed", "StandingBox", "Strip", "StripPanel", "StripRow",
    "StripWeek", "Table", "TimeMark", "TimeSpan", "TimelineStep", "Title", "UnitTimeLine",
}  # fmt: skip


def kinds_in(value) -> set[str]:
    if isinstance(value, dict):
        own_kind = {value["kind"]} if str(value.get("kind"))[:1].isupper() else set()
        return own_kind.union(*map(kinds_in, value.values()))
    return set().union(*map(kinds_in, value)) if isinstance(value, list) else set()


def test_the_data_go_on_calling_the_parts_of_a_binder_what_they_were_called(binder):
    """A class may be named anew; then its kind is said as before. A new kind of block joins the list."""
    said = kinds_in(to_json(binder))
    assert said <= KINDS, "a kind that no binder handed out so far knows"
    assert {"Binder", "Section", "Table", "Cell", "LedgerHead", "StandingBox", "RulesFollowed"} <= said
