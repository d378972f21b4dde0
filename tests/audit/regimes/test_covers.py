"""Which subjects the rules on file ask nothing about."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.regimes import all_regimes, load_regime
from audit.regimes.covers import SUBJECTS_LOOKED_FOR, not_covered
from audit.regimes.read_duty import EQUIPMENT
from tests.in_turn import in_turn

NO_SPORE_TEST = {
    "base",
    "ie",
    "gb-sct-2024",
    "gb-eng-dental-htm0105",
    "au-racgp-2023",
    "de",
    "fr",
    "se-jonkoping-dental",
}


@pytest.mark.parametrize(
    ("id", "type", "missing"),
    [
        # Only the pressure examination is on file for Ireland.
        (
            "ie",
            "dynamic air removal",
            "spore tests, air removal, air leak, automatic control test, safety check, validation, service, water",
        ),
        ("ie", "gravity", "spore tests, automatic control test, safety check, validation, service, water"),
        # SHTM 01-05 (2024) 5.33 and the pressure examination are on file for Scotland.
        (
            "gb-sct-2024",
            "dynamic air removal",
            "spore tests, air removal, air leak, safety check, validation, service, water",
        ),
        ("gb-eng-dental-htm0105", "dynamic air removal", "spore tests, service, water"),
        (
            "us-healthcare-cdc-2008",
            "dynamic air removal",
            "air leak, automatic control test, safety check, validation, service, pressure examination, water",
        ),
        (
            "us-dental-cdc-2003",
            "gravity",
            "automatic control test, safety check, validation, service, pressure examination, water",
        ),
        (
            "au-racgp-2023",
            "cassette",
            "spore tests, automatic control test, safety check, pressure examination, water",
        ),
    ],
)
def test_what_is_not_on_file(id, type, missing):
    assert ", ".join(not_covered(load_regime(id), type)) == missing


@pytest.mark.parametrize("id", in_turn(sorted(all_regimes()), 3))
def test_spore_tests_are_missing_where_no_regular_one_is_asked(id):
    """Published or not: see each file. A test after an event or in an implant load is no regular one."""
    assert ("spore tests" in not_covered(load_regime(id), "gravity")) is (id in NO_SPORE_TEST)


def test_a_duty_less_never_covers_more():
    order = [words for words, _ in SUBJECTS_LOOKED_FOR]
    for rules in in_turn(list(all_regimes().values()), 3):
        for type in EQUIPMENT:
            held = not_covered(rules, type)
            assert list(held) == sorted(held, key=order.index)
            for n in range(len(rules.duties)):
                fewer = replace(rules, duties=rules.duties[:n] + rules.duties[n + 1 :])
                assert set(held) <= set(not_covered(fewer, type))
