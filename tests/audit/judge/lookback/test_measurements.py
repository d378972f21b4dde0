"""An instrument out of tolerance, and a unit found out of tolerance. Common practice, no source, where none is named.

That results measured with an instrument found out must be judged again: ISO 13485:2016 7.6 (from memory).
"""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest

from tests.audit.judge.lookback.said import backs, days_in, left_out, loads, of_kind, taken
from tests.fact_builders import calibration, clinic, event, instrument, job, on, unit

INSTRUMENT, FOUND = "instrument out of tolerance", "found out of tolerance"


def visits(*readings):
    return tuple(job(str(r.row.happened_on), readings=(r,)) for r in readings)


def measured_with(*calibrations, days=(), readings=None, **named):
    held = tuple(taken(d) for d in days) if readings is None else readings
    facts = unit(jobs=visits(*held), loads=loads("2025-03-01"))
    return of_kind(INSTRUMENT, facts, place=clinic(facts, instruments=(instrument(*calibrations, **named),)))


def days_of(rows):
    return [e.text.split(" of ")[1][:10] for e in rows]


OUT = calibration("2025-06-01", "out of tolerance", as_found="+1.2 °C")
DAYS = ("2024-12-31", "2025-02-01", "2025-06-01", "2025-07-01")


def test_what_it_measured_since_its_last_good_calibration():
    (back,) = measured_with(calibration("2025-01-01"), OUT, days=DAYS)
    assert (str(back.after), str(back.to)) == ("2025-01-01", "2025-06-01")
    assert days_of(back.readings) == ["2025-02-01", "2025-06-01"] and back.loads == ()
    assert left_out(back) == {
        "before the last good calibration": 1,
        "after the calibration that found it out": 1,
    }
    assert "+1.2 °C" in back.trigger and back.evidence[0].ref == OUT.row.ref


@pytest.mark.parametrize(
    ("result", "after"),
    [
        ("in tolerance", "2025-03-01"),
        ("adjusted", "2025-03-01"),
        ("no result", "2025-01-01"),
        ("out of tolerance", "2025-01-01"),
    ],
)
def test_which_calibrations_are_good(result, after):
    said = measured_with(calibration("2025-01-01"), calibration("2025-03-01", result), OUT, days=DAYS)
    assert str(said[0].after) == after


def test_without_a_good_calibration_all_it_measured_is_in_doubt():
    (back,) = measured_with(OUT, days=DAYS)
    assert back.after is None and len(back.readings) == 3


@pytest.mark.parametrize(
    ("name", "many"), [("thermometer T1", 1), ("Thermometer  t1", 1), ("thermometer T2", 0), ("", 0)]
)
def test_only_what_that_instrument_measured(name, many):
    assert len(measured_with(OUT, readings=(taken("2025-02-01", name),))) == many


def left_with(reading, name, calibrated="2030-01-01"):
    return replace(reading, instrument_left=name, calibration_due_left=on(calibrated))


@pytest.mark.parametrize(
    ("reading", "which"),
    [
        (taken("2025-02-01", found="134.1"), ""),
        (left_with(taken("2025-02-01", found="134.1"), "gauge G2"), ", as found taken with it"),
        (left_with(taken("2025-02-01", "gauge G2", found="134.1"), "thermometer T1"), ", as left taken with it"),
    ],
)
def test_a_pair_of_which_it_took_one_value_is_in_doubt_and_says_which(reading, which):
    (back,) = measured_with(OUT, readings=(reading,))
    (said,) = back.readings
    assert said.text.removeprefix("temperature at drain of 2025-02-01: as found 134.1 °C, as left 134.2 °C") == which


@pytest.mark.parametrize(
    ("again", "settled"),
    [
        (left_with(taken("2025-07-01", "thermometer T2", found="133"), "thermometer T1"), False),
        (left_with(taken("2025-07-01", found="133"), "thermometer T2"), True),  # as left alone shows it
        (left_with(taken("2025-07-01", found="133"), "thermometer T2", "2025-06-30"), False),
        (replace(left_with(taken("2025-07-01", found="135"), "thermometer T2"), as_left=None), False),
    ],
)
def test_what_was_measured_again_is_settled_by_the_instrument_of_as_left(again, settled):
    (back,) = measured_with(calibration("2025-01-01"), OUT, readings=(taken("2025-02-01"), again))
    assert (back.settled_on is not None) is settled


