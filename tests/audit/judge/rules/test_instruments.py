"""Instruments past their calibration. Common practice, no source (compare ISO 13485:2016 7.6, from memory)."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity
from tests.audit.judge.lookback.said import taken
from tests.audit.judge.rules.judged import items, one
from tests.fact_builders import calibration, instrument, job, on

PAST, NEVER = "instrument-past-calibration", "instrument-not-calibrated"


def facts(*calibrations, readings=None, **named):
    held = readings or (taken("2025-06-01"),)
    tool = instrument(*calibrations, **named)
    return {"jobs": (job("2025-06-01", readings=held),), "place": {"instruments": (tool,)}}


@pytest.mark.parametrize(
    ("until", "copied", "raised"),
    [
        ("2025-05-31", "2030-01-01", True),  # the certificate ended before the day copied says
        ("2025-06-01", "2030-01-01", False),
        ("2030-01-01", "2025-05-31", True),  # the stricter of the two counts
        ("2025-05-31", None, True),
        ("2025-06-01", None, False),
    ],
)
def test_certificate_and_copied_day(until, copied, raised):
    readings = (taken("2025-06-01", calibrated=copied),)
    said = items(rule=PAST, **facts(calibration("2025-01-01", until=until), readings=readings))
    assert bool(said) is raised


def test_the_newest_calibration_with_a_result_by_that_day_counts():
    old = calibration("2024-01-01", until="2025-01-01")
    assert items(rule=PAST, **facts(old, calibration("2025-01-01"))) == []
    for later in (calibration("2025-06-02"), calibration("2025-01-01", "no result")):
        assert "2025-01-01" in one(rule=PAST, **facts(old, later)).message


def test_found_in_tolerance_at_the_next_calibration_it_is_only_known():
    old = calibration("2024-01-01", until="2025-01-01")
    for result, severity in (("in tolerance", Severity.NOTE), ("out of tolerance", Severity.PUT_RIGHT)):
        assert one(rule=PAST, **facts(old, calibration("2025-06-10", result))).severity is severity


def test_no_calibration_on_record_by_that_day():
    readings = (taken("2025-06-01", calibrated=None),)
    said = one(rule=NEVER, **facts(calibration("2025-06-02"), readings=readings))
    assert said.severity is Severity.NOTE and "no calibration by that day" in said.message
    assert one(rule=NEVER, **facts(readings=readings)).severity is Severity.PUT_RIGHT
    assert items(rule=NEVER, **facts(readings=readings, name="another one")) == []


def test_one_item_for_all_that_was_measured_at_a_visit():
    readings = (taken("2025-06-01"), taken("2025-06-01", quantity="pressure"))
    said = one(rule=PAST, **facts(calibration("2024-01-01", until="2025-01-01"), readings=readings))
    assert "temperature, pressure" in said.message and len(said.evidence) == 2


def test_the_instrument_of_as_left_is_held_to_its_own_calibration():
    both = replace(
        taken("2025-06-01", found="134.1"), instrument_left="gauge G2", calibration_due_left=on("2025-05-31")
    )
    said = one(rule=PAST, **facts(calibration("2025-01-01"), readings=(both,)))
    assert "measured with gauge G2" in said.message and "2025-05-31" in said.message
    good = replace(both, calibration_due_left=on("2025-06-01"))
    assert items(rule=PAST, **facts(calibration("2025-01-01"), readings=(good,))) == []
    old = facts(calibration("2024-01-01", until="2025-01-01"), readings=(good,), name="Gauge g2")
    assert "measured with gauge G2" in one(rule=PAST, **old).message


def test_a_calibration_of_the_day_of_the_measurement_holds_that_day():
    old = calibration("2024-01-01", until="2025-01-01")
    readings = (taken("2025-06-01", calibrated=None),)
    assert items(rule=PAST, **facts(old, calibration("2025-06-01"), readings=readings)) == []
    late = (taken("2025-06-01", calibrated="2025-05-01"),)
    said = one(rule=PAST, **facts(calibration("2025-06-01"), readings=late))  # the copied day is the stricter
    assert said.severity is Severity.PUT_RIGHT and len(said.evidence) == 1
