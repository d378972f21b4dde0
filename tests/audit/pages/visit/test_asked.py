"""What a page of a visit asks, as data: cases, numbers in order, what is demanded and how its label says so.

| low | high | above | told |
| --- | --- | --- | --- |
| 134 | 134 | no | nothing: both ends are inside |
| 134 | 133.9 | no | the message, with both numbers as written |
| 0 | 0 | yes | the message |
| (blank) | 1 | no | nothing: nothing is compared |
"""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from audit.pages.visit.forms import DECIDED
from audit.pages.visit.guide import steps, told
from audit.pages.visit.guide.proof import MEASURED
from records import clock
from records.log.together import ALWAYS, VERIFICATION, Order, holds, out_of_order, within_limits
from records.models.units import ACTIONS
from tests import visit_world
from tests import world as build

from .test_pages import Phone
from .test_what_a_visit_records import visit_of


@pytest.mark.parametrize(
    ("low", "high", "above", "said"),
    [
        ("134", "134", False, ""), ("134", "133.9", False, "133.9 under 134"), ("0", "0", True, "0 under 0"),
        ("0", "0.1", True, ""), ("", "1", False, ""), ("5", "", False, ""),
    ],
)  # fmt: skip
def test_two_numbers_in_their_order(low, high, above, said):
    values = {name: Decimal(text) if text else None for name, text in (("a", low), ("b", high))}
    order = Order("a", "b", "b", "{high} under {low}", above=above)
    assert list(out_of_order([order], values.get)) == ([("b", said)] if said else [])


def test_what_is_added_what_lifts_it_and_when_it_is_asked():
    order = Order(Decimal(4100), "now", "now", "{high}", ({"kind": ("cycles",)},), ("why",), plus_else=Decimal(100))
    for values, wrong in (
        ({"now": Decimal(3999), "kind": "cycles"}, True),
        ({"now": Decimal(4000), "kind": "cycles"}, False),
        ({"now": Decimal(3999), "kind": "hours"}, False),
        ({"now": Decimal(3999), "kind": "cycles", "why": "new board"}, False),
    ):
        assert bool(list(out_of_order([order], values.get))) is wrong, values


def test_of_each_field_one_thing_is_said_and_another_page_may_call_it_otherwise():
    values = {
        "result": "pass",
        "temperature_low": Decimal(130),
        "temperature_high": Decimal(131),
        "band_low": Decimal(134),
    }
    assert list(out_of_order(VERIFICATION, values.get)) == [
        ("temperature_low", "130 °C lies below the band, which begins at 134 °C: that is no pass. Enter “fail”, or "
         "check the numbers.")
    ]  # fmt: skip
    renamed = [order.renamed(lambda name: f"V1_{name}") for order in VERIFICATION]
    page = {f"V1_{name}": value for name, value in values.items()}
    assert [field for field, _ in out_of_order(renamed, page.get)] == ["V1_temperature_low"]


@pytest.mark.parametrize(
    ("code", "unit", "left", "wrong"),
    [
        ("V1", "°C", "133.9", True), ("V1", "°C", "134", False), ("V1", "°C", "137", False),
        ("V1", "°C", "137.1", True),
        ("V4", " kPa ", "130", True), ("V3", "°C", "130", False), ("V1", "Ω", "130", False),
    ],
)  # fmt: skip
def test_a_pass_and_a_reading_outside_its_limits(code, unit, left, wrong):
    orders = within_limits(code, "a reading in %", unit, Decimal(134), Decimal(137))
    found = list(out_of_order(orders, {"result": "pass", "left": Decimal(left)}.get))
    assert bool(found) is wrong
    assert not wrong or f"was left at {left}" in found[0][1]
    assert not list(out_of_order(orders, {"result": "fail", "left": Decimal(left)}.get))


def test_a_case_holds_when_each_of_its_answers_does():
    assert holds(ALWAYS, {}.get)
    assert holds(({"a": ("x",), "b": None},), {"a": "x", "b": 0}.get), "0 is an answer"
    assert not holds(({"a": ("x",), "b": None},), {"a": "x", "b": ""}.get)
    assert not holds(({"a": ("x",)}, {"b": ("y",)}), {"a": "y", "b": "x"}.get)


# ------------------------------------------------------------------------------------------------ on the pages


@pytest.fixture
def phone(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield Phone(visit_world.make()).begin()


ANSWERS = {
    "task-clean-strainer": [{}, {"decision": "part awaited"}, {"outcome": "deferred"}, {"lot_printed": "Z"}],
    "task-replace-gasket": [{"outcome": "done"}],
    "found": [{}, {"x0_lower": "3"}, {"x0_with": "2"}],
    "prove": [{}, {"V1": "not done"}, {"b0_cycle_type": "wrapped"}, {"c0_type": "5"}],
    "end": [{}, {"conclusion": "limited"}, {"conclusion": "pending"}, {"clinic": "refused"}],
    "identify": [{}, {"cycles_add": "3"}],
    "safe": [{}, {"reason": "breakdown"}],
}


@pytest.mark.django_db
def test_no_field_that_is_demanded_is_called_if_any(phone):
    unit, demanded = visit_of(phone), 0
    for step, each in ANSWERS.items():
        for data in each:
            form = unit.form(step, data)
            form.is_valid()
            blank = {name for name in form.errors if name in form.fields and not form[name].value()}
            for name in blank - {name for name in form.fields if form.fields[name].required}:
                word = getattr(form.fields[name], "optional_word", "if any")
                assert word in ("needed", "one of these"), (step, data, name, word)
                demanded += 1
    assert demanded > 20


@pytest.mark.django_db
def test_each_page_gives_a_device_what_it_asks_and_the_last_two_what_the_work_amounts_to(phone):
    unit = visit_of(phone)
    for step in (*steps.ORDER[:3], "task-clean-strainer", "extra-1", *steps.ORDER[4:]):
        rules = json.loads(unit.form(step).rules)
        named = {rule["field"] for kind in ("needs", "clashes", "orders") for rule in rules[kind]}
        assert named <= set(rules["fields"]), step
    data = json.loads(unit.told)
    assert set(data["tasks"]) == {f"task-{code}" for code, *_ in visit_world.PLAN}
    assert all(0 <= n < len(data["effects"]) for task in data["tasks"].values() for n in task["findings"].values())
    assert data["endings"]["0000"] == ["released", "limited", "pending", "not released", "not worked on"]


def test_what_a_device_is_told_of_is_all_that_can_be_answered():
    assert set(told.DECISIONS) == {code for code, _ in DECIDED}
    assert set(told.ACTIONS) == set(ACTIONS)
    assert set(told.VALUES) | set(told.LIMITS) == set(MEASURED)
