"""The schema of the open format says what the reader accepts."""

import copy
import json
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from audit import facts as f
from audit.exchange import codec
from audit.exchange.schema import FILE, schema, text
from audit.facts import stock
from audit.facts.codes import WORDS
from audit.gather.proofs import KINDS
from records import models as m
from tests.audit.exchange.test_codec import SPOILT, spoilt
from tests.examples import examples
from tests.strategies import clinics

FAST = settings(max_examples=examples(40), deadline=None, suppress_health_check=list(HealthCheck))
CHECK = Draft202012Validator(schema())
MODELS = KINDS | {
    f.LotFact: "indicatorlot",
    f.CredentialFact: "credential",
    f.InstrumentFact: "instrument",
    f.CalibrationFact: "calibration",
    f.PartRecallFact: "partrecall",
    stock.StockPlaceFact: "stockplace",
    stock.StockMoveFact: "stockmove",
    stock.RecallNoticeFact: "partrecall",
    stock.RecallToldFact: "recalltold",
}
# A reader sees these only by looking at two places at once.
TORN = {"fits[0].position", "jobs[0].parts[0].position", "loads[1].row.ref", "label"}


def test_the_file_is_in_step_with_the_facts():
    assert FILE.read_text(encoding="utf-8") == text()


def test_it_is_a_schema():
    Draft202012Validator.check_schema(json.loads(FILE.read_text(encoding="utf-8")))


@FAST
@given(clinics())
def test_what_is_exported_is_valid(place):
    data = json.loads(json.dumps(codec.export_of(place)))
    assert [e.message for e in CHECK.iter_errors(data)] == []


def _leaves(value, path=()):
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, held in items:
        yield (*path, key)
        yield from _leaves(held, (*path, key))


@FAST
@given(clinics(), st.integers(0, 10**6), st.sampled_from([None, 7, True, [], {"x": 1}, "no such word"]))
def test_what_the_schema_refuses_the_reader_refuses(place, seed, junk):
    """One place of a file is spoilt at random. The reader may refuse more than the schema, never less."""
    data = json.loads(json.dumps(codec.export_of(place)))
    chance = random.Random(seed)
    *path, last = chance.choice(list(_leaves(data)))
    held = data
    for key in path:
        held = held[key]
    held[last] = copy.deepcopy(junk)
    if CHECK.is_valid(data):
        return
    with pytest.raises(codec.BadFile) as error:
        codec.read_history(data)
    assert all(where and why for where, why in error.value.faults)


@pytest.mark.parametrize(("change", "where", "why"), SPOILT, ids=[s[1] for s in SPOILT])
def test_single_fields_are_refused_by_the_schema_too(change, where, why):
    assert CHECK.is_valid(spoilt(change)) is (where in TORN)


@pytest.mark.parametrize("cls", WORDS, ids=lambda c: c.__name__)
def test_the_words_are_those_of_the_record(cls):
    model = m.__dict__[next(n for n in dir(m) if n.lower() == MODELS[cls])]
    for name, words in WORDS[cls].items():
        choices = tuple(code for code, _ in (_choices(model, name) or ()))
        if choices:
            assert set(words) - {""} == set(choices), (cls.__name__, name)


def _choices(model, name):
    return next((x.choices for x in model._meta.concrete_fields if x.name == name), None)
