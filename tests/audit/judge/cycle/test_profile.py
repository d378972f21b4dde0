"""Profiles as data: what ships, what a file may say, and two of them together."""

from __future__ import annotations

from fractions import Fraction

import pytest

from audit.judge.cycle import (
    Profile,
    ProfileError,
    judge,
    load_profile,
    profile_ids,
    read_cycle,
    read_profile,
    stricter,
)
from audit.judge.cycle.profile import AT_LEAST, AT_MOST, HERE
from tests.audit.judge.cycle.logs import file, rows

SHIPPED = {"holding-121": (121, 124, 900), "holding-126": (126, 129, 600), "holding-134": (134, 137, 180)}
TEXT = (HERE / "holding-134.toml").read_text(encoding="utf-8")


def test_the_profiles_that_ship():
    assert profile_ids() == sorted(SHIPPED)
    for id, (low, high, hold) in SHIPPED.items():
        profile = load_profile(id)
        assert (profile.low, profile.high, profile.limit("holding-time")) == (low, high, hold)
        limits = {"equilibration": 15, "spread": 2, "theory-difference": 2, "sampling": 10}
        assert {name: profile.limit(name) for name in limits} == limits
        assert (
            profile.pressure_asked and profile.sensors_least == 1 and set(profile.limits) == {"holding-time", *limits}
        )


def test_every_limit_that_ships_has_its_source_and_says_how_it_was_read():
    for id in profile_ids():
        profile = load_profile(id)
        sources = [profile.band_source, *(limit.source for limit in profile.limits.values())]
        for source in sources:
            assert source.grade or source.citation == "common practice, no source"
        assert profile.limits["sampling"].source.citation == "common practice, no source"
        assert profile.limits["spread"].source.grade == profile.band_source.grade == "from memory"


def own(text=TEXT, **changes) -> Profile:
    """The profile that ships with other lines: key=(what stands there, what is to)."""
    for before, after in changes.values():
        assert before in text
        text = text.replace(before, after)
    return read_profile(text, "own.toml")


