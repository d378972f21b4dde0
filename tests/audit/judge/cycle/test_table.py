"""Rows of one cycle each: what is in the file, what is said of it. Each says the whole word and what bears it out."""

from __future__ import annotations

import pytest

from audit.judge.cycle import judged_file
from tests.audit.judge.cycle.logs import changed, file, rows, without

REF = "t_s,temperature_c,pressure_kpa_abs"
# In `rows()`: the reference is in the band from 60 s, both sensors from 65 s; the hold ends at 265 s.
WHOLE = rows()
EXACT = rows(hold=180)


def held(**cells):
    """The whole cycle with other cells at 100 s, in the hold."""
    return changed(WHOLE, lambda t: t == 100, **cells)


def hole(first, last, body=WHOLE):
    """Without the rows from `first` to `last` seconds, both inclusive."""
    return [row for row in body if not first <= float(row[0]) <= last]


def cut(last, body=WHOLE):
    return [row for row in body if float(row[0]) <= last]


def emptied(first, last, *names, body=WHOLE):
    return changed(body, lambda t: first <= t <= last, **dict.fromkeys(names, ""))


# name: (rows, names of columns or None, whole word, {criterion: verdict or (verdict, measured)})
TABLE = {
    "a good cycle": (WHOLE, None, "met", {
        "holding-time": ("met", 200), "plateau-time": ("not judged", 205), "equilibration": ("met", 5),
        "band-low": ("not judged", 135), "band-high": ("met", 135), "spread": ("met", 0), "sampling": ("met", 1),
        "theory-difference": "met", "air-removal": ("not judged", 0), "drying": ("not judged", 60)}),
    "exactly the time asked": (EXACT, None, "met", {"holding-time": ("met", 180)}),
    "one second short": (rows(hold=179), None, "not met", {"holding-time": ("not met", 179)}),
    "a tenth short of the time": (
        changed(EXACT, lambda t: t == 245, t="244.9"), None, "not met", {"holding-time": ("not met", 179.9)}),
    "equilibration on the limit": (rows(lag=15), None, "met", {"equilibration": ("met", 15)}),
    "equilibration a tenth over": (
        changed(rows(lag=15), lambda t: t == 75, t="75.1"), None, "not met", {"equilibration": ("not met", 15.1)}),
    "one sample in the hold a hundredth under the band": (
        held(second="133.99"), None, "not met", {"holding-time": ("not met", 164)}),
    "that sample with a long hold after it": (
        changed(rows(hold=300), lambda t: t == 100, second="133.99"), None, "met", {"holding-time": ("met", 264)}),
    "a dip with the other sensor's cell empty": (
        held(ref="133.99", second=""), None, "not met", {"holding-time": ("not met", 164)}),
    "one sample on the upper end": (held(ref="137.00", p="332"), None, "met", {"band-high": ("met", 137)}),
    "one sample a hundredth over": (
        changed(rows(hold=500), lambda t: t == 100, second="137.01"), None, "not met",
        {"band-high": ("not met", 137.01), "holding-time": ("met", 464)}),
    "a spread on the limit": (
        held(ref="134.80", p="306", second="136.80"), None, "met", {"spread": ("met", 2)}),
    "a spread a hundredth over": (
        held(ref="134.80", p="306", second="136.81"), None, "not met", {"spread": ("not met", 2.01)}),
    "air left in": (held(p="340"), None, "not met", {"theory-difference": "not met"}),
    "superheat": (held(p="280"), None, "not met", {"theory-difference": "not met"}),
    "a gap of ten seconds": (hole(101, 109), None, "met", {"sampling": ("met", 10)}),
    "a gap of eleven seconds": (
        hole(101, 110), None, "cannot be judged", {"sampling": ("cannot be judged", 11), "holding-time": "met"}),
    "a gap beside a stretch that is long enough": (
        hole(70, 85, rows(hold=400)), None, "cannot be judged", {"sampling": ("cannot be judged", 17)}),
    "too short with the gap counted in": (
        hole(101, 150, rows(hold=170)), None, "not met", {"holding-time": ("not met", 170)}),
    "a gap in one column": (
        emptied(101, 110, "second"), None, "cannot be judged", {"sampling": ("cannot be judged", 11)}),
    "a gap of the pressure": (
        emptied(101, 110, "p"), None, "cannot be judged", {"sampling": ("cannot be judged", 11)}),
    "a gap in the equilibration": (
        hole(61, 71, rows(lag=15)), None, "cannot be judged", {"sampling": ("cannot be judged", 12)}),
    "a hole with the way up at its edge": (hole(50, 59), None, "met", {"sampling": ("met", 1)}),
    "a hole with the way down at its edge": (hole(250, 300, rows(hold=184)), None, "met", {"holding-time": 184}),
    "pressure missing over the first half minute of the hold": (
        emptied(50, 95, "p"), None, "cannot be judged", {"theory-difference": "cannot be judged"}),
    "pressure missing over the last half minute of the hold": (
        emptied(240, 400, "p"), None, "cannot be judged", {"theory-difference": "cannot be judged"}),
    "pressure nowhere in the hold": (
        emptied(30, 300, "p"), None, "cannot be judged", {"theory-difference": "cannot be judged"}),
    "a fault of the pressure that is on record, and a hole": (
        changed(emptied(30, 200, "p"), lambda t: t == 220, p="340"), None, "not met",
        {"theory-difference": "not met"}),
    "an empty column of pressure": (
        emptied(-1, 400, "p"), None, "cannot be judged", {"theory-difference": "not judged", "spread": "met"}),
    "no column of pressure": (
        without(WHOLE, 2), "t_s,temperature_c,temperature_2_c", "cannot be judged",
        {"theory-difference": "not judged", "holding-time": "met"}),
    "no column of pressure and too short": (
        without(rows(hold=100), 2), "t_s,temperature_c,temperature_2_c", "not met", {"holding-time": "not met"}),
    "one sensor": (
        without(WHOLE, 3), REF, "met",
        {"equilibration": ("not judged", None), "spread": ("not judged", None), "holding-time": ("met", 205)}),
    "one empty cell in the hold": (emptied(100, 100, "ref"), None, "met", {"holding-time": ("met", 200)}),
    "an empty cell at the end of the hold": (
        emptied(265, 265, "second"), None, "met", {"holding-time": ("met", 199)}),
    "ends within the hold, long enough": (cut(260), None, "incomplete", {"holding-time": ("met", 195)}),
    "ends within the hold, too short": (cut(200), None, "incomplete", {"holding-time": ("incomplete", 135)}),
    "ends within the hold, with a fault on record": (
        cut(200, held(p="340")), None, "not met", {"theory-difference": "not met", "holding-time": "incomplete"}),
    "ends within the hold with a gap": (
        cut(260, hole(101, 150)), None, "incomplete", {"sampling": "cannot be judged"}),
    "begins within the hold": ([r for r in WHOLE if float(r[0]) >= 70], None, "incomplete", {"holding-time": "met"}),
    "ends on the way up": (cut(50), None, "incomplete", {"holding-time": ("incomplete", 0)}),
    "never hot enough": (
        rows(at="133.0"), None, "not met", {"holding-time": ("not met", 0), "theory-difference": "not judged"}),
    "never hot enough and cut off": (cut(260, rows(at="133.0")), None, "incomplete", {"holding-time": "incomplete"}),
    "never hot enough and just three kelvin down again": (
        cut(286, changed(rows(at="133.0"), lambda t: t == 286, ref="130")), None, "not met",
        {"holding-time": "not met"}),
    "never hot enough and not quite three kelvin down": (
        cut(286, changed(rows(at="133.0"), lambda t: t == 286, ref="130.001")), None, "incomplete",
        {"holding-time": "incomplete"}),
    "the second sensor never comes": (
        changed(WHOLE, lambda t: True, second="130"), None, "not met",
        {"holding-time": ("not met", 0), "plateau-time": 205}),
    "two holds, the longer counts": (
        changed(rows(hold=500), lambda t: t == 200, ref="133"), None, "met", {"holding-time": ("met", 364)}),
    "two equal holds, the first counts": (
        changed(rows(hold=400), lambda t: t == 265, ref="133"), None, "met", {"holding-time": ("met", 199)}),
    "a later dip does not begin the equilibration anew": (
        changed(rows(hold=500), lambda t: 200 <= t < 240, second="133"), None, "met", {"equilibration": ("met", 5)}),
}  # fmt: skip


