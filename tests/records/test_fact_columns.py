"""What the columns of facts promise: an empty one says what it means, every one is hashed, nothing cascades."""

from __future__ import annotations

import pytest
from django.db.models import PROTECT

from records import models as m
from records.ledger import canon

each_kind = pytest.mark.parametrize("model", [*m.fact_models(), m.Entry], ids=lambda k: k._meta.model_name)


@each_kind
def test_every_nullable_column_says_what_an_empty_one_means(model):
    nullable = {f.name for f in model._meta.concrete_fields if f.null}
    assert nullable == set(model.EMPTY_MEANS)
    assert all(words.strip() for words in model.EMPTY_MEANS.values())


@pytest.mark.parametrize("model", m.fact_models(), ids=lambda k: k._meta.model_name)
def test_no_empty_column_means_not_yet(model):
    """What is learnt later is a row of its own, so that nothing recorded is ever filled in afterwards."""
    assert not [n for n, words in model.EMPTY_MEANS.items() if "not yet" in words or "later" in words]


@each_kind
def test_nothing_that_a_fact_names_can_be_deleted_under_it(model):
    relations = [f for f in model._meta.concrete_fields if f.is_relation]
    assert relations
    assert [f.name for f in relations if f.remote_field.on_delete is not PROTECT] == []


def test_the_newest_form_hashes_every_column():
    newest = canon.form_fields(canon.newest_form())
    assert canon.current_fields() == newest


def test_a_column_outside_the_newest_form_is_seen(monkeypatch):
    """The comparison above is not blind: without one field of one kind it differs."""
    newest = canon.form_fields(canon.newest_form())
    lacking = newest | {"unit": [f for f in newest["unit"] if f != "serial"]}
    assert canon.current_fields() != lacking


@pytest.mark.parametrize("model", m.fact_models(), ids=lambda k: k._meta.model_name)
def test_base_fields_and_the_form_together_are_all_columns(model):
    form = canon.form_fields(canon.newest_form())[model._meta.model_name]
    hashed = {*canon.BASE_FIELDS, *form}
    covered_by_the_entry = {"id", "entry", "line"}
    assert {f.name for f in model._meta.concrete_fields} == hashed | covered_by_the_entry


def test_every_form_ever_written_under_is_kept():
    assert all(canon.form_fields(n) for n in range(1, canon.newest_form() + 1))
    with pytest.raises(FileNotFoundError):
        canon.form_fields(canon.newest_form() + 1)


# The digest of each form when it was frozen: editing one would break the hash of every entry written under it.
FROZEN = {
    1: "ea430e9b56b784d8379be06ef6153b819572d3254e9fc2cc8f89abb58201110e",
    2: "80c6a588384ec719bc954bbf755436f772212feee0004e7ec531486167217650",
    3: "179306b96aaabb81f4bbdb909e4f0c2142f6b6a9f532f2b9977c9833309c0984",
    4: "9d5bc2b8dcbaad492d470316f739deaa5dbe4e220b97364e3abba67282c1a4f7",
}


def test_a_frozen_form_is_never_edited():
    for number, digest in FROZEN.items():
        assert canon.digest(canon.form_fields(number)) == digest
    assert max(FROZEN) == canon.newest_form()
