"""Facts kept as columns come back as they were: every value, every order, every kind of tuple."""

from __future__ import annotations

import dataclasses
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import ClinicFacts, LedgerHead, Ordered
from audit.gather import columns
from audit.gather.columns import Damaged, packed, unpacked, written
from tests.bench import histories
from tests.examples import examples
from tests.strategies import clinics


def same(one, other) -> bool:
    """Equal in value, type, order, and in how numbers are written; 1.0 is not 1.00 here."""
    if type(one) is not type(other):
        return False
    if dataclasses.is_dataclass(one):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one))
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return str(one) == str(other) if isinstance(one, Decimal) else one == other


@settings(max_examples=examples(150), deadline=None)
@given(clinics(many=2))
def test_any_history_comes_back_as_it_was(history):
    back = unpacked(packed(history))
    assert back == history and same(back, history)
    assert written(back) == written(history)


def test_a_long_history_comes_back_in_order():
    history = histories.clinic(histories.unit(years=4, visits=8, loads=1500, daily=True))
    back = unpacked(packed(history))
    assert same(back, history)
    assert type(back.units[0].loads) is Ordered, "what was sorted is not sorted again"


def test_what_was_not_in_order_is_not_said_to_be():
    history = histories.clinic(histories.unit(years=1, visits=2, loads=20, daily=False))
    unit = dataclasses.replace(history.units[0], loads=tuple(reversed(history.units[0].loads)))
    back = unpacked(packed(dataclasses.replace(history, units=(unit,))))
    assert type(back.units[0].loads) is tuple and back.units[0].loads == unit.loads


def test_a_number_keeps_its_zeros_and_none_stays_none():
    history = histories.clinic(histories.unit(years=1, visits=0, loads=2, daily=False))
    first, second = history.units[0].loads
    loads = Ordered([dataclasses.replace(first, minutes=Decimal("30.0")), dataclasses.replace(second, minutes=None)])
    history = dataclasses.replace(history, units=(dataclasses.replace(history.units[0], loads=loads),))
    assert [str(each.minutes) for each in unpacked(packed(history)).units[0].loads] == ["30.0", "None"]


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_a_changed_byte_is_damage_and_never_other_facts(place, change):
    kept = bytearray(packed(histories.clinic(histories.unit(years=0.5, visits=1, loads=5, daily=False))))
    kept[place % len(kept)] ^= change
    try:
        back = unpacked(bytes(kept))
    except Damaged:
        return
    # What zlib does not read (a hint of its header) may change without harm.
    assert written(back) == written(unpacked(packed(back)))
    assert back == histories.clinic(histories.unit(years=0.5, visits=1, loads=5, daily=False))


@pytest.mark.parametrize("cut", [0, 1, 11, 30])
def test_what_was_cut_off_is_damage(cut):
    kept = packed(histories.clinic())
    with pytest.raises(Damaged):
        unpacked(kept[:cut])


def test_another_form_is_not_read():
    kept = packed(histories.clinic())
    with pytest.raises(Damaged, match="form"):
        unpacked(kept.replace(columns.FORM.encode(), b"columns-0", 1))


def test_every_kind_of_fact_has_a_column():
    """A field of a new type fails here and not on a page."""

    def walk(kind):
        how, inner = columns._kind(kind)
        if how == "object":
            for _, each in inner:
                walk(each)
        elif how == "few":
            for each in inner:
                walk(each)
        elif how in ("many", "maybe"):
            walk(inner)
        return how

    assert walk(ClinicFacts) == walk(LedgerHead) == "object"