def said(content: bytes, profile="holding-134"):
    return judged_file(content, profile)


@pytest.mark.parametrize("name", TABLE)
def test_the_table(name):
    body, names, word, criteria = TABLE[name]
    judged = said(file(body, **({"names": names} if names else {})))
    found = {c.id: c for c in judged.criteria}
    assert judged.verdict == word, [(c.id, c.verdict, c.words) for c in judged.criteria]
    for id, expected in criteria.items():
        if not isinstance(expected, tuple | str):
            expected = (found[id].verdict, expected)
        verdict, measured = expected if isinstance(expected, tuple) else (expected, found[id].as_json()["measured"])
        assert (found[id].verdict, found[id].as_json()["measured"]) == (verdict, measured), (id, found[id].words)


def test_all_ten_are_listed_once_each_with_words():
    for body in (WHOLE, cut(50), without(WHOLE, 2)):
        names = None if len(body[0]) == 4 else "t_s,temperature_c,temperature_2_c"
        criteria = said(file(body, **({"names": names} if names else {}))).criteria
        assert [c.id for c in criteria] == [
            "holding-time", "plateau-time", "equilibration", "band-low", "band-high", "spread", "theory-difference",
            "sampling", "air-removal", "drying",
        ]  # fmt: skip
        assert all(c.words.endswith(".") for c in criteria)
