"""What the columns of facts promise: an empty one says what it means, every one is hashed, nothing cascades."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import models
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


# ------------------------------------------------------------------------------------------- forms and columns


@pytest.fixture
def newest() -> dict:
    return canon.form_of(canon.newest_form())


def with_later_column(monkeypatch, model) -> None:
    """As if a column had just joined the model."""
    later = [*model._meta.concrete_fields, models.CharField(name="later_column")]
    monkeypatch.setitem(model._meta.__dict__, "concrete_fields", tuple(later))


def changed(form: dict, before: dict) -> set[str]:
    assert form.keys() == before.keys()
    return {key for key in form if form[key] != before[key]}


def test_the_newest_form_hashes_every_column(newest):
    """Fails when a column joins a fact or an entry, or gets other decimal places. Then: `manage.py freeze_form`."""
    assert canon.current_form() == newest


@each_kind
def test_a_column_outside_the_newest_form_is_seen(model, monkeypatch):
    """The comparison above is not blind, for the header of an entry no more than for a fact."""
    before = canon.current_form()
    with_later_column(monkeypatch, model)
    key = canon.ENTRY if model is m.Entry else model._meta.model_name
    assert changed(canon.current_form(), before) == {key}
    assert set(canon.current_form()[key]) - set(before[key]) == {"later_column"}


def test_a_column_of_every_fact_outside_the_newest_form_is_seen(monkeypatch):
    before, later = canon.current_form(), [*m.Fact._meta.local_fields, models.CharField(name="later_column")]
    monkeypatch.setattr(m.Fact._meta, "local_fields", later)
    assert changed(canon.current_form(), before) == {canon.FACT}


def test_a_column_with_other_decimal_places_is_seen(monkeypatch):
    before = canon.current_form()
    monkeypatch.setattr(m.Reading._meta.get_field("as_found"), "decimal_places", 5)
    assert changed(canon.current_form(), before) == {canon.DECIMAL_PLACES}


@pytest.mark.parametrize("model", m.fact_models(), ids=lambda k: k._meta.model_name)
def test_base_fields_and_the_form_together_are_all_columns(model, newest):
    hashed = {*newest[canon.FACT], *newest[model._meta.model_name]}
    covered_by_the_entry = {"id", "entry", "line"}
    assert {f.name for f in model._meta.concrete_fields} == hashed | covered_by_the_entry


def test_all_columns_of_an_entry_but_its_own_hash_are_in_its_header(newest):
    assert {f.name for f in m.Entry._meta.concrete_fields} == {*newest[canon.ENTRY], "id", "hash"}


def test_no_kind_of_fact_has_a_reserved_name():
    assert not [k for k in m.fact_models() if k._meta.model_name in canon.RESERVED]


every_form = pytest.mark.parametrize("number", range(1, canon.newest_form() + 1))


@every_form
def test_what_any_form_names_is_still_there_under_that_name(number):
    """A kind or a field that is renamed or dropped can no longer be hashed as it was."""
    form, kinds = canon.form_of(number), {k._meta.model_name: k for k in m.fact_models()}
    assert {f.name for f in m.Entry._meta.concrete_fields} >= {*form[canon.ENTRY]}
    for kind in form.keys() - set(canon.RESERVED):
        there = {f.name for f in kinds[kind]._meta.concrete_fields}
        assert there >= {*form[canon.FACT], *form[kind]}, kind


@every_form
def test_no_column_has_less_room_than_a_form_says(number):
    kinds = {k._meta.model_name: k for k in m.fact_models()}
    for kind, places in canon.form_of(number)[canon.DECIMAL_PLACES].items():
        for name, count in places.items():
            assert kinds[kind]._meta.get_field(name).decimal_places >= count, f"{kind}.{name}"


def test_a_number_is_hashed_with_the_places_of_its_form(monkeypatch):
    """Not with those of the column as it is now; and a digit that the form has no room for is never dropped."""
    for typed in ("134.6", "134.60", "1.346E+2", "134.600000"):
        assert hashed_number(typed) == "134.6000"
    monkeypatch.setattr(m.Reading._meta.get_field("as_found"), "decimal_places", 6)
    assert hashed_number("134.600000") == "134.6000"
    assert hashed_number("134.600001") == "134.600001"
    assert hashed_number(None) is None


def hashed_number(value: str | None):
    points_to = {"clinic": m.Clinic(), "unit": m.Unit(), "job": m.Job()}
    row = m.Reading(as_found=value and Decimal(value), **points_to)
    return canon.render_row(row, 1)["as_found"]


def test_every_form_ever_written_under_is_kept():
    assert all(canon.form_of(n) for n in range(1, canon.newest_form() + 1))
    with pytest.raises(FileNotFoundError):
        canon.form_of(canon.newest_form() + 1)


# The digest of each form when it was frozen: editing one would break the hash of every entry written under it.
FROZEN = {
    1: "e736f537fd85603ae1d2cd23f64d1d9637a632402204aaaf0162380f9ab5720b",
    2: "1b98d451e1307deed0b02773124dc9bcef89261c185e5e690a7800d901b93dc3",
    3: "f05fd98e5f9f00bb369dfabe4d41e18a8e859f50cff5109c924ef365746fb4c3",
    4: "4af3d99864744c4cca219e3624254fc65ac8b923daff90d8aaa4b3a27c5e7e26",
    5: "0bdf02c4aa6c7c059892cdbca0d2edc4575cc994291d56817e70219cb3c188ee",
    6: "d5fafc83133743766f3f930486d5b9983273e5120127264258cd74644451055c",
    7: "1a48a4a863a54769e955f19b95d8fa6b8da53b177901b15029287e95e0abb5ed",
    8: "c9fd818f22c0bccd37241b5de805f4c606d87c95dd31c9b80857100b580e2cba",
    9: "31d3697bd817171b35c33b054e9b626e438dadb7d9091b2f7285c33fdf046215",
    10: "6bbc34f96bc9c297f9a853f89eebd8d5e2353024021cd75476e7fdc08823e7bc",
    11: "60c2e6879ea7ce6735400a107241cf70bc588b8e29846005e812c14b5c0c9ab0",
}
# Forms 1 to 4 were frozen without the header, the fields of every fact and the decimal places, which stood in the
# code and were the same on each of their days: these are the digests of what they listed then.
KINDS_ALONE = {
    1: "ea430e9b56b784d8379be06ef6153b819572d3254e9fc2cc8f89abb58201110e",
    2: "80c6a588384ec719bc954bbf755436f772212feee0004e7ec531486167217650",
    3: "179306b96aaabb81f4bbdb909e4f0c2142f6b6a9f532f2b9977c9833309c0984",
    4: "9d5bc2b8dcbaad492d470316f739deaa5dbe4e220b97364e3abba67282c1a4f7",
}


def test_a_frozen_form_is_never_edited():
    for number, digest in FROZEN.items():
        assert canon.digest(canon.form_of(number)) == digest
    assert max(FROZEN) == canon.newest_form()


def test_what_the_first_forms_listed_of_each_kind_is_as_it_was():
    for number, digest in KINDS_ALONE.items():
        kinds = {k: names for k, names in canon.form_of(number).items() if k not in canon.RESERVED}
        assert canon.digest(kinds) == digest


def test_freezing_writes_the_header_with_the_rows(forms, monkeypatch, capsys):
    newest = canon.newest_form()
    with_later_column(monkeypatch, m.Entry)
    call_command("freeze_form")
    assert f"Wrote form {newest + 1}" in capsys.readouterr().out
    written = json.loads((forms / f"form_{newest + 1}.json").read_text(encoding="utf-8"))
    assert written == canon.current_form()
    assert "later_column" in written[canon.ENTRY] and "later_column" not in canon.form_of(newest)[canon.ENTRY]
    call_command("freeze_form")
    assert "already" in capsys.readouterr().out and not (forms / f"form_{newest + 2}.json").exists()
