"""A test ticked as passed is held against its values; without one, where a value is asked, it proves nothing."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import check, job, measured, outcome, part, position

DAY, LATER, AS_OF = "2025-06-23", "2025-06-24", "2025-06-27"
PRACTICE = "a value outside its limits is no pass; common practice, no source"
WAIT, GOOD = Word.WAITING, Word.IN_SERVICE
BAND = {"temperature_low": "134.2", "temperature_high": "135.4", "band_low": "134", "band_high": "137",
        "minutes": "3.5", "minutes_needed": "3"}  # fmt: skip


def v4(value="", **numbers):
    return check(DAY, "V4", value=value, **numbers)


def v1(value="", **numbers):
    return check(DAY, "V1", value=value, **numbers)


def told(words, tests, word, *, what="temperature sensor", later=(), says=(), opens=(), **more):
    code = what.replace(" ", "-")
    work = job(DAY, reason="breakdown", tests=tests, parts=(part(DAY, code, "replaced on condition", what),), **more)
    never = () if word in PERMITS else PERMITS
    held = {"positions": (position(code),), "jobs": (work, *later), "bio_tests": TESTED}
    return history(words, PRACTICE, as_of=AS_OF, never=never, word=word, says=says, opens=opens, **held)


OUT = measured(DAY, left="131.0")
LEFT = "temperature at drain left at 131.0 °C, limits from 134 to 137 °C"
ROWS = [
    told("V4 ticked without any value", ("V1", v4()), WAIT, says=("V4 calibration check stated, not shown",)),
    told("V4 with a value in words that holds no number", ("V1", v4("within limits")), WAIT),
    told("V4 with a value in words", ("V1", v4("134.6 °C")), GOOD),
    told(
        "V4 without a value, a temperature of the same visit as left", ("V1", v4()), GOOD, readings=(measured(DAY),)
    ),
    told(
        "V4 without a value, a temperature of the same visit as found only",
        ("V1", v4()),
        WAIT,
        readings=(measured(DAY, None, found="134.2"),),
    ),
    told(
        "V4 without a value, the earth resistance of the same visit",
        ("V1", v4()),
        WAIT,
        readings=(measured(DAY, "0.1", None, "0.2", of="earth resistance"),),
    ),
    told("V4 with band and values inside", ("V1", v4(**BAND)), GOOD),
    told("V4 at the lower end of the band", ("V1", v4(**BAND | {"temperature_low": "134"})), GOOD),
    told("V4 a tenth below the band", ("V1", v4(**BAND | {"temperature_low": "133.9"})), WAIT, says=("V4",)),
    told("V4 at the upper end of the band", ("V1", v4(**BAND | {"temperature_high": "137"})), GOOD),
    told("V4 a tenth above the band", ("V1", v4(**BAND | {"temperature_high": "137.1"})), WAIT),
    told("V4 held for the minutes needed", ("V1", v4(**BAND | {"minutes": "3"})), GOOD),
    told("V4 held too short", ("V1", v4(**BAND | {"minutes": "2.9"})), WAIT),
    told("V4 with a band and no temperature", ("V1", v4(band_low="134", band_high="137")), WAIT),
    told("V4 whose lower end of the band is not known", ("V1", v4(**BAND | {"band_low": None})), WAIT),
    told("V4 whose time is not known", ("V1", v4(**BAND | {"minutes": None})), WAIT),
    told("V4 with temperatures, no limits", ("V1", v4(temperature_low="134.2", temperature_high="135")), GOOD),
    told("V1 ticked without a value: a note, and it counts", (v1(),), GOOD, what="seal", opens=("value-not-shown",)),
    told("V1 below its band", (v1(**BAND | {"temperature_low": "133.9"}),), WAIT, what="seal"),
    told("V1 held too short", (v1(**BAND | {"minutes": "2"}),), WAIT, what="seal"),
    told("V1 with half a band", (v1(**BAND | {"band_low": None}),), WAIT, what="seal"),
    told(
        "V4 ticked, the temperature left at 131.0 against 134 to 137",
        ("V1", v4("131.0")),
        WAIT,
        readings=(OUT,),
        says=("V1 function cycle, readings compared, V4 calibration check", LEFT),
        opens=("reading-out-of-limits", "verification-missing"),
    ),
    told("V1 ticked, the temperature left outside, a seal renewed", ("V1",), WAIT, what="seal", readings=(OUT,)),
    told(
        "V1 ticked, the temperature left at its limit",
        ("V1",),
        GOOD,
        what="seal",
        readings=(measured(DAY, left="134"),),
    ),
    told(
        "V1 ticked, the earth resistance left outside: V1 stands, the reading does not",
        ("V1",),
        WAIT,
        what="seal",
        readings=(measured(DAY, "0.5", None, "0.2", of="earth resistance"),),
        says=("earth resistance",),
    ),
    told(
        "left outside, measured inside at a later visit with its test",
        ("V1",),
        GOOD,
        what="seal",
        readings=(OUT,),
        later=(job(LATER, outcomes=(outcome(LATER, "", "", "test"),), readings=(measured(LATER),)),),
    ),
    told(
        "left outside, another point measured inside at a later visit",
        ("V1",),
        WAIT,
        what="seal",
        readings=(OUT,),
        later=(
            job(
                LATER, outcomes=(outcome(LATER, "", "", "test"),), readings=(replace(measured(LATER), point="door"),)
            ),
        ),
    ),
    told(
        "left outside, measured inside the visit before",
        ("V1",),
        WAIT,
        what="seal",
        readings=(OUT,),
        later=(job("2025-06-20", readings=(measured("2025-06-20"),)),),
    ),
    told(
        "found outside and not measured again",
        ("V1",),
        WAIT,
        what="seal",
        readings=(measured(DAY, None, found="131.0"),),
    ),
    told("limits on record and no value", ("V1",), WAIT, what="seal", readings=(measured(DAY, None),)),
    told("found outside and left inside", ("V1",), GOOD, what="seal", readings=(measured(DAY, found="131.0"),)),
    told(
        "left outside, then inside at 15:00 of the day",
        ("V1",),
        GOOD,
        what="seal",
        readings=(measured(DAY, "131.0", at="14:00"), measured(DAY, at="15:00")),
    ),
    told(
        "left outside and inside on one day, order not known",
        ("V1",),
        WAIT,
        what="seal",
        readings=(OUT, measured(DAY)),
    ),
    told(
        "a visit that changed nothing left a value outside",
        (),
        WAIT,
        what="seal",
        later=(job(LATER, tests=(), end="not worked on", readings=(measured(LATER, left="131.0"),)),),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_a_reading_left_outside_is_named_where_nothing_else_is_wrong():
    work = job(DAY, tests=(), end="not worked on", readings=(OUT,))
    said = history("reading", as_of=AS_OF, word=WAIT, jobs=(work,)).values[0].judged()
    assert (said.standing.rule, said.standing.reason) == ("R5", f"{LEFT} ({DAY})")
    item = next(f for f in said.findings if f.rule == "reading-out-of-limits")
    assert item.severity == "forbids use"


@pytest.mark.parametrize("name", BAND)
@pytest.mark.parametrize("code", ["V1", "V4"])
def test_a_number_that_is_not_known_is_never_better(code, name):
    for wrong in ({}, {"temperature_low": "133"}, {"temperature_high": "138"}, {"minutes": "2"}):
        whole = BAND | wrong
        assert _word(code, whole | {name: None}).rank <= _word(code, whole).rank, (wrong, name)


def _word(code, numbers):
    other = "V1" if code == "V4" else "V4"
    work = job(DAY, tests=(check(DAY, code, value="", **numbers), other), class_stated="B", parts=(part(DAY),))
    return (
        history("numbers", as_of=AS_OF, not_says=("nothing of the kind",), jobs=(work,))
        .values[0]
        .judged()
        .standing.word
    )