@pytest.mark.parametrize(
    ("later", "settled"),
    [
        ((), None),
        ((taken("2025-07-01"),), None),  # with the same instrument, not found good since
        ((taken("2025-07-01", "thermometer T2"),), "2025-07-01"),
        ((taken("2025-07-01", "thermometer T2", left="99"),), None),
        ((taken("2025-07-01", "thermometer T2", point="door"),), None),
        ((taken("2025-09-01"),), "2025-09-01"),  # found good on 1 August
    ],
)
def test_measured_again_within_limits_settles_it(later, settled):
    held = (taken("2025-02-01"), *later)
    said = measured_with(calibration("2025-01-01"), OUT, calibration("2025-08-01"), readings=held)
    assert (said[0].settled_on and str(said[0].settled_on)) == settled


# ------------------------------------------------------------------------------------------------ the unit

RUN = loads("2025-01-01", "2025-02-01", "2025-03-01", "2025-04-01", "2025-05-01", "2025-06-01")


def found_out(*readings, **more):
    return of_kind(FOUND, jobs=visits(*readings), loads=RUN, **more)


def test_everything_since_it_was_last_left_within_limits():
    (back,) = found_out(taken("2025-01-15"), taken("2025-04-15", found="133.9"))
    assert (str(back.after), str(back.to)) == ("2025-01-15", "2025-04-15")
    assert days_in(back) == ["2025-02-01", "2025-03-01", "2025-04-01"]
    assert left_out(back) == {"before the last good proof": 1, "after it was known": 2}
    assert (back.readings, back.parts, back.settled_on) == ((), (), None)
    assert "found 133.9 °C on 2025-04-15, limits from 134 to 137" in back.trigger


@pytest.mark.parametrize(
    ("found", "left", "many"),
    [("134", "134", 0), ("137", "137", 0), ("133.9", "134", 1), ("137.1", "134", 1), (None, "133", 0)],
)
def test_a_limit_is_still_within(found, left, many):
    assert len(found_out(taken("2025-04-15", found=found, left=left))) == many


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ({"point": "door"}, None),
        ({"quantity": "pressure"}, None),
        ({"quantity": " Temperature"}, "2025-01-15"),
        ({"left": "133"}, None),  # left outside: nothing proven
        ({"lower": None, "upper": None}, None),  # no limit: nothing to be proven by
        ({"found": "133", "left": "135"}, "2025-01-15"),
    ],
)
def test_what_proves_it_before(before, after):
    back = found_out(taken("2025-01-15", **before), taken("2025-04-15", found="133.9"))[0]
    assert (back.after and str(back.after)) == after
    assert back.after is not None or len(back.loads) == 4


def test_found_good_and_left_alone_is_a_proof_too():
    good = replace(taken("2025-01-15", found="135"), as_left=None)
    assert str(found_out(good, taken("2025-04-15", found="133.9"))[0].after) == "2025-01-15"
    bad = replace(good, as_found=Decimal("133"))
    assert found_out(bad, taken("2025-04-15", found="133.9"))[0].after is None


def timed(fact, at):
    moment = datetime.fromisoformat(f"{fact.row.happened_on}T{at}+00:00") if at else None
    return replace(fact, row=replace(fact.row, happened_at=moment))


@pytest.mark.parametrize(
    ("good", "bad", "shown"),
    [
        ("", "", False),
        ("08:00", "", False),
        ("", "09:00", False),
        ("08:00", "09:00", True),
        ("09:00", "09:00", False),
        ("09:00", "08:00", False),
    ],
)
def test_of_one_day_only_what_is_shown_to_have_come_before_is_a_proof(good, bad, shown):
    """A unit measured twice in a day, an instrument calibrated twice in a day; the order of logging shows nothing."""
    held = (taken("2025-01-15"), timed(taken("2025-04-15"), good), timed(taken("2025-04-15", found="133.9"), bad))
    assert str(found_out(*held)[0].after) == ("2025-04-15" if shown else "2025-01-15")
    twice = (calibration("2025-01-01"), timed(calibration("2025-06-01"), good), timed(OUT, bad))
    (back,) = measured_with(*twice, readings=(taken("2025-02-01"), taken("2025-06-01")))
    assert str(back.after) == ("2025-06-01" if shown else "2025-01-01")


