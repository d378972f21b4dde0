"""Beside every field of every entry form stands what belongs there, in the words of the binder's method."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

from records import forms, wording
from records.forms import base, help, visit_rows
from records.forms.base import Refusable
from tests.test_layout import ROOT


def _all(of: type):
    for each in of.__subclasses__():
        yield each
        yield from _all(each)


for module in pkgutil.iter_modules(forms.__path__):
    importlib.import_module(f"records.forms.{module.name}")

# The forms themselves and not those that only others are made from, which end in nothing that a page shows.
MADE_FROM = {base.EntryForm, base.Dated, base.Transcribed, visit_rows.RowForm}
FORMS = sorted(
    {f for f in _all(Refusable) if f.__module__.startswith("records.forms.")} - MADE_FROM, key=lambda f: f.__name__
)


def shown(form: type):
    return {name: field for name, field in form.base_fields.items() if not field.widget.is_hidden}


@pytest.mark.parametrize("form", FORMS, ids=lambda f: f.__name__)
def test_every_field_has_help_or_says_it_all_in_its_label(form):
    without = [name for name, field in shown(form).items() if not (field.help_text or help.of(form, name))]
    assert set(without) <= help.SELF_EVIDENT, f"{form.__name__} says nothing beside: {without}"


def test_the_list_of_the_self_evident_is_short_and_names_nothing_that_has_help_everywhere():
    fields = {name for form in FORMS for name, f in shown(form).items() if not (f.help_text or help.of(form, name))}
    assert help.SELF_EVIDENT == fields
    total = sum(len(shown(form)) for form in FORMS)
    assert len(help.SELF_EVIDENT) * 10 < total


def test_no_help_is_written_for_what_is_not_there_or_says_it_itself():
    by_name = {form.__name__: form for form in [*FORMS, *MADE_FROM]}
    idle = [
        f"{name}.{field}"
        for name, told in help._OF_FORM.items()
        for field in told
        if name not in by_name or field not in by_name[name].base_fields or by_name[name].base_fields[field].help_text
    ]
    assert idle == []


def test_help_is_short_and_ends_like_a_sentence():
    told = [help.of(form, name) or str(field.help_text) for form in FORMS for name, field in shown(form).items()]
    for text in filter(None, told):
        assert text.endswith((".", "?")) and len(text) <= 300, text


def test_a_form_shows_it_beside_the_field_and_ties_it_to_the_input():
    form = forms.PlanRow()
    assert form["months"].help_text.startswith(wording.COUNTED_FROM)
    assert 'aria-describedby="id_months_helptext"' in str(form["months"])
    assert visit_rows.ReadingRow()["lower"].help_text == wording.AT_THE_LIMIT


def test_what_a_form_says_itself_is_kept():
    assert forms.PlanRow()["position"].help_text == "Blank for the whole unit."


SENTENCES = {name: text for name, text in vars(wording).items() if name.isupper() and type(text) is str}


@pytest.mark.parametrize("name", SENTENCES)
def test_a_sentence_is_written_once(name):
    """Neither the forms nor the method repeat a sentence in words of their own place."""
    start = SENTENCES[name][:40]
    found = [
        str(path.relative_to(ROOT))
        for folder in ("records", "audit")
        for path in (ROOT / folder).rglob("*.py")
        if start in path.read_text(encoding="utf-8")
    ]
    assert found == ["records/wording.py"]


def test_what_is_demanded_at_times_is_named_by_its_form_and_not_marked_as_if_any():
    by_name = {form.__name__: form for form in FORMS}
    for name, fields in help._DEMANDED.items():
        assert fields <= set(by_name[name].base_fields), name
    load = forms.LoadForm.base_fields["reason"]
    assert load.help_text.startswith("Needed") and help.demanded_at_times(forms.LoadForm, "reason", load.help_text)
    assert not help.demanded_at_times(forms.LoadForm, "contents", "By number or description.")


@pytest.mark.parametrize("form", [f for f in FORMS if f.seldom or f.beside], ids=lambda f: f.__name__)
def test_what_is_folded_or_stands_on_one_line_is_a_field_of_the_form_that_nobody_must_fill_in_there(form):
    named = {*form.seldom, *(name for line in form.beside for name in line)}
    assert named <= set(form.base_fields)
    must = {name for name in form.seldom if form.base_fields[name].required}
    assert all(form.base_fields[name].initial for name in must), (
        "what must be filled in and is folded stands filled in"
    )
