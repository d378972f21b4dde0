"""What goes wrong where rules are gathered from many texts: words of nobody, silence, a misprint, two pages."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.evaluate import evaluate, evaluate_unit
from audit.judge.judgement import Severity
from audit.regimes import load_regime
from audit.regimes.covers import not_covered
from audit.regimes.gaps import GAPS, STATES
from audit.regimes.load import FOLDER
from audit.regimes.model import KINDS
from audit.regimes.source import CAUTIOUS, MEMORY, PRACTICE
from audit.regimes.table import NO_SOURCE
from tests.audit.regimes.looked_up import duty
from tests.audit.regimes.test_on_file import EDITIONS, edition_id
from tests.fact_builders import clinic, document, event, on, unit


def test_decisive_words_are_of_texts_that_were_seen_and_few():
    held = [(one.id, source, words) for one in EDITIONS for source, words in one.decisive]
    assert len(held) > 25
    for id, source, words in held:
        assert source.grade in ("read", "quoted"), id
        assert len(words.partition("”")[0].split()) <= 25, id


@pytest.mark.parametrize("one", [one for one in EDITIONS if one.id != "base"], ids=edition_id)
def test_no_text_is_laxer_than_the_base_where_it_is_silent(one):
    """No air-removal test less after an installation, and no test less after work: silence takes nothing away."""
    base = load_regime("base")
    assert one.requalification.air_removal >= base.requalification.air_removal
    assert one.requalification.biological >= base.requalification.biological
    for mine, shared in zip(one.verification, base.verification, strict=True):
        assert set(shared.tests) <= set(mine.tests) and set(shared.dynamic) <= set(mine.dynamic)
    assert all(one.path(kind).withdraws or not base.path(kind).withdraws for kind in KINDS)


def test_the_leak_limit_of_the_misprint_is_in_no_file():
    # 1.3 mbar/min is 0.13 kPa/min: “1.3 kPa/min”, which goes round, is ten times too much
    for file in FOLDER.glob("*.toml"):
        assert "1.3 kPa" not in file.read_text(encoding="utf-8"), file.name


def test_denmarks_two_pages_differ_and_the_stricter_holds():
    found = duty("dk-dental", "biological-test")  # monthly, or every three months
    assert found.every == "calendar-month" and "three months" in found.source.citation
    assert any("differ" in note for note in load_regime("dk-dental").notes)


@pytest.mark.parametrize("rules", ["gb-eng-dental-htm0105", "ie"])
def test_exempt_from_the_pressure_law_is_never_a_default_and_no_title_of_a_paper_makes_it_so(rules):
    """PSSR 2000 and S.I. 445/2012 ask the examination; what is exempt in one place is not in another."""
    paper = replace(document("other", "2026-01-05", unit="unit-1"), title="Exemption from the pressure law")
    held = load_regime(rules)
    for papers in ((), (paper,)):
        facts = unit("2025-01-06", type="gravity", events=(event("2025-01-06"),), documents=papers)
        said = evaluate_unit(facts, clinic(facts, regime=rules), held, on("2026-03-10"))
        asked = next(c for c in said.clocks if c.code == "pressure-examination")
        assert asked.state in ("overdue", "no evidence") and not said.standing.word.may_be_used


def test_of_rules_that_are_silent_about_the_vessel_it_is_said_that_they_are():
    for one in EDITIONS:
        if not any(duty.subject == "pressure examination" for duty in one.duties):
            assert "pressure examination" in not_covered(one, "gravity"), one.id


def test_who_follows_an_edition_that_ended_is_told_from_that_day_on():
    """The reprocessing section of the RACGP guidelines was replaced by 29 June 2026; the new one is not on file."""
    facts = unit("2025-01-06", type="gravity", events=(event("2025-01-06"),))
    place = clinic(facts, regime="au-racgp-2023")

    def told(day):
        return [f for f in evaluate(place, on(day), brief=True).findings if f.rule == "rules-ended"]

    assert told("2026-06-28") == []
    (item,) = told("2026-06-29")
    assert item.severity is Severity.PUT_RIGHT and "ended on 2026-06-29" in item.message
    assert [one.id for one in EDITIONS if one.ended] == ["au-racgp-2023"]


def test_each_gap_is_said_to_be_closed_or_left_with_why():
    assert len(GAPS) == len({gap.asked for gap in GAPS}) == 10
    assert all(gap.state in STATES and gap.how.endswith(".") for gap in GAPS)


def test_what_is_from_memory_is_little_and_says_why_no_text_was_read():
    """Of the entries in the files; those that take them over are not counted twice."""
    grades = [line for file in FOLDER.glob("*.toml") for line in file.read_text(encoding="utf-8").splitlines()]
    assert 0 < grades.count('grade = "from memory"') < 15
    for one in EDITIONS:
        remembered = {source for source in one.sources if source.grade == MEMORY}
        assert remembered == {source for source, _ in one.unread}, one.id
        assert all(len(words) > 30 for _, words in one.unread), one.id


def test_a_rule_of_the_trade_says_so_and_a_cautious_reading_names_the_text_that_is_silent():
    for one in EDITIONS:
        for source in one.sources:
            if source.grade == PRACTICE:
                assert NO_SOURCE in source.citation, one.id
            if source.grade == CAUTIOUS:
                assert "not named" in source.citation and NO_SOURCE not in source.citation, one.id
