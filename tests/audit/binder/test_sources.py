"""Sources in a binder: the place's own text first, what is of another place under Method alone, each checked once."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from audit.binder.contents import binder_contents
from audit.binder.rules_followed import _cited
from audit.binder.scope import AS_METHOD, scope
from audit.binder.sections import to_json
from audit.judge.evaluate import coverage_over, evaluate
from audit.regimes.places import texts_of
from audit.regimes.source import Source
from tests import fact_builders as b
from tests.audit.binder import sample
from tests.audit.binder.paper import spaced
from tests.audit.binder.test_contents import column, section, table

FIRST, TODAY = date(2026, 1, 1), date(2026, 3, 18)
RULES = ("ie", "au-racgp-2023", "ca-toronto-personal-services", "gb-sct-2024", "us-oh-dental", "us-dental-cdc-2003")


def place(regime: str):
    """A place with a failure that is open, a repair and a load, so that every chapter cites something."""
    unit = b.unit(
        "2024-01-01", type="dynamic air removal", events=(b.installed("2024-01-01"),),
        bio_tests=(b.bio("2026-02-02", result="pass"), b.bio("2026-02-09", result="growth")),
        jobs=(b.job("2026-01-12", parts=(b.part("2026-01-12", "seal"),)),),
        loads=(b.load("2026-02-05", "11"),),
    )  # fmt: skip
    return b.clinic(unit, regime=regime)


def made(regime: str, as_of: date = TODAY):
    facts = place(regime)
    judgement = evaluate(facts, as_of)
    coverage = coverage_over(facts, as_of, FIRST, as_of)
    whole = scope(facts, judgement, FIRST, as_of, coverage)
    return whole, binder_contents(facts, judgement, from_on=FIRST, to_on=as_of, coverage=coverage)


def is_method(each) -> bool:
    return each.id.startswith("method")


@pytest.mark.parametrize("regime", RULES)
def test_a_text_of_another_place_stands_in_the_method_chapter_alone(regime):
    whole, binder = made(regime)
    foreign = {
        text.text
        for _, source in _cited(whole)
        for text in texts_of(source.citation)
        if source.grade and text.place and text.place not in whole.places
    }
    said = json.dumps([to_json(each) for each in binder.sections if not is_method(each)], ensure_ascii=False)
    method = json.dumps([to_json(each) for each in binder.sections if is_method(each)], ensure_ascii=False)
    assert foreign, "these rules follow something from elsewhere, or inspectors elsewhere ask it"
    assert [text for text in foreign if text in said] == []
    assert [text for text in foreign if text not in method] == []
    wholly = [s for _, s in _cited(whole) if s.grade and all(text.text in foreign for text in texts_of(s.citation))]
    assert wholly and AS_METHOD in said


@pytest.mark.parametrize("regime", RULES)
def test_sources_begin_with_the_places_own_and_each_stands_once(regime):
    whole, binder = made(regime)
    block = table(section(binder, "method-rules"), "Sources behind the answers")
    cited = column(block, "Source")
    assert len(cited) == len(set(cited)) > 5
    whose = [bool(cell) for cell in column(block, "Followed as method from")]
    own = [any(text.place == whole.places[0] for text in texts_of(each)) for each in cited]
    assert own == sorted(own, reverse=True), "the narrowest place first"
    assert whose.index(True) > 0 and any(own)


def test_when_a_source_was_checked_is_not_printed():
    _, binder = made("us-dental-cdc-2003", date(2027, 3, 1))
    whole = json.dumps([to_json(each) for each in binder.sections], ensure_ascii=False)
    assert '"text": "2026-11-2' not in whole and ", checked " not in whole
    assert len(column(table(section(binder, "method-rules"), "Sources behind the answers"), "Grade")) > 5


def test_of_one_source_cited_twice_the_weakest_grade_holds():
    facts, judgement = sample.clinic()
    twice = (Source("one text", "2020-01-02", "read"), Source("one text", "2020-03-04", "quoted"))
    judgement = replace(judgement, regime_sources=twice)
    binder = binder_contents(facts, judgement, from_on=sample.FROM, to_on=sample.TO)
    rows = table(section(binder, "method-rules"), "Sources behind the answers").rows
    (row,) = [row for row in rows if row[0].text == "one text"]
    assert [cell.text for cell in row[1:]] == ["", "quoted"]


def test_what_somebody_wrote_down_here_is_given_whole():
    """A maker's manual or a clinic's own rule is no text of another place, whatever words stand in its title."""
    whole, _ = made("ie")
    assert whole.cite(Source("Model One manual, Florida edition; section 7")) == (
        "Model One manual, Florida edition; section 7"
    )
    assert whole.cite(Source("CDC 2003 (MMWR 52 RR-17) VI.F", "2026-11-25", "quoted")) == AS_METHOD
    assert whole.cite(None) == ""


def test_the_chapter_of_the_rules_says_how_well_the_first_day_of_the_edition_is_known():
    _, binder = made("gb-sct-2024")
    followed = table(section(binder, "method-rules"), "Rules followed in the period")
    assert [spaced(row[3].text) for row in followed.rows] == ["1 Apr 2024 (from memory)"]