FAULTS = {
    "no TOML": (("id =", "id"), "no TOML"),
    "no title": (('title = "134', '# title = "134'), "title is missing"),
    "an unknown key": (("[sensors]", "[sensor]"), "sensor is not a key known here"),
    "an unknown criterion": (("[limit.spread]", "[limit.spred]"), "limit.spred is not a key known here"),
    "a limit of the band's lower end": (("[limit.spread]", "[limit.band-low]"), "not a key known here"),
    "no time to hold": (("[limit.holding-time]", "[limit.drying]"), "limit.holding-time is missing"),
    "a time of nothing to hold": (("value = 180", "value = 0"), "is 0"),
    "a limit in words": (("value = 180", 'value = "180"'), "must be a number"),
    "a negative limit": (("value = 15", "value = -15"), "not negative"),
    "a limit of nan": (("value = 15", "value = nan"), "must be a number"),
    "a limit of inf": (("value = 15", "value = inf"), "must be a number"),
    "a limit that is true": (("value = 15", "value = true"), "must be a number"),
    "a band upside down": (("low = 134", "low = 138"), "lower end comes first"),
    "no sensors": (("least = 1", "least = 0"), "1 to 12"),
    "pressure in words": (("asked = true", 'asked = "yes"'), "true or false"),
    "an empty source": (("EN 285, chambers up to 800 litres", " "), "Name the source"),
    "a source of no grade": (
        ('citation = "EN 285, chambers up to 800 litres"', 'citation = "a friend"\nnote = 1'),
        "note",
    ),
    "a grade that is none": (('grade = "quoted"', 'grade = "sure"'), "Use one of: read, quoted, common practice"),
    "a day that is none": (("checked_on = 2026-11-25", 'checked_on = "lately"'), "must be a day"),
    "a note that is none": (("notes = [", "notes = [1, "), "list of texts"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_faulty_profile_names_file_key_and_way_out(name):
    change, said = FAULTS[name]
    with pytest.raises(ProfileError, match=r"^own\.toml: ") as error:
        own(a=change)
    assert said in str(error.value)


def test_decimals_of_a_profile_are_exact():
    assert own(a=("low = 134", "low = 134.1")).low == Fraction("134.1")


def test_a_profile_that_is_not_on_file_is_none():
    for id in ("holding-999", "", "../profile", "holding-134.toml"):
        with pytest.raises(KeyError):
            load_profile(id)


def test_of_two_profiles_the_stricter_of_each_limit_holds():
    standard = load_profile("holding-134")
    instructions = own(
        a=('id = "holding-134"', 'id = "unit"'), b=("value = 180", "value = 240"), c=("value = 15", "value = 30"),
        d=("low = 134", "low = 133"), e=("high = 137", "high = 136"), f=("asked = true", "asked = false"),
        g=("least = 1", "least = 2"), h=("[limit.spread]", "[limit.drying]"),
    )  # fmt: skip
    for both in (stricter(standard, instructions), stricter(instructions, standard)):
        assert (both.low, both.high, both.sensors_least, both.pressure_asked) == (134, 136, 2, True)
        assert {name: both.limit(name) for name in (*AT_LEAST, *AT_MOST)} == {
            "holding-time": 240, "plateau-time": None, "air-removal": None, "drying": 2, "equilibration": 15,
            "spread": 2, "theory-difference": 2, "sampling": 10,
        }  # fmt: skip
    assert stricter(standard, instructions).id == "unit"
    assert stricter(standard, instructions).limits["equilibration"].source.citation.startswith("EN 285, chambers")


def test_bands_that_share_nothing_are_refused():
    with pytest.raises(ProfileError, match="share nothing"):
        stricter(load_profile("holding-121"), load_profile("holding-134"))


CRITERIA = {
    "drying": ("60", "met", "61", "incomplete"),
    "plateau-time": ("205", "met", "206", "not met"),
    "air-removal": ("0", "met", "1", "not met"),
}


@pytest.mark.parametrize("id", CRITERIA)
def test_what_a_unit_asks_beyond_the_profiles_that_ship(id):
    met, word, failed, other = CRITERIA[id]
    for value, verdict in ((met, word), (failed, other)):
        asked = own(
            a=("[sensors]", f'[limit.{id}]\nvalue = {value}\ncitation = "common practice, no source"\n[sensors]')
        )
        judged = judge(read_cycle(file(rows())), asked)
        assert {c.id: c.verdict for c in judged.criteria}[id] == judged.verdict == verdict


def test_pulses_are_counted_before_the_band():
    """Two falls to 30 kPa under ambient and back; one too shallow; one that never comes back; none after the band."""
    pressures = ["101.325", "71.325", "101.325", "50", "101.324", "60", "102", "71.326", "103", "40"]
    body = [[str(n), "100", p, "100"] for n, p in enumerate(pressures)]
    body += [[str(n + 10), *row[1:]] for n, row in enumerate(rows()[60:])]
    body += [[str(900 + n), "100", p, "100"] for n, p in enumerate(["20", "110", "20", "110"])]
    (found,) = [
        c for c in judge(read_cycle(file(body)), load_profile("holding-134")).criteria if c.id == "air-removal"
    ]
    assert (found.measured, found.limit, found.verdict) == (2, None, "not judged") and "40 kPa" in found.words


@pytest.mark.parametrize(("back", "count"), [("14.695948", 0), ("14.695949", 1)])
def test_a_pulse_in_psi_goes_back_to_no_less_than_ambient(back, count):
    """101.325 kPa are 14.6959487… psi, between two of what a file can say to six decimals."""
    body = [[str(n), "100", p] for n, p in enumerate(["14.7", "2", back])]
    read = read_cycle(file(body, names="t_s,temperature_c,pressure_psi_abs"))
    assert {c.id: c.measured for c in judge(read, load_profile("holding-134")).criteria}["air-removal"] == count


def test_too_few_sensors_cannot_be_judged():
    asked = own(a=("least = 1", "least = 3"))
    judged = judge(read_cycle(file()), asked)
    assert judged.verdict == "cannot be judged" and any("2 of at least 3" in p.words for p in judged.problems)


def test_where_pressure_is_not_asked_a_cycle_may_be_met_without_it():
    body = [[t, a, b] for t, a, _, b in rows()]
    content, asked = file(body, names="t_s,temperature_c,temperature_2_c"), own(a=("asked = true", "asked = false"))
    assert judge(read_cycle(content), asked).verdict == "met"
    spoiled = [[*row[:2], "345", row[3]] for row in rows()]
    assert judge(read_cycle(file(spoiled)), asked).verdict == "not met"
