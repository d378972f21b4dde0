"""Laws of judged cycles, and attacks: what would make a cycle come out as met that is not?"""

from __future__ import annotations

import random
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.judge.cycle import judge, judged_file, load_profile, read_cycle
from audit.judge.cycle.lethality import A0, F0, Lethality, exact, trapezoid
from audit.judge.cycle.steam import t_sat_exactly
from tests.audit.judge.cycle.logs import NAMES, changed, file, rows, without
from tests.examples import examples

LAWS = settings(max_examples=examples(40), deadline=None)
PROFILE = load_profile("holding-134")
GOOD = rows(hold=185, dt=5, up=30, down=30)


def said(body, **how):
    return judge(read_cycle(file(body, **how)), PROFILE)


def told(judged):
    """What does not hang on the moment: word, and verdict, measured value and margin of each criterion."""
    return judged.verdict, [(c.id, c.verdict, c.measured, c.margin) for c in judged.criteria]


PLAIN = told(said(GOOD))
curves = st.lists(st.tuples(st.integers(1, 90), st.integers(200, 1400)), min_size=2, max_size=12)
kinds = st.sampled_from([F0, A0, Lethality(170, 20), Lethality(121, 8.5)])


def arrays(points):
    return np.cumsum([float(t) for t, _ in points]), np.array([c / 10 for _, c in points])


@LAWS
@given(curves, kinds, st.integers(0, 99), st.integers(1, 60))
def test_hotter_is_never_less_lethal(points, by, place, more):
    time, celsius = arrays(points)
    hotter = celsius.copy()
    hotter[place % len(hotter)] += more / 10
    for rule in (exact, trapezoid):
        assert rule(time, hotter, by) > rule(time, celsius, by)


@LAWS
@given(curves, kinds, st.integers(0, 99))
def test_a_log_that_is_split_adds_up(points, by, place):
    time, celsius = arrays(points)
    cut = place % len(time)
    for rule in (exact, trapezoid):
        parts = rule(time[: cut + 1], celsius[: cut + 1], by) + rule(time[cut:], celsius[cut:], by)
        assert parts == pytest.approx(rule(time, celsius, by), rel=1e-12, abs=1e-300)


@LAWS
@given(curves, kinds)
def test_sampling_finer_changes_nothing_and_the_trapezoid_comes_near(points, by):
    """More samples on the same straight lines; the trapezoid never reads less than what is exact, and comes down."""
    time, celsius = arrays(points)
    whole, before = exact(time, celsius, by), None
    for parts in (1, 4, 16):
        finer = np.concatenate(
            [np.linspace(a, b, parts, endpoint=False) for a, b in zip(time, time[1:], strict=False)]
        )
        finer = np.append(finer, time[-1])
        on_it = np.interp(finer, time, celsius)
        assert exact(finer, on_it, by) == pytest.approx(whole, rel=1e-8)
        over = trapezoid(finer, on_it, by) / whole - 1
        assert over >= -1e-9 and (before is None or over <= before / 3 + 1e-9)
        before = over


@LAWS
@given(st.integers(-(10**7), 10**7), st.sampled_from(["", ".5", ".125", ".0000001"]))
def test_shifting_time_changes_nothing(shift, part):
    body = [[str(Decimal(row[0]) + shift) + part, *row[1:]] for row in GOOD]
    if shift < 0 and part:  # the decimals would run the other way under zero
        body = [[str(Decimal(row[0]) + abs(shift)) + part, *row[1:]] for row in GOOD]
    assert told(said(body)) == PLAIN


