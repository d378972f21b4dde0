"""Which rules are proposed for a place, why, what they leave open, and what is said where none are on file.

Which text is of which place is published with each file; the places asked about are real, the clinics invented.
"""

from __future__ import annotations

import pytest

from audit.regimes import all_regimes, load_regime
from audit.regimes.choosing import (
    ASK,
    ASKED_BY_LAW,
    EXEMPT,
    NOT_KNOWN,
    QUESTIONS_FOR_A_PLACE,
    PlaceAsked,
    places_on_file,
    propose,
)
from audit.regimes.covers import SUBJECTS_LOOKED_FOR, not_covered
from audit.regimes.model import ANY, KINDS_OF_PLACE
from audit.regimes.places import home

ON_FILE = tuple(all_regimes().values())
US, CANADA = "United States", "Canada"


def proposed(country, region, kind, *units, examination=NOT_KNOWN):
    return propose(PlaceAsked(country, region, kind, units, examination), ON_FILE)


def ids(found) -> list[str]:
    return [each.regime.id for each in found.rules]


def opened(found) -> list[str]:
    return [gap.subject for gap in found.rules[0].left_open]


@pytest.mark.parametrize(
    ("country", "region", "kind", "wanted"),
    [
        (US, "Ohio", "dental", ["us-oh-dental"]),  # it takes over CDC 2003 whole
        (US, "Texas", "dental", ["us-tx-dental", "us-dental-cdc-2003"]),  # it does not
        (US, "Indiana", "dental", ["us-in", "us-dental-cdc-2003"]),  # any place with a risk of blood
        (US, "New York", "dental", ["us-dental-cdc-2003"]),
        (US, "San Benito County, California", "body art", ["us-ca-san-benito-body-art", "neha-body-art-model"]),
        (US, "California", "body art", ["us-ca-body-art", "neha-body-art-model"]),
        (US, "Massachusetts", "body art", ["us-ma-body-art-model", "neha-body-art-model", "base"]),
        (CANADA, "Toronto, Ontario", "body art", ["ca-toronto-personal-services", "ca-on-personal-services"]),
        (CANADA, "ontario ", "dental", ["ca-on-dental"]),  # typed as people type
        ("united kingdom", "Scotland", "dental", ["gb-sct-2024"]),
        ("United Kingdom", "Wales", "dental", ["base"]),
        ("Germany", "", "dental", ["de"]),
        ("Germany", "", "veterinary", ["base"]),  # a law on medical devices
        ("Peru", "", "dental", ["base"]),
    ],
)  # fmt: skip
def test_the_nearest_rules_come_first_and_a_model_last(country, region, kind, wanted):
    assert ids(proposed(country, region, kind)) == wanted


@pytest.mark.parametrize(
    ("country", "region", "kind", "own"),
    [
        (US, "Ohio", "dental", True), (US, "New York", "dental", False), (US, "", "dental", True),
        ("Peru", "", "dental", False), (US, "Massachusetts", "body art", False), (US, "Ohio", "veterinary", False),
    ],
)  # fmt: skip
def test_where_the_place_has_none_on_file_it_is_said_with_what_to_ask_whom(country, region, kind, own):
    """A model that towns adopt is not taken for a text of the place."""
    found = proposed(country, region, kind)
    assert found.own is own and found.questions == (() if own else QUESTIONS_FOR_A_PLACE)
    assert any("There may be some all the same" in text for text in found.said) is not own


def test_of_a_place_with_rules_for_others_alone_these_are_named():
    kinds = "tattooing, piercing, permanent make-up, dental clinic, medical practice or clinic"
    assert f"On file for Ohio are rules for: {kinds}." in proposed(US, "Ohio", "veterinary").said


def test_of_a_whole_country_its_parts_with_rules_of_their_own_are_named():
    (told,) = [text for text in proposed(CANADA, "", "dental").said if text.startswith("Parts of Canada")]
    assert "Alberta; British Columbia; Ontario; Saskatchewan" in told
    assert any("Toronto, Ontario" in text for text in proposed(CANADA, "Ontario", "body art").said)
    assert not any("Parts of" in text for text in proposed(CANADA, "Ontario", "dental").said)