@pytest.mark.parametrize(
    ("since", "settled"),
    [
        ((("2025-08-01", "in tolerance", ""),), True),
        ((("2025-09-01", "in tolerance", ""),), False),  # perhaps only after it was used
        ((("2025-09-01", "in tolerance", "08:00"),), True),
        ((("2025-09-01", "adjusted", "13:00"),), False),
        ((("2025-08-01", "in tolerance", ""), ("2025-08-01", "out of tolerance", "")), False),
        ((("2025-08-01", "out of tolerance", "08:00"), ("2025-08-01", "adjusted", "09:00")), True),
        ((("2025-08-01", "in tolerance", ""), ("2025-09-01", "out of tolerance", "13:00")), False),  # out again since
        ((("2025-08-01", "adjusted", ""), ("2025-09-01", "adjusted", "13:00")), True),
        (
            (("2025-08-01", "adjusted", ""), ("2025-09-02", "adjusted", ""), ("2025-10-01", "out of tolerance", "")),
            True,
        ),
        ((("2025-08-01", "in tolerance", ""), ("2025-09-01", "out of tolerance", "")), False),
        ((("2025-08-01", "in tolerance", ""), ("2025-08-20", "no result", "")), True),
    ],
)
def test_an_instrument_is_trusted_again_once_it_is_shown_to_be_good(since, settled):
    more = [timed(calibration(day, result), at) for day, result, at in since]
    again = timed(taken("2025-09-01"), "12:00")
    said = measured_with(calibration("2025-01-01"), OUT, *more, readings=(taken("2025-02-01"), again))
    back = next(b for b in said if str(b.to) == "2025-06-01")
    assert str(back.settled_on) == ("2025-09-01" if settled else "None")


@pytest.mark.parametrize(
    ("marks", "settled"),
    [
        ((), True),  # nothing on record against it
        ((("2025-06-20", "out of tolerance"),), False),
        ((("2025-07-20", "out of tolerance"),), False),  # found out since, with no good calibration between
        ((("2025-06-20", "out of tolerance"), ("2025-06-25", "adjusted")), True),
        ((("2025-07-10", "in tolerance"), ("2025-07-20", "out of tolerance")), True),
        ((("2025-07-01", "out of tolerance"),), False),  # of that day: the order is not known
        ((("2025-06-20", "out of tolerance"), ("2025-07-01", "adjusted")), False),
    ],
)
def test_another_instrument_that_was_itself_out_settles_nothing(marks, settled):
    held = (taken("2025-02-01"), taken("2025-07-01", "thermometer T2"))
    other = instrument(*(calibration(day, what) for day, what in marks), name="thermometer T2")
    first = instrument(calibration("2025-01-01"), OUT)
    facts = unit(jobs=visits(*held))
    said = of_kind(INSTRUMENT, facts, place=clinic(facts, instruments=(first, other)))
    back = next(b for b in said if b.trigger.startswith("thermometer T1"))
    assert (back.settled_on is not None) is settled


@pytest.mark.parametrize(
    "more", [{"with_": ""}, {"calibrated": None}, {"calibrated": "2025-06-30"}], ids=["no name", "none", "run out"]
)
def test_what_was_measured_with_no_good_instrument_settles_nothing(more):
    again = taken("2025-07-01", more.pop("with_", "thermometer T2"), **more)
    assert measured_with(calibration("2025-01-01"), OUT, readings=(taken("2025-02-01"), again))[0].settled_on is None


def test_no_withdrawal_shortens_the_window():
    """A load on record after it contradicts it, and is in doubt as the others are: common practice, no source."""
    for day in ("2025-01-15", "2025-03-01", "2025-04-15"):
        more = {"events": (event(day, "withdrawn"),)}
        (back,) = found_out(taken("2025-01-15"), taken("2025-04-15", found="133.9"), **more)
        assert (str(back.to), days_in(back)) == ("2025-04-15", ["2025-02-01", "2025-03-01", "2025-04-01"])


@pytest.mark.parametrize("limits", [{"lower": None}, {"upper": None}])
def test_one_limit_is_enough_to_be_within(limits):
    assert str(found_out(taken("2025-01-15", **limits), taken("2025-04-15", found="133.9"))[0].after) == "2025-01-15"


def test_only_the_nearest_of_those_left_out_is_shown():
    many = ("2024-11-01", "2024-12-31", "2025-02-01", "2025-07-01", "2025-08-01")
    (back,) = measured_with(calibration("2025-01-01"), OUT, days=many)
    assert [w for e, _ in back.outside for w in days_of([e])] == ["2024-12-31", "2025-07-01"]
    assert [why.endswith("(the nearest of 2)") for _, why in back.outside] == [True, True]


def test_nothing_measured_puts_nothing_in_doubt():
    assert backs(jobs=(job("2025-01-15"),), loads=RUN) == ()