@LAWS
@given(st.integers(0, 2**32), st.integers(1, 400))
def test_noise_smaller_than_every_margin_changes_no_word(seed, size):
    """Up to 0.4 K on every sensor, no more than every margin bears: a word that flips had said a smaller one."""
    draw, noise = random.Random(seed), Decimal(size) / 1000
    inside = [row for row in GOOD if float(row[1]) >= 134]
    margins = [c.margin for c in said(GOOD).criteria if c.unit in ("K", "°C") and c.margin is not None]
    low = min(Decimal(cell) for row in inside for cell in (row[1], row[3]) if Decimal(cell) >= 134) - 134
    assert min(margins) > 2 * noise and low > noise
    shaken = [
        [row[0], *(str(Decimal(c) + noise * draw.randint(-1, 1)) if n != 1 else c for n, c in enumerate(row[1:]))]
        for row in GOOD
    ]
    assert said(shaken).verdict == "met"


@LAWS
@given(st.integers(0, 2**32))
def test_a_log_that_ends_early_is_never_met(seed):
    """Cut anywhere before the reference is below the band again, and with any one cell of the rest changed."""
    draw = random.Random(seed)
    last = max(n for n, row in enumerate(GOOD) if float(row[1]) >= 134)
    body = [list(row) for row in GOOD[: draw.randint(1, last + 1)]]
    body[draw.randrange(len(body))][draw.choice([1, 2, 3])] = draw.choice(["", "100", "134", "136.9", "310"])
    if float(body[-1][1] or 134) >= 134:
        assert said(body).verdict != "met"


@LAWS
@given(st.integers(0, 2**32))
def test_without_its_pressure_no_cycle_is_met(seed):
    draw = random.Random(seed)
    body = changed(GOOD, lambda t: t == draw.randrange(250), p=draw.choice(["", "280", "345"]))
    bare = said(without(body, 2), names="t_s,temperature_c,temperature_2_c")
    assert bare.verdict == "cannot be judged"


def in_units(temperature: str, pressure: str, ambient: Fraction | None):
    """The good cycle in other units, exactly."""
    per = {"kpa": Fraction(1), "bar": Fraction(100), "mbar": Fraction(1, 10)}[pressure.split("_")[0]]

    def digits(value: Fraction) -> str:
        return str(Decimal(value.numerator) / Decimal(value.denominator))

    def celsius(cell: str) -> str:
        return cell if temperature == "c" else digits(Fraction(cell) * 9 / 5 + 32)

    less = ambient if pressure.endswith("gauge") else 0
    names = f"t_s,temperature_{temperature},pressure_{pressure},temperature_2_c"
    body = [[t, celsius(a), digits((Fraction(p) - less) / per), b] for t, a, p, b in GOOD]
    return said(body, names=names)


@pytest.mark.parametrize("temperature", ["c", "f"])
@pytest.mark.parametrize("pressure", ["kpa_abs", "bar_abs", "mbar_abs", "kpa_gauge", "bar_gauge", "mbar_gauge"])
def test_units_change_nothing(temperature, pressure):
    assert told(in_units(temperature, pressure, Fraction("101.325"))) == PLAIN


# ------------------------------------------------------------------------------------------------ attacks


def scaled_pressure(by):
    return [[t, a, f"{float(p) * by:.6f}", b] for t, a, p, b in GOOD]


def less(p):
    return [[t, a, f"{float(q) - p:.3f}", b] for t, a, q, b in GOOD]


