"""What changes between two sets of rules: more, less, otherwise, each with its source."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from audit.regimes import all_regimes, load_regime
from audit.regimes.compare import Asks, differences
from tests.in_turn import in_turn


def told(before: str, after: str) -> dict[str, Asks]:
    return {f"{one.subject}: {one.head}": one.asks for one in differences(load_regime(before), load_regime(after))}


SPORES = "Spore tests: Spore test (biological indicator)"


@pytest.mark.parametrize(
    ("before", "after", "asks"),
    [
        ("us-dental-cdc-2003", "us-in", Asks.MORE),  # within seven days, against once a week: 13 days may lie between
        ("us-ks-body-art", "us-mt-body-art", Asks.MORE),  # every three months; monthly, read by a laboratory
        ("us-mt-body-art", "us-nh-body-art", Asks.LESS),  # monthly both, no laboratory asked
        ("us-dental-cdc-2003", "us-fl-acupuncture", Asks.OTHERWISE),  # weekly; 40 hours or 30 days
        ("us-ca-body-art", "us-ca-san-benito-body-art", Asks.MORE),  # monthly; 30 days
        ("us-dental-cdc-2003", "us-ca-dental", Asks.LESS),  # each week; each week with patients
        ("us-dental-cdc-2003", "ie", Asks.LESS),  # weekly; none
        ("ie", "ca-ab-dental", Asks.MORE),  # none; each day of use
        ("ca-ab-dental", "ca-on-dental", Asks.MORE),  # each day of use; and each cycle type
    ],
)
def test_how_often_is_compared_by_what_may_lie_between(before, after, asks):
    assert told(before, after)[SPORES] is asks


def test_what_is_alike_is_not_told():
    assert differences(load_regime("us-nj-dental"), load_regime("us-ga-dental")) == ()  # both adopt CDC
    ohio = told("us-dental-cdc-2003", "us-oh-dental")
    assert SPORES not in ohio and [key.partition(":")[0] for key in ohio] == ["Records"]


def test_only_who_asks_it_gives_a_source():
    found = {one.head: one for one in differences(load_regime("gb-eng-dental-htm0105"), load_regime("gb-sct-2024"))}
    gone, new = found["Steam penetration test"], found["Third-party liability insurance for the pressure vessel"]
    assert (gone.asks, gone.after) == (Asks.LESS, None) and gone.before.source.citation.startswith("HTM 01-05")
    assert (new.asks, new.before) == (Asks.MORE, None) and new.after.source.citation.startswith("Scottish guidance")
    assert found["Automatic control test"].asks is Asks.LESS  # daily and signed; weekly


def test_a_notice_and_a_step_more_are_told():
    found = told("us-ca-body-art", "us-nj-body-art")
    assert found["Spore tests: Tell the local health authority"] is Asks.MORE
    assert found["Mechanical and chemical results of each load: Each load"] is Asks.LESS


SHARE = in_turn(list(combinations(sorted(all_regimes()), 2)), 12)


def test_what_is_more_one_way_is_less_the_other_and_nothing_is_other_than_itself():
    turned = {Asks.MORE: Asks.LESS, Asks.LESS: Asks.MORE, Asks.OTHERWISE: Asks.OTHERWISE}
    for one in all_regimes().values():
        assert differences(one, one) == ()
    for before, after in SHARE:
        there, back = (
            differences(load_regime(before), load_regime(after)),
            differences(load_regime(after), load_regime(before)),
        )
        assert len(there) == len(back)
        assert {(d.before, d.after, turned[d.asks]) for d in there} == {(d.after, d.before, d.asks) for d in back}


def test_no_rule_is_lost_where_one_set_has_two_of_a_subject():
    plain = load_regime("us-nh-body-art")
    (test,) = plain.duties
    twice = replace(plain, duties=(test, replace(test, id="second", title="A second one")))
    (found,) = differences(plain, twice)
    assert (found.asks, found.head) == (Asks.MORE, "A second one")


def test_each_thing_stricter_in_a_duty_asks_more():
    plain = load_regime("us-nh-body-art")
    (test,) = plain.duties
    for change in ({"forbids": True}, {"signed": True}, {"site": "laboratory"}, {"chamber": "full"}, {"passes": 2}):
        (found,) = differences(plain, replace(plain, duties=(replace(test, **change),)))
        assert found.asks is Asks.MORE, change
    both = replace(test, forbids=True, equipment=("gravity",))
    (found,) = differences(plain, replace(plain, duties=(both,)))
    assert found.asks is Asks.OTHERWISE
    assert differences(plain, replace(plain, duties=(replace(test, lead_days=30),))) == ()
