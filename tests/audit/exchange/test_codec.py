"""Facts to JSON and back; every fault of a file is named with its place."""

import json

import pytest
from hypothesis import HealthCheck, given, settings

from audit.exchange import codec
from audit.facts import ClinicFacts, CounterFact
from audit.judge.judgement import Clock, DueKind, State
from audit.regimes.source import Source
from tests.audit.exchange.unit_history import history_of
from tests.examples import examples
from tests.fact_builders import bio, clinic, closure, counter, event, fit, job, load, part, position, unit, user_check
from tests.strategies import clinics


@settings(max_examples=examples(40), deadline=None, suppress_health_check=list(HealthCheck))
@given(clinics())
def test_there_and_back_is_the_same(place):
    text = json.dumps(history_of(place))
    assert codec.read_history(json.loads(text)) == place
    assert codec.read_history(codec.export_of(place)) == place


def test_decimals_keep_their_digits():
    assert codec.to_json(counter("2025-01-01", "10.50"))["shown"] == "10.50"


def example():
    return history_of(clinic(unit(events=(event("2025-01-01"),), bio_tests=(bio("2025-01-02", result="pass"),))))


def faults_of(data):
    with pytest.raises(codec.BadFile) as error:
        codec.read_history(data)
    return dict(error.value.faults)


def test_a_due_item_is_named_once_in_json():
    item = Clock(DueKind.PLAN, "replace-seal", "Replace the seal", State.OK, None, None, None, "yearly", Source("x"))
    said = codec.to_json(item)
    assert said["id"] == item.id == "plan:replace-seal"
    assert "kind" not in said and "code" not in said and list(said)[:3] == ["id", "title", "state"]


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
    assert set(faults_of(example() | {"format": "x", "version": codec.VERSION + 1, "more": 1})) == {
        "format",
        "version",
        "more",
    }
    assert set(faults_of({"format": "steam-unit-history", "version": 1})) == {"clinic"}


@pytest.mark.parametrize("bad", ["NaN", "Infinity", "1,5", "", None, 5, True])
def test_numbers_must_be_finite_and_in_quotes(bad):
    data = codec.to_json(counter("2025-01-01", 1)) | {"shown": bad}
    with pytest.raises(codec.BadFile, match="shown: must be a number in quotes"):
        codec.from_json(CounterFact, data)


def test_optional_fields_may_be_left_out():
    place = codec.from_json(ClinicFacts, {"ref": "c", "slug": "c", "terms": []})
    assert (place.units, place.known_at) == ((), None)


def test_a_file_of_version_1_is_read():
    """What version 2 added was not there: it takes its default."""
    newest = codec.read_history(data := example() | {"version": 1})
    for added in ("credentials", "instruments", "part_recalls"):
        del data["clinic"][added]
    del data["clinic"]["units"][0]["checks"]
    assert codec.read_history(data) == newest


def spoilt(change):
    facts = unit(
        events=(event("2025-01-01"),),
        positions=(position(),),
        fits=(fit(),),
        bio_tests=(bio("2025-01-02", result="pass"),),
        loads=(load("2025-01-03"),),
        checks=(user_check("2025-01-03"),),
        jobs=(job("2025-01-04", parts=(part("2025-01-04"),)),),
    )
    data = history_of(clinic(facts, closures=(closure("2025-01-10", "2025-01-12"),)))
    change(data["clinic"], data["clinic"]["units"][0])
    return data


SPOILT = [
    # what is spoilt, where the fault is named, what it says
    (lambda c, u: u["bio_tests"][0]["readings"][0].update(test="none"), "bio_tests[0].readings[0].test", "growth"),
    (lambda c, u: u["loads"][0].update(released="yes"), "loads[0].released", "must be one of"),
    (lambda c, u: u["checks"][0].update(result="passed"), "checks[0].result", "'pass'"),
    (lambda c, u: u["events"][0].update(kind="moved"), "events[0].kind", "relocated"),
    (lambda c, u: u.update(equipment_type="oven"), "equipment_type", "gravity"),
    (lambda c, u: u.update(label="Unit\u0007"), "label", "cannot be seen"),
    (lambda c, u: u["fits"][0].update(position="pos-nowhere"), "fits[0].position", "no position of this unit"),
    (lambda c, u: u["jobs"][0]["parts"][0].update(position="x"), "jobs[0].parts[0].position", "no position"),
    (lambda c, u: u["loads"].append(u["loads"][0]), "loads[1].row.ref", "stands once"),
]


@pytest.mark.parametrize(("change", "where", "why"), SPOILT, ids=[s[1] for s in SPOILT])
def test_what_no_single_field_may_say(change, where, why):
    faults = faults_of(spoilt(change))
    assert list(faults) == [f"clinic.units[0].{where}"]
    assert why in faults[f"clinic.units[0].{where}"]


def test_a_span_that_ends_before_it_begins():
    faults = faults_of(spoilt(lambda c, u: c["closures"][0].update(to_on="2025-01-09")))
    assert faults == {"clinic.closures[0].to_on": "is 2025-01-09, before from_on 2025-01-10"}
