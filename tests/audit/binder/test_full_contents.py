"""The binder as data where every part of the judgement is filled, and where none is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.binder.contents import binder_contents
from audit.binder.sections import KeyValues, Links, to_json
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
    assert any(cell.pages for cell in cells(binder.sections)) and len(asked) > 40
    assert {cell.to for cell in asked} | {to for cell in asked for to, _ in cell.pages} <= set(ids)


# ------------------------------------------------------------------------------------------------ coverage


def test_the_bounds_in_the_method_are_those_of_scipy(binder):
    """Clopper and Pearson 1934, by the beta quantile: an implementation that is not ours."""
    from scipy.stats import beta

    told = words(section(binder, "method-figures"))
    for tests, printed in ((5, "45 %"), (52, "5.6 %"), (104, "2.8 %")):
        bound = 100 * beta.ppf(0.95, 1, tests)
        digits = 0 if bound >= 10 else 1
        assert f"{bound:.{digits}f} %" == printed and printed in told


def test_coverage_of_other_days_than_the_period_says_so(judged):
    made = binder_contents(*judged, from_on=date(2026, 1, 1), to_on=sample.TO)
    assert "which is not the period of this binder" in words(section(made, "unit-1-coverage"))


# ------------------------------------------------------------------------------------------------ checks and loads


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
    (block,) = section(binder, "clinic-due").blocks
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
        assert rule in rules.replace("\u00a0", " ").split("\n")
    assert "Spore test" not in rules


def test_with_nothing_filled_every_new_part_says_so_in_words():
    made = binder_contents(*sample.clinic(), from_on=sample.FROM, to_on=sample.TO)
    told = words(made)
    for text in (
        "No question is answered in this binder",
        "Training, licences and other credentials: no record found.",
    ):
        assert text in told, text
    assert not any(each.id == "lots" for each in made.sections), "no chapter of part recalls without a notice"


# What the data inside every binder call its parts. Files that were handed out hold these words, and others read them.
KINDS = {
    "Beside", "Binder", "CaseTimeline", "Cautions", "Cell", "CycleBar", "CycleMark",
    "Charts", "Column", "CounterChart", "CounterPoint",
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
