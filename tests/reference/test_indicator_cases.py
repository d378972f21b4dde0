"""Arithmetic of biological and chemical indicators against published and constructed values."""

from __future__ import annotations

from math import log, log10

import pytest

from audit.judge.cycle import indicators as bi
from tests.reference.test_steam_cases import same, table

EXPOSURES = [bi.Exposure(float(r["t_min"]), int(r["n"]), int(r["r_negative"])) for r in table("s5_HSK")]


def test_survival_and_kill_times():
    for row in table("s5_survive_kill"):
        given = float(row["N0"]), float(row["D_min"])
        assert same(bi.survival_minutes(*given), row["survival_min"])
        assert same(bi.kill_minutes(*given), row["kill_min"])


def test_log_reductions():
    for row in table("s5_slr"):
        n0, d, f = (float(row[k]) for k in ("N0", "D121_min", "F0_min"))
        assert same(bi.log_reduction(f, d), row["log_reduction"])
        assert same(bi.survivors_log10(n0, f, d), row["expected_survivors_log10"])


def test_b1_by_holcomb_and_by_the_limited_form():
    printed = {row["quantity"]: row["value"] for row in table("s5_HSK_answer")}
    for by in (bi.d_holcomb, bi.d_limited):
        found = by(EXPOSURES, 1e6)
        values = {
            "U": found.u,
            "V": found.v,
            "SD": found.v**0.5,
            "D": found.d,
            "CI_low": found.low,
            "CI_high": found.high,
        }
        assert all(same(values[name], value) for name, value in printed.items())


def test_b1_by_stumbo():
    mean, each = bi.d_stumbo(EXPOSURES, 1e6)
    printed = {row["t_min"]: row["D_min"] for row in table("s5_SMC")}
    assert same(mean, printed.pop("mean"))
    assert all(map(same, each, printed.values()))


def test_b2_spearman_and_karber_as_published():
    rows = [row for row in table("s5_SK_EPA") if row["smoothed_abbott_p"]]
    doses, parts = [log10(float(r["conc_pct"])) for r in rows], [float(r["smoothed_abbott_p"]) for r in rows]
    mean, variance = bi.spearman_karber(doses, parts, [20] * len(rows))
    assert mean == pytest.approx(1.656527, abs=2e-5) and variance == pytest.approx(0.0010977, abs=2e-5)
    wide = 2 * variance**0.5
    assert [round(10**x, 1) for x in (mean, mean - wide, mean + wide)] == [45.3, 38.9, 52.8]


@pytest.mark.parametrize(
    "counts",
    [[0, 4, 12, 20, 20][:4], [4, 8, 12, 20, 20], [0, 0, 12, 20, 20], [0, 4, 12, 18, 20], [0, 4, 12, 20, 18], [],
     [4, 0, 0, 20, 20], [0, 4, 12, 21, 20], [0, 4, -1, 20, 20]],
)  # fmt: skip
def test_a_d_value_is_refused_where_the_data_do_not_allow_it(counts):
    exposures = [bi.Exposure(8 + 2 * n, 20, r) for n, r in enumerate(counts)]
    for by in (bi.d_holcomb, bi.d_limited, bi.d_stumbo):
        with pytest.raises(bi.NotEnough):
            by(exposures, 1e6)


def test_the_limited_form_asks_equal_steps_and_groups():
    uneven = [*EXPOSURES[:3], bi.Exposure(14.5, 20, 18), *EXPOSURES[4:]]
    groups = [*EXPOSURES[:3], bi.Exposure(14, 10, 9), *EXPOSURES[4:]]
    for exposures, said in ((uneven, "steps"), (groups, "numbers")):
        assert bi.d_holcomb(exposures, 1e6).d > 0
        with pytest.raises(bi.NotEnough, match=said):
            bi.d_limited(exposures, 1e6)


def test_a_population_that_is_none_is_refused():
    for work in (bi.survival_minutes, bi.kill_minutes):
        with pytest.raises(ValueError, match="above zero"):
            work(0, 1.5)
    with pytest.raises(bi.NotEnough, match="too small"):
        bi.d_holcomb(EXPOSURES, 0.1)


def test_chemical_indicators():
    rows = {row["t_C"]: row["min_stated_value_min"] for row in table("s6_type5")}
    z = bi.z_between(121, float(rows["121"]), 135, float(rows["135"]))
    assert z == pytest.approx(12.30, abs=0.005) and z == pytest.approx(14 * log(10) / log(16.5 / 1.2))
    assert all(same(bi.stated_at(float(t), 121, 16.5, z), printed) for t, printed in rows.items())
    for row in table("s6_tolerance"):
        stated, failing = float(row["example_stated_min_at_121"]), float(row["must_fail_at_min"])
        if row["type"] == "5":
            assert bi.fails_at(stated) == pytest.approx(failing)
            assert bi.kill_minutes(1e5, 1.5) < stated == pytest.approx((5 + 6) * 1.5)
        else:
            less = float(row["time_tolerance"].replace(" %", "")) / 100
            assert stated * (1 + less) == pytest.approx(failing)
            assert 121 + float(row["temperature_tolerance_K"]) == float(row["must_fail_at_C"])
