"""Whose text a citation names: each on file is placed, and a place is given its own first."""

from __future__ import annotations

import pytest

from audit.judge.answers import questions
from audit.regimes import all_regimes
from audit.regimes.components import components
from audit.regimes.places import home, own_texts, texts_of

NOWHERE = ("common practice", "elsewhere", "rules followed", "EN 13060", "EN 285")


def on_file() -> set[str]:
    editions = [e for rules in all_regimes().values() for e in (rules, *rules.earlier)]
    found = {source.citation for edition in editions for source in edition.sources}
    found |= {question.source.citation for question in questions()}
    return found | {component.source.citation for component in components().values()}


def test_every_citation_on_file_is_placed_or_says_that_it_is_of_nowhere():
    """A new text whose words the table does not know would be shown everywhere as if it were the place's own."""
    unknown = [
        t.text for c in on_file() for t in texts_of(c) if not t.place and not any(n in t.text for n in NOWHERE)
    ]
    assert len(on_file()) > 150 and unknown == []


@pytest.mark.parametrize("one", all_regimes().values(), ids=lambda r: r.id)
def test_no_text_is_lost_between_the_pieces(one):
    for source in one.sources:
        assert "; ".join(t.text for t in texts_of(source.citation)) == source.citation


@pytest.mark.parametrize(
    ("place", "citation", "own"),
    [
        ("Ohio, United States", "OAC 4715-20-02: a stop; the stop: CDC 2003 (MMWR 52 RR-17)",
         "OAC 4715-20-02: a stop; the stop: CDC 2003 (MMWR 52 RR-17)"),
        ("Ohio, United States", "the stop: CDC 2003; OAC 4715-20-02: a stop",
         "OAC 4715-20-02: a stop; the stop: CDC 2003"),
        ("Oregon, United States", "OAC 4715-20-02: a stop; the stop: CDC 2003", "the stop: CDC 2003"),
        ("Ireland", "CDC 2003 (MMWR 52 RR-17) VI.F, positive spore test; narrative pp. 24-25", ""),
        ("Ireland", "CDC 2003 (MMWR 52 RR-17) VI.F; days to wait: common practice, no source",
         "days to wait: common practice, no source"),
        ("England", "PSSR 2000 (Great Britain)", "PSSR 2000 (Great Britain)"),
        ("England", "SHTM 01-05 (April 2024) 5.33", ""),
        ("Scotland", "HTM 01-05 (2013) 11.12", ""),
        ("Toronto, Ontario, Canada", "Canadian Dental Association; PIDAC 2013; Toronto Public Health",
         "Toronto Public Health; PIDAC 2013; Canadian Dental Association"),
    ],
)  # fmt: skip
def test_the_narrowest_place_comes_first_and_what_is_of_another_is_left_out(place, citation, own):
    assert own_texts(citation, home(place)) == own