GAUGE = NAMES.replace("abs", "gauge")
BARE = ("# cycle 1",)
ALTERNATING = [
    [t, "" if 60 <= n < 260 and n % 2 else a, "" if 60 <= n < 260 and not n % 2 else p, b]
    for n, (t, a, p, b) in enumerate(rows())
]
# what is tried: (rows, how the file is written, the word, a word of what is said)
ATTACKS = {
    "gauge pressure as absolute": (less(101.325 - 1), {}, "not met", "fit as pressure_kpa_gauge."),
    "absolute pressure as gauge": (GOOD, {"names": GAUGE}, "not met", "fit as pressure_kpa_abs."),
    "absolute as gauge, ambient not stated": (GOOD, {"names": GAUGE, "head": BARE}, "cannot be judged", "assumed"),
    "bar as kPa": (scaled_pressure(0.01), {}, "not met", "fit as pressure_bar_abs."),
    "mbar as kPa": (scaled_pressure(10), {}, "not met", "fit as pressure_mbar_abs."),
    "psi as kPa": (scaled_pressure(0.145), {}, "not met", "fit as pressure_psi_abs."),
    "°C as °F": (GOOD, {"names": NAMES.replace("temperature_c", "temperature_f")}, "not met", "Read as °C"),
    "°F as °C": (
        [[t, f"{float(a) * 1.8 + 32:.3f}", p, b] for t, a, p, b in GOOD], {}, "incomplete", "Read as °F"),
    "kelvin as °C": (
        [[t, f"{float(a) + 273.15:.3f}", p, f"{float(b) + 273.15:.3f}"] for t, a, p, b in GOOD], {},
        "incomplete", "Read as kelvin"),
    "air at the same temperature": (less(-20), {}, "not met", "under the temperature of saturated steam"),
    "dry heat without steam": (changed(GOOD, lambda t: True, p="101.3"), {}, "not met", "over the temperature"),
    "near nothing on the gauge": (changed(GOOD, lambda t: True, p="0.000001"), {}, "not met", "unit"),
    "more pressure than steam can have": (changed(GOOD, lambda t: True, p="99999999"), {}, "not met", "unit"),
    "reference and pressure never at one instant": (ALTERNATING, {}, "cannot be judged", "pressure"),
    "a sensor that never moves": (changed(GOOD, lambda t: True, second="135.5"), {}, "met", "never changes"),
    "an overshoot before the first sample in the band": (
        changed(rows(), lambda t: t == 59, ref="138"), {}, "met", "138"),
    "minutes for seconds": ([[str(Decimal(r[0]) / 60), *r[1:]] for r in GOOD], {}, "not met", "180"),
    "milliseconds for seconds": ([[r[0] + "000", *r[1:]] for r in GOOD], {}, "not met", "5000"),
    "the hold twice, each too short": (
        changed(rows(hold=300), lambda t: t == 200, second="133.99"), {}, "not met", "180"),
    "only hot enough when rounded": (
        [[t, "133.9999999" if a == "135.000" else a, p, b] for t, a, p, b in GOOD], {}, "not met", "133.9999999"),
    "too hot by less than is shown": (
        changed(GOOD, lambda t: t == 100, ref="137.00000000001", p="331.9"), {}, "not met", "137.00000000001"),
    "too far apart by less than a float holds": (
        changed(GOOD, lambda t: t == 100, ref="134.5", p="308", second="136.50000000000000000001"), {},
        "not met", "2.00000000000000000001"),
}  # fmt: skip


@pytest.mark.parametrize("name", ATTACKS)
def test_attacks(name):
    body, how, word, words = ATTACKS[name]
    judged = said(body, **how)
    assert judged.verdict == word, [(c.id, c.verdict, c.words) for c in judged.criteria]
    assert words in " ".join([c.words for c in judged.criteria] + [p.words for p in judged.problems])


def test_a_difference_to_theory_at_its_limit_is_worked_out_again():
    """Two pressures so near to either side of 2 K that a float tells them from neither each other nor the limit."""
    low, high, ten = Fraction(280), Fraction(300), 10**30
    while high - low > Fraction(1, 10**25):
        middle = (low + high) / 2
        low, high = (middle, high) if 135 - t_sat_exactly(middle) > 2 else (low, middle)
    for digits, word in ((low * ten // 1, "not met"), (-(-high * ten // 1), "met")):
        kpa = f"{digits // ten}.{digits % ten:030d}"
        assert float(kpa) == float(low) == float(high)
        assert said(changed(GOOD, lambda t: t == 100, p=kpa)).verdict == word


def test_ambient_of_any_size_is_no_fault_of_the_program():
    for stated in ("9" * 60, "0." + "0" * 50 + "1"):
        judged = judged_file(file(GOOD, head=(*BARE, f"# ambient_kpa: {stated}")), "holding-134")
        assert judged.verdict == "met"
