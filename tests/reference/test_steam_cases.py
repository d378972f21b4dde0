"""Steam, lethality and leak rates against published and constructed values; sources head each file.

Every file of `steam/` is read here, in `test_indicator_cases.py` or in `test_trend_cases.py`. Two steam libraries and
SciPy stand beside them.
"""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from audit.judge.cycle import indicators as bi
from audit.judge.cycle import judged_file, leak, steam
from audit.judge.cycle.lethality import F0, Lethality, a0_seconds, exact, f0_minutes, trapezoid

HERE = Path(__file__).parent / "steam"


def table(name: str) -> list[dict[str, str]]:
    """The rows of a file, without its source."""
    with (HERE / f"{name}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("# ")))


def digits(printed: str) -> float:
    """Half of the last printed digit, and a hair."""
    return 0.5000001 * 10.0 ** -len(printed.partition(".")[2])


def same(value: float, printed: str) -> bool:
    return abs(float(value) - float(printed)) <= digits(printed)


def test_if97_tables_35_and_36():
    for row in table("s1_if97"):
        given, printed = float(row["input"]), float(row["published"])
        if row["function"] == "psat":
            assert steam.p_sat(given - 273.15) / 1000 == pytest.approx(printed, rel=5e-9)
        else:
            assert steam.t_sat(given * 1000) + 273.15 == pytest.approx(printed, abs=5e-7)


def test_the_table_of_steam():
    for row in table("s1_steam_table"):
        kpa = steam.p_sat(float(row["t_C"]))
        assert same(kpa, row["psat_kPa_abs"]) and same(kpa - 101.325, row["gauge_kPa_at_101.325"])
        assert steam.t_sat(kpa) == pytest.approx(float(row["t_C"]), abs=1e-9)


def test_temperatures_of_pressures():
    rows = table("s1_tsat")
    kpa = [row["p_kPa_abs"] for row in rows]
    many = steam.t_sat_of(np.array([*map(float, kpa)]))
    for row, p, at_once in zip(rows, kpa, many, strict=True):
        assert same(steam.t_sat(float(p)), row["tsat_C"])
        assert steam.t_sat(float(p)) == pytest.approx(at_once, abs=1e-11)
        assert float(steam.t_sat_exactly(Fraction(p))) == pytest.approx(at_once, abs=1e-11)


def test_slopes():
    for row in table("s1_slope"):
        t = float(row["t_C"])
        assert same(steam.p_sat(t + 0.5) - steam.p_sat(t - 0.5), row["dp_dT_kPa_per_K"])
        for more in (2, 3):
            assert same(steam.p_sat(t + more) - steam.p_sat(t), row[f"pressure_rise_for_plus_{more}K_kPa"])


def test_gauge_and_altitude():
    for row in table("s1_gauge_trap"):
        kpa = Fraction(row["p_atm_kPa"]) + Fraction(row["gauge_reading_kPa"])
        assert same(kpa, row["p_abs_kPa"]) and same(steam.t_sat(float(kpa)), row["tsat_C"])


def test_two_libraries_of_steam_say_the_same():
    """seuif97 and iapws from 100 to 140 °C, both ways; region 4 of the same formulation, written by others."""
    from iapws.iapws97 import _PSat_T, _TSat_P
    from seuif97 import px2t, tx2p

    for t in np.arange(100, 140.01, 0.5):
        kpa = steam.p_sat(t)
        assert kpa / 1000 == pytest.approx(_PSat_T(t + 273.15), rel=1e-11)
        assert kpa / 1000 == pytest.approx(tx2p(t, 0), rel=1e-9)
        assert steam.t_sat(kpa) == pytest.approx(_TSat_P(kpa / 1000) - 273.15, abs=1e-9)
        assert steam.t_sat(kpa) == pytest.approx(px2t(kpa / 1000, 0), abs=1e-6)


def test_another_equation_of_saturation_says_nearly_the_same():
    """Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783, equation 2.5: not that of IF97; within 10 mK."""
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    for t in range(100, 141):
        kelvin = t + 273.15
        v = 1 - kelvin / 647.096
        powers = (v, v**1.5, v**3, v**3.5, v**4, v**7.5)
        kpa = 22064 * np.exp(647.096 / kelvin * sum(c * p for c, p in zip(a, powers, strict=True)))
        assert steam.t_sat(kpa) == pytest.approx(t, abs=0.01)


@pytest.mark.parametrize("kpa", [0.6, 22065.0, float("nan")])
def test_outside_its_range_the_formula_says_nothing(kpa):
    with pytest.raises(ValueError, match="holds from"):
        steam.t_sat(kpa)
    with pytest.raises(ValueError, match="holds from"):
        steam.p_sat(-kpa)


# ------------------------------------------------------------------------------------------------ lethality


def test_lethal_rates():
    for row in table("s2_lethal_rates"):
        for ref in ("121.0", "121.1", "121.11"):
            assert same(Lethality(float(ref), 10).rate(np.array(float(row["t_C"]))), row[f"L_Tref_{ref}"])


def level(celsius, seconds):
    return np.array([0.0, seconds]), np.array([celsius, celsius], float)


def test_nominal_holds():
    for row in table("s2_nominal_holds"):
        time, celsius = level(float(row["t_C"]), float(row["hold_min"]) * 60)
        assert same(f0_minutes(time, celsius), row["F0_Tref_121.1"])
        assert same(trapezoid(time, celsius, Lethality(121.0, 10)) / 60, row["F0_Tref_121.0"])


def test_w1_a_can_stepwise():
    by = Lethality(121, 10)
    terms = [(float(r["minutes"]) * float(by.rate(np.array(float(r["t_C"]))))) for r in table("s2_W1")]
    assert sum(terms) == pytest.approx(2.64, abs=0.02)
    assert sum(float(r["printed_term"]) for r in table("s2_W1")) == pytest.approx(2.64, abs=0.005)
    assert 2 * float(by.rate(np.array(110.0))) == pytest.approx(0.16, abs=0.005)


def test_w2_other_z():
    """Singh and Heldman, Introduction to Food Engineering (from memory): 4 s at 138 °C, z 8.5, are 400 s at 121."""
    assert exact(*level(138, 4), Lethality(121, 8.5)) == pytest.approx(400, abs=0.5)
    assert bi.survivors_log10(1e4, 50, 4) == pytest.approx(-8.5)


def test_w3_rates_and_twelve_d():
    for row in table("s2_W3"):
        rate = float(F0.rate(np.array(float(row["t_C"]))))
        assert same(rate, row["L_Tref_121.1_z10"])
        assert same(12 * 0.2 / rate, row["twelve_D_time_min_D121_0.2"])


def test_w4_w5_w6_w7():
    """W4 dairyscience.info (read); W5 FAO Fisheries Circular 784 (read); W6 Earle; W7 Teixeira (read)."""
    assert float(Lethality(121.11, 10).rate(np.array(110.0))) == pytest.approx(0.077, abs=0.001)
    heating = np.array([0.0, 5.0, 10.0])
    rates = np.array([1e-9, 1.342, 0.776])  # the readings' rates as printed; the sum between is 1.342
    assert trapezoid(heating, 121.1 + 10 * np.log10(rates), F0) == pytest.approx(8.65, abs=0.05)
    assert float(F0.rate(np.array(120.0))) == pytest.approx(0.776, abs=0.0005)
    parts = [bi.log_reduction(*each) for each in ((2, 15.7), (3, 9.2), (2, 5.4))]
    assert [round(part, 2) for part in parts] == [0.13, 0.33, 0.37] and sum(parts) == pytest.approx(0.83, abs=0.01)
    assert exact(*level((235 - 32) / 1.8, 60), Lethality((270 - 32) / 1.8, 17.5 / 1.8)) == pytest.approx(0.6)
    assert bi.log_reduction(60, 10) == 6


def test_w9_log_reduction():
    assert bi.log_reduction(12, 1.5) == 8 and bi.survivors_log10(100, 12, 1.5) == -6


CORNERS = np.array([0, 340, 520, 690.0]), np.array([100, 134, 134, 100.0])


def test_w10_the_exact_rule_needs_no_more_than_the_corners():
    rows = {row["segment"]: row["F0_exact_Tref121.1_z10"] for row in table("s2_W10")}
    for n, name in enumerate(("up 6 K/min", "hold", "down 12 K/min")):
        assert same(f0_minutes(CORNERS[0][n : n + 2], CORNERS[1][n : n + 2]), rows[name])
    assert same(f0_minutes(*CORNERS), rows["total"])
    assert same(f0_minutes(np.array([0, 633.0]), np.array([100, 121.1])), rows["single ramp 2 K/min"])


def rectangles(time, celsius):
    rate, steps = F0.rate(celsius), np.diff(time)
    return float(rate[:-1] @ steps) / 60, float(rate[1:] @ steps) / 60


def test_w10_sampled():
    for row in table("s2_W10_sampling"):
        time = np.arange(0, 690.0001, float(row["dt_s"]))
        celsius = np.interp(time, *CORNERS)
        assert (len(time), time[-1]) == (int(row["samples"]), float(row["last_sample_s"]))
        assert same(trapezoid(time, celsius, F0) / 60, row["F0_trapezoid"])
        left, right = rectangles(time, celsius)
        assert same(left, row["F0_left_rectangle"]) and same(right, row["F0_right_rectangle"])


def test_w10_a_ramp():
    for row in table("s2_W10_ramp_rule"):
        time = np.arange(0, float(row["end_s"]) + 0.001, float(row["dt_s"]))
        celsius = 100 + time / 30
        left, right = rectangles(time, celsius)
        found = (trapezoid(time, celsius, F0) / 60, left, right, f0_minutes(time, celsius))
        printed = [row[k] for k in ("trapezoid", "left_rectangle", "right_rectangle", "exact_to_same_end")]
        assert all(map(same, found, printed))


def test_w11_a0():
    for row in table("s2_W11_A0"):
        assert same(a0_seconds(*level(float(row["t_C"]), float(row["seconds"]))), row["A0_Tref80_z10"])
    assert a0_seconds(*level(64.99, 9000)) == 0


def test_scipy_integrates_to_the_same():
    from scipy.integrate import quad
    from scipy.integrate import trapezoid as rule

    time = np.array([0, 3, 4, 9.5, 30, 31])
    celsius = np.array([100, 118.5, 118.5, 136, 121.1, 60])
    by = Lethality(121.1, 10)
    total = sum(
        quad(lambda t: 10 ** ((np.interp(t, time, celsius) - 121.1) / 10), a, b, epsabs=1e-12)[0]
        for a, b in zip(time, time[1:], strict=False)
    )
    assert exact(time, celsius, by) == pytest.approx(total, rel=1e-10)
    assert trapezoid(time, celsius, by) == pytest.approx(float(rule(by.rate(celsius), time)), rel=1e-12)


# ------------------------------------------------------------------------------------------------ saturation, leaks


def test_saturation_cases():
    """Each as a cycle held for 10 minutes at that temperature and pressure."""
    for row in table("s3_saturation_cases"):
        t, p = row["measured_C"], row["p_kPa_abs"]
        profile = "holding-121" if float(t) < 125 else "holding-134"
        rows = [(0, "100", "101.4"), *((n, t, p) for n in range(5, 1000, 5)), (1000, "100", "101.4")]
        body = "".join(f"{n},{a},{b}\n" for n, a, b in rows)
        said = judged_file(f"# cycle 1\nt_s,temperature_c,pressure_kpa_abs\n{body}".encode(), profile)
        found = {c.id: c for c in said.criteria}["theory-difference"]
        apart = float(t) - steam.t_sat(float(p))
        assert same(steam.t_sat(float(p)), row["tsat_C"]) and same(apart, row["measured_minus_tsat_K"].lstrip("+"))
        if found.measured is None:  # below the band there is no hold to judge
            assert row["case"] == "G3" and said.verdict == "not met"
        else:
            assert float(found.measured) == pytest.approx(apart, abs=1e-9)
            assert found.verdict == ("met" if row["expected"] == "within 2 K" else "not met")
            assert ("confused" in found.words) == (row["case"] == "G5")


def test_leak_cases():
    words = {"PASS": lambda rate: rate <= leak.LIMIT, "FAIL": lambda rate: rate > leak.LIMIT}
    for row in table("s4_leak_cases"):
        given = {k: Fraction(row[f"{k}_kPa"]) for k in ("p1", "p2", "p3")}
        read = leak.LeakReadings(
            **given, measured_s=Fraction(row["seconds_2_to_3"]), t2=Fraction(row["T2_K"]), t3=Fraction(row["T3_K"])
        )
        said = leak.judge_leak(read)
        assert same(said.raw, row["raw_kPa_per_min"])
        assert same(said.corrected, row["temperature_corrected_kPa_per_min"])
        assert words[row["raw_vs_0.13"]](said.raw) and words[row["corrected_vs_0.13"]](said.corrected)
        both = row["raw_vs_0.13"] == row["corrected_vs_0.13"] == "PASS"
        assert said.verdict == ("not met" if not both else "cannot be judged" if row["case"] == "K9" else "met")
        assert ("moisture" in " ".join(said.hints)) == (row["case"] == "K8")
        assert "0.13 kPa/min" in said.words and "corrected" in said.words
        assert ("Warming" in said.words) == (row["case"] == "K6") and ("Cooling" in said.words) == (
            row["case"] == "K5"
        )


def test_units_of_leak_rates():
    named = {
        "limit EN": "kPa/min",
        "1.3 mbar/min": "mbar/min",
        "1 mmHg/min": "mmHg/min",
        "0.975 mmHg/min": "mmHg/min",
    }
    named |= {"13 mbar in 10 min": "mbar in 10 min", "1.3 kPa in 10 min": "kPa in 10 min"}
    for row in table("s4_units"):
        assert same(Fraction(row["value"]) * leak.PER_KPA_MINUTE[named[row["quantity"]]], row["kPa_per_min"])


def test_published_leaks():
    """A page on pharmaceutical practice (read): -0.750 to -0.745 bar in 10 minutes passes."""
    kpa = [Fraction("101.325") - 75, Fraction("101.325") - Fraction("74.5")]
    read = leak.LeakReadings(Fraction(5), kpa[0], kpa[1], Fraction(600))
    assert leak.raw_rate(read) == Fraction("0.05") and leak.judge_leak(read).verdict == "met"
    # 40 CFR 1065.644 (inputs read, answer from memory): 0.00030 mol/s from 25.3 to 50.6 kPa in 70 s, 2 litres.
    read = leak.LeakReadings(*map(Fraction, ("5", "25.3", "50.6", "70", "293.15", "293.15")))
    moles = float(leak.corrected_rate(read)) / 60 * 1000 * 0.002 / (8.314472 * 293.15)
    assert moles == pytest.approx(0.00029657, abs=5e-9)


@pytest.mark.parametrize(
    ("change", "said"),
    [({"measured_s": 0}, "comes after"), ({"p2": 0}, "absolute"), ({"t3": -5}, "kelvin"), ({"t2": 0}, "kelvin")],
)
def test_leak_readings_that_cannot_be(change, said):
    good = {"p1": 5, "p2": 5, "p3": 6, "measured_s": 600, "t2": 333, "t3": 333} | change
    with pytest.raises(ValueError, match=said):
        leak.judge_leak(leak.LeakReadings(**{k: Fraction(v) for k, v in good.items()}))


def test_a_short_leak_test_proves_nothing_and_may_still_fail():
    short = [Fraction(x) for x in ("5", "5", "5.1", "300")]
    assert leak.judge_leak(leak.LeakReadings(*short)).verdict == "cannot be judged"
    assert leak.judge_leak(leak.LeakReadings(*short[:2], Fraction(9), short[3])).verdict == "not met"
    unsettled = leak.LeakReadings(*short[:3], Fraction(600), settled_s=Fraction(60))
    assert leak.judge_leak(unsettled).verdict == "cannot be judged"
