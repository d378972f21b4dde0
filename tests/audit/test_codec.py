"""Facts to JSON and back; every fault of a file is named with its place."""

import json

import pytest
from hypothesis import HealthCheck, given, settings

from audit import codec
from audit.facts import ClinicFacts, CounterFact
from tests.fact_builders import bio, clinic, counter, event, unit
from tests.strategies import clinics


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(clinics())
def test_there_and_back_is_the_same(place):
    text = json.dumps(codec.history_of(place))
    assert codec.read_history(json.loads(text)) == place
    assert codec.read_history(codec.export_of(place)) == place


def test_decimals_keep_their_digits():
    assert codec.to_json(counter("2025-01-01", "10.50"))["shown"] == "10.50"


def example():
    return codec.history_of(
        clinic(unit(events=(event("2025-01-01"),), bio_tests=(bio("2025-01-02", result="pass"),)))
    )


def faults_of(data):
    with pytest.raises(codec.BadFile) as error:
        codec.read_history(data)
    return dict(error.value.faults)


def test_every_fault_is_listed_with_its_path():
    data = example()
    u = data["clinic"]["units"][0]
    del u["serial"]
    u["chamber_litres"] = 18.0
    u["events"][0]["row"]["happened_on"] = "2025-02-30"
    u["bio_tests"][0]["colour"] = "blue"
    u["bio_tests"][0]["readings"] = "none"
    u["row"]["logged_at"] = "2025-01-01T10:00:00"
    assert set(faults_of(data)) == {
        "clinic.units[0].serial",
        "clinic.units[0].chamber_litres",
        "clinic.units[0].events[0].row.happened_on",
        "clinic.units[0].bio_tests[0].colour",
        "clinic.units[0].bio_tests[0].readings",
        "clinic.units[0].row.logged_at",
    }


@pytest.mark.parametrize("data", [[], "x", None, 3])
def test_a_file_that_is_no_object(data):
    assert list(faults_of(data)) == ["(whole file)"]


def test_another_format_or_version():
    assert set(faults_of(example() | {"format": "x", "version": 2})) == {"format", "version"}
    assert set(faults_of({"format": "steam-unit-history", "version": 1})) == {"clinic"}


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "1,5", "", None, 5, True])
def test_numbers_must_be_finite_and_in_quotes(bad):
    data = codec.to_json(counter("2025-01-01", 1)) | {"shown": bad}
    with pytest.raises(codec.BadFile, match="shown: must be a number in quotes"):
        codec.from_json(CounterFact, data)


def test_a_history_holds_one_unit():
    with pytest.raises(ValueError, match="these facts hold 2"):
        codec.history_of(clinic(unit(), unit(ref="unit-2")))


def test_optional_fields_may_be_left_out():
    place = codec.from_json(ClinicFacts, {"ref": "c", "slug": "c", "terms": []})
    assert (place.units, place.known_at) == ((), None)
