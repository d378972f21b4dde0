"""Facts that are kept come back as they were: every value, every order, every kind of tuple."""

from __future__ import annotations

import dataclasses
import zlib
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from fractions import Fraction

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import ClinicFacts, CorrectionFact, Ordered
from audit.gather import packing
from audit.gather.packing import Damaged, packed, unpacked, written
from tests.bench import histories
from tests.examples import examples
from tests.strategies import clinics


def same(one, other) -> bool:
    """Equal in value, type, order, and in how numbers and moments are written; 1.0 is not 1.00 here."""
    if type(one) is not type(other):
        return False
    if dataclasses.is_dataclass(one):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one))
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return str(one) == str(other) if isinstance(one, Decimal | datetime) else one == other


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


@pytest.mark.parametrize("number", ["0", "-0", "0.00", "1E+3", "1E-7", "123456789012345678901234567890.10"])
def test_a_number_comes_back_as_it_was_written(number):
    unit = dataclasses.replace(
        histories.unit(years=0.5, visits=0, loads=1, daily=False), chamber_litres=Decimal(number)
    )
    assert str(unpacked(packed(histories.clinic(unit))).units[0].chamber_litres) == number


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 3, 16, 9, 30, tzinfo=UTC),
        datetime(2026, 3, 16, 9, 30, 0, 1, tzinfo=UTC),
        datetime(2026, 3, 16, 23, 59, 59, 999999, tzinfo=timezone(timedelta(hours=5, minutes=45))),
        datetime(2026, 3, 16, 9, 30, tzinfo=timezone(timedelta(hours=-11))),
        datetime(2026, 3, 16, 9, 30),  # noqa: DTZ001 (no fact has one; it may not become another moment all the same)
    ],
)
def test_a_moment_keeps_its_offset_and_its_last_digit(moment):
    back = unpacked(packed(dataclasses.replace(histories.clinic(), known_at=moment))).known_at
    assert (back, back.isoformat()) == (moment, moment.isoformat())


def test_nothing_said_and_nothing_there_are_two_things():
    changes = (("serial", "", "None"), ("udi", "null", "[]"))
    said = CorrectionFact(1, datetime(2026, 1, 2, tzinfo=UTC), "", "", "", "", date(2026, 1, 1), "", changes)
    history = dataclasses.replace(histories.clinic(), corrections=(said, dataclasses.replace(said, changes=())))
    assert same(unpacked(packed(history)), history)


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_a_changed_byte_is_damage(place, change):
    kept = bytearray(packed(histories.clinic(histories.unit(years=0.5, visits=1, loads=5, daily=False))))
    kept[place % len(kept)] ^= change
    with pytest.raises(Damaged):
        unpacked(bytes(kept))


def test_other_facts_packed_as_well_are_damage_under_the_digest_of_the_first():
    """Whole, readable, and not what was written: here only the digest can tell."""
    head = packed(histories.clinic()).partition(b"\n")[0]
    other = packed(dataclasses.replace(histories.clinic(), slug="another")).partition(b"\n")[2]
    assert zlib.decompress(other)
    with pytest.raises(Damaged, match="digest"):
        unpacked(head + b"\n" + other)


@pytest.mark.parametrize("added", [b" ", b"\0", b"\n", b"facts-2"])
def test_what_was_added_is_damage(added):
    with pytest.raises(Damaged):
        unpacked(packed(histories.clinic()) + added)


@pytest.mark.parametrize("body", [b"not packed", zlib.compress(b"{"), zlib.compress(b'[[], {"ref": 1}]')])
def test_what_cannot_be_read_is_damage_though_its_digest_is_right(body):
    with pytest.raises(Damaged, match="cannot be read"):
        unpacked(f"{packing.FORM} {packing._digest(body)}\n".encode() + body)


@pytest.mark.parametrize("cut", [0, 1, 11, 30, 200, -1])
def test_what_was_cut_off_is_damage(cut):
    kept = packed(histories.clinic(histories.unit(years=0.5, visits=1, loads=5, daily=False)))
    with pytest.raises(Damaged):
        unpacked(kept[:cut])


def test_another_form_is_not_read():
    kept = packed(histories.clinic())
    with pytest.raises(Damaged, match="form"):
        unpacked(kept.replace(packing.FORM.encode(), b"columns-1", 1))


def _strange(kind) -> set[type]:
    """What a type holds that is not known to come back as it was."""
    plain = (
        msgspec.inspect.StrType, msgspec.inspect.IntType, msgspec.inspect.BoolType, msgspec.inspect.NoneType,
        msgspec.inspect.DateType, msgspec.inspect.DateTimeType, msgspec.inspect.DecimalType,
    )  # fmt: skip
    if isinstance(kind, plain):
        return set()
    if isinstance(kind, msgspec.inspect.DataclassType):
        inner = [field.type for field in kind.fields]
    elif isinstance(kind, msgspec.inspect.VarTupleType):
        inner = [kind.item_type]
    elif isinstance(kind, msgspec.inspect.TupleType):
        inner = kind.item_types
    elif isinstance(kind, msgspec.inspect.UnionType) and len(kind.types) == 2 and kind.includes_none:
        inner = kind.types
    else:
        return {getattr(kind, "cls", type(kind))}
    return set().union(*map(_strange, inner))


def test_every_field_of_every_fact_is_of_a_type_that_comes_back():
    """A field of a new type fails here and not on a page."""
    assert _strange(msgspec.inspect.type_info(ClinicFacts)) == set()


def test_a_type_that_would_not_come_back_is_found():
    held = dataclasses.make_dataclass("Held", [("share", tuple[Fraction, ...]), ("facts", ClinicFacts)])
    assert _strange(msgspec.inspect.type_info(held)) == {Fraction}
    assert _strange(msgspec.inspect.type_info(tuple[float | None, int])) == {msgspec.inspect.FloatType}
