"""Rules files: what is on file, inheritance, and errors that name file, key and way out."""

from datetime import date

import pytest

from audit.regimes import FREQUENCIES, RegimeError, all_regimes, load_regime
from audit.regimes.load import FOLDER


def test_what_is_on_file():
    assert set(all_regimes()) == {
        "base",
        "us-ca-body-art",
        "us-dental-cdc-2003",
        "us-healthcare-cdc-2008",
        "us-healthcare-st79-2017",
        "us-or-dental",
    }


@pytest.mark.parametrize("regime", all_regimes().values(), ids=lambda r: r.id)
def test_every_rule_has_a_source_a_day_and_a_grade(regime):
    assert regime.sources
    for source in regime.sources:
        assert source.citation and source.grade in ("read", "quoted", "from memory")
        assert date.fromisoformat(source.checked_on) <= date(2026, 11, 25)
    assert all(d.every in FREQUENCIES for d in regime.duties)
    held = [d.source for d in regime.duties] + [p.source for p in regime.failure]
    held += [s.source for p in regime.failure for s in p.steps] + [r.source for r in regime.retention]
    assert set(held) <= set(regime.sources)


EVERY = {
    # the frequency of each, as its source puts it
    "us-dental-cdc-2003": "calendar-week",  # CDC 2003 VI.F item 6: at least weekly
    "us-healthcare-cdc-2008": "calendar-week",  # CDC 2008 recommendation 16: at least weekly
    "us-healthcare-st79-2017": "calendar-week",  # ST79 clause 13 as quoted: weekly as a floor
    "us-or-dental": "calendar-week-with-patients",  # OAR 818-012-0040(2)
    "us-ca-body-art": "calendar-month",  # California Health and Safety Code 119315
}


@pytest.mark.parametrize(("id", "every"), EVERY.items())
def test_the_frequency_of_the_spore_test(id, every):
    assert [d.every for d in load_regime(id).duties if d.id == "biological-test"] == [every]


def test_base_has_no_frequency_of_its_own():
    assert load_regime("base").duties == ()


def test_inheritance_keeps_what_is_not_said_again():
    oregon, dental = load_regime("us-or-dental"), load_regime("us-dental-cdc-2003")
    assert oregon.failure == dental.failure
    assert oregon.duties != dental.duties and len(oregon.duties) == 1
    assert oregon.retention[0].words == "the current calendar year and the two before it"  # OAR 818-012-0040


def test_three_years_in_california_body_art():
    assert load_regime("us-ca-body-art").retention[0].months == 36  # Health and Safety Code 119315


def test_unknown_rules_name_those_on_file():
    with pytest.raises(RegimeError, match="Known rules: base, us-ca"):
        load_regime("us-nowhere")


BAD = [
    ('title = "x"', "title = 7", "title", "is 7"),
    ('title = "x"', "", "title", "is missing"),
    ('title = "x"', 'title = "x"\ncolour = "blue"', "colour", "not a key"),
    ('every = "calendar-week"', 'every = "fortnight"', "duty[0].every", "'fortnight'"),
    ('every = "calendar-week"', 'every = "after-event"', "duty[0].events", "is missing"),
    ('every = "calendar-week"', 'every = "rolling-days"\ncount = 0', "duty[0].count", "is 0"),
    ('grade = "quoted"', 'grade = "sure"', "duty[0].grade", "'sure'"),
    ("checked_on = 2026-11-25", 'checked_on = "lately"', "duty[0].checked_on", "'lately'"),
    ('citation = "c"', "", "duty[0].citation", "is missing"),
    ('id = "mine"', 'id = "other"', "id", "'other'"),
    ('inherits = "base"', 'inherits = "gone"', "inherits", "has no file"),
    ('inherits = "base"', 'inherits = "mine"', "inherits", "circle"),
    ('title = "x"', "title = ", "(whole file)", "is not TOML"),
    ("[[duty]]", '[failure.flood]\ncitation = "c"\n[[duty]]', "failure.flood", "not a kind of failure"),
    ("[[duty]]", "[failure.biological]\nrepeats = -1\n[[duty]]", "failure.biological.repeats", "is -1"),
]
GOOD = """
id = "mine"
title = "x"
place = "p"
programme = "dental"
edition = "e"
valid_from = 2020-01-01
inherits = "base"

[[duty]]
id = "biological-test"
title = "Spore test"
every = "calendar-week"
citation = "c"
checked_on = 2026-11-25
grade = "quoted"
"""


def load_text(text, folder):
    (folder / "base.toml").write_text((FOLDER / "base.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    return load_regime("mine", folder)


def test_a_good_file_of_ones_own(tmp_path):
    assert load_text(GOOD, tmp_path).duties[0].words == "once in each calendar week"


@pytest.mark.parametrize(("old", "new", "key", "what"), BAD)
def test_a_bad_file_names_file_key_and_way_out(tmp_path, old, new, key, what):
    assert old in GOOD
    with pytest.raises(RegimeError) as error:
        load_text(GOOD.replace(old, new, 1), tmp_path)
    assert (error.value.file, error.value.key) == ("mine.toml", key)
    assert what in str(error.value) and error.value.way_out