def test_reasons_say_whose_text_it_is_what_it_takes_over_and_what_is_from_memory():
    ohio, wide = proposed(US, "Ohio", "medical").rules
    assert ohio.reasons == (
        "it is a text of Ohio", "it is for medical practice or clinic",
        "what it does not say itself is taken from US healthcare, CDC 2008",
    )  # fmt: skip
    assert wide.regime.id == "us-healthcare-st79-2017"
    assert (
        wide.reasons[0] == "it holds for the whole country (United States), so for Ohio too, beside a text of its own"
    )
    assert wide.reasons[-1].startswith("5 of its rules are from memory")


def test_only_what_is_asked_of_the_units_there_is_shown():
    def asks(*units):
        return [line.head for line in proposed("Brazil", "", "dental", *units).rules[0].asks]

    assert "Air-removal test, first cycle of the day" not in asks("gravity")  # RDC 1.002, Art. 88: with a vacuum pump
    assert "Air-removal test, first cycle of the day" in asks("gravity", "dynamic air removal")
    assert asks() == asks("gravity", "dynamic air removal", "cassette")


def test_what_is_left_open_for_any_of_the_units_is_left_open_with_whom_to_ask():
    gravity, pump = (opened(proposed(US, "Texas", "dental", unit)) for unit in ("gravity", "dynamic air removal"))
    assert "air removal" not in gravity and "air removal" in pump and set(gravity) < set(pump)
    assert opened(proposed(US, "Texas", "dental", "gravity", "dynamic air removal")) == pump
    for one in ON_FILE:
        found = propose(
            PlaceAsked(one.country, one.region, one.kinds[0] if ANY not in one.kinds else "dental"), ON_FILE
        )
        assert all(gap.ask == ASK[gap.subject] for each in found.rules for gap in each.left_open)
        for each in found.rules:
            assert {g.subject for g in each.left_open} == {
                words for type in ("gravity", "dynamic air removal", "cassette")
                for words in not_covered(each.regime, type)
            }  # fmt: skip
    assert set(ASK) == {words for words, _ in SUBJECTS_LOOKED_FOR}


def test_an_exemption_from_the_pressure_law_is_a_paper_and_never_a_default():
    """Texas Health and Safety Code 755.022(a)(7), (8) exempts; Pennsylvania inspects what makes its own steam."""
    told = {which: proposed(US, "Texas", "dental", examination=which) for which in (NOT_KNOWN, ASKED_BY_LAW, EXEMPT)}
    assert "pressure examination" in opened(told[NOT_KNOWN]) and "pressure examination" in opened(told[ASKED_BY_LAW])
    assert "pressure examination" not in opened(told[EXEMPT])
    assert any("Until it is known, take it that it must" in text for text in told[NOT_KNOWN].said)
    assert any("enter it as a duty of the clinic’s own" in text for text in told[ASKED_BY_LAW].said)
    assert any("is a paper of the unit" in text for text in told[EXEMPT].said)
    england = proposed("United Kingdom", "England", "dental", examination=ASKED_BY_LAW)  # PSSR 2000
    assert not any("enter it as a duty" in text for text in england.said)


def test_every_set_of_rules_is_proposed_somewhere_and_says_its_place_twice_alike():
    for one in ON_FILE:
        if one.id == "base":
            continue
        region = f"{one.locality}, {one.region}" if one.locality else one.region
        kind = "dental" if ANY in one.kinds else one.kinds[0]
        found = ids(proposed(one.country, region, kind))
        taken_over = {load_regime(id).inherits for id in found}
        assert one.id in found or one.id in taken_over, one.id
        told = tuple(name for name in (one.locality, one.region, one.country) if name)
        within = {"England", "Scotland"} & set(told)
        assert one.where_adopted or within or tuple(home(one.place)) == told, one.id


def test_places_are_listed_by_country_each_once():
    held = places_on_file(ON_FILE)
    assert list(held) == sorted(held) and held["Sweden"] == ("Region Jönköping",) and held["Denmark"] == ()
    assert "San Benito County, California" in held[US] and len(held[US]) == len(set(held[US])) > 25
    assert "" not in held


def test_kinds_of_place_are_those_known():
    assert all(set(one.kinds) <= {ANY, *KINDS_OF_PLACE} for one in ON_FILE)
