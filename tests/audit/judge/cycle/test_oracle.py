"""The program against the slow and simple way, over drawn cycles; and files that are damaged at random."""

from __future__ import annotations

import random
import re
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.judge.cycle import NotInForm, judge, load_profile, read_cycle, read_profile, stricter
from tests.audit.judge.cycle import oracle
from tests.audit.judge.cycle.logs import HEAD, NAMES, file, rows, text
from tests.examples import examples

LAWS = settings(max_examples=examples(60), deadline=None, suppress_health_check=list(HealthCheck))
SHORT = """
id = "short"
title = "for tests"
edition = "1"
[band]
low = 134
high = 137
citation = "common practice, no source"
"""
LIMITS = {
    "holding-time": "12", "plateau-time": "14.5", "equilibration": "4", "spread": "2", "theory-difference": "2",
    "sampling": "3", "air-removal": "1", "drying": "5",
}  # fmt: skip


def profile(limits, least=1, asked=True):
    tables = [f'[limit.{k}]\nvalue = {LIMITS[k]}\ncitation = "common practice, no source"\n' for k in limits]
    rest = f'[sensors]\nleast = {least}\ncitation = "x"\ngrade = "read"\nchecked_on = 2026-11-25\n'
    rest += f'[pressure]\nasked = {str(asked).lower()}\ncitation = "common practice, no source"\n'
    return read_profile(SHORT + "".join(tables) + rest)


profiles = st.builds(
    profile,
    st.sets(st.sampled_from(sorted(set(LIMITS) - {"holding-time"}))).map(lambda s: sorted({"holding-time", *s})),
    st.integers(1, 3),
    st.booleans(),
)
SATURATED = {"134": "304.2", "134.5": "308.7", "135": "313.2", "136": "322.4", "137.00": "331.9"}
ODD = ["", "100", "131", "133.99", "134", "135.0", "136.005", "137", "137.01", "140"]
ODD_KPA = ["", "60", "71.325", "101.325", "290", "304.2", "320", "345"]
STEPS = ["1", "1", "1", "1", "1", "2", "3", "3.001", "0.5"]


@st.composite
def cycles(draw):
    """A short file: level runs, most in the band, with odd cells between: holds, dips, gaps and holes all occur."""
    seed = random.Random(draw(st.integers(0, 2**32)))
    sensors, kind = seed.randint(1, 3), seed.choice(["", "kpa_abs", "kpa_abs", "kpa_abs", "kpa_gauge"])
    names = ["t_s", "temperature_c", *(f"temperature_{n}_c" for n in range(2, sensors + 1))]
    names += [f"pressure_{kind}"] if kind else []
    below, odd = ("120", "200"), seed.choice([0, 0.01, 0.05])
    levels = [*SATURATED.items()]
    runs = [below] * seed.choice([0, 1, 1, 1, 1])
    runs += [seed.choice(levels) if seed.random() < 0.85 else below for _ in range(draw(st.integers(0, 6)))]
    runs += [below] * seed.choice([0, 1, 1, 1, 1])
    rows, t, gauge = [], Fraction(seed.randint(-5, 5)), 101.325 if kind == "kpa_gauge" else 0
    for celsius, kpa in runs or [below]:
        for _ in range(seed.randint(1, 9)):
            cells = [seed.choice(ODD) if seed.random() < odd else celsius for _ in range(sensors)]
            if kind:
                p = seed.choice(ODD_KPA) if seed.random() < odd else kpa
                cells.append(p and f"{float(p) - gauge:.3f}")
            rows.append([str(float(t)), *cells])
            t += Fraction(seed.choice(STEPS[: seed.choice([5, 5, 5, 9])]))
    head = HEAD if seed.random() < 0.7 else HEAD[:1]
    if seed.random() < 0.3:
        names[0], zone = "time", seed.choice(["Z", "+05:30", "-03:00"])
        rows = [[_moment(float(row[0]), zone, seed.choice(["", ".000"])), *row[1:]] for row in rows]
    place = names.index(seed.choice(names[1 : sensors + 1]))
    if seed.random() < 0.3:
        names[place] = names[place].removesuffix("c") + "f"
        rows = [[_fahrenheit(c) if n == place else c for n, c in enumerate(row)] for row in rows]
    sep = seed.choice([",", ",", ";", "\t"])
    if sep != "," and seed.random() < 0.5:
        rows = [[cell.replace(".", ",") for cell in row] for row in rows]
    return text(rows, names=",".join(names), head=head, sep=sep).encode()


def _moment(seconds: float, zone: str, rest: str) -> str:
    """Some day's moment after so many seconds; `rest` are the decimals of a whole second."""
    moment = datetime(2026, 12, 31, 23, 59, 50) + timedelta(milliseconds=round(seconds * 1000))  # noqa: DTZ001
    parts = f".{moment.microsecond // 1000:03d}" if moment.microsecond else rest
    return f"{moment:%Y-%m-%dT%H:%M:%S}{parts}{zone}"


def _fahrenheit(cell: str) -> str:
    return cell and str(Decimal(cell) * 9 / 5 + 32)


def both(content, held):
    """What the program and the slow way say: the word and, of each criterion, verdict and measured value."""
    try:
        slow = oracle.judged(*oracle.read(content), held)
    except oracle.Bad as bad:
        slow = ("refused", bad.args[0])
    try:
        fast = judge(read_cycle(content), held)
    except NotInForm as refused:
        line = refused.line if slow[0] != "refused" or slow[1] is not None else None
        return ("refused", line), slow
    found = {c.id: (c.verdict, c.measured) for c in fast.criteria}
    if slow[0] != "refused":
        _alike(found, slow[1], "theory-difference")
    return (fast.verdict, found), slow


def _alike(found, slow, id):
    """A difference to theory is worked out in floats where that decides nothing: take it as equal to 2e-9 K."""
    (verdict, measured), (_, exact) = found[id], slow[id]
    if None not in (measured, exact) and abs(measured - exact) < Fraction(2, 10**9):
        found[id] = (verdict, exact)


@LAWS
@given(cycles(), profiles)
def test_the_slow_way_says_the_same(content, held):
    fast, slow = both(content, held)
    assert fast == slow


@LAWS
@given(cycles(), profiles)
def test_every_number_of_a_criterion_hangs_together(content, held):
    try:
        judged = judge(read_cycle(content), held)
    except NotInForm:
        return
    for c in judged.criteria:
        if c.verdict == "met":
            assert c.measured is not None and c.margin >= 0
        if c.verdict == "not met":
            assert c.margin < 0
        assert (c.margin is None) == (c.limit is None or c.measured is None)
        assert c.limit is not None or c.verdict == "not judged"
    told = [p for p in judged.problems if p.words.startswith("The log is incomplete: ")]
    assert told or judged.verdict != "incomplete"
    if judged.verdict == "met":
        assert {c.verdict for c in judged.criteria} <= {"met", "not judged"}


@settings(max_examples=examples(15), deadline=None)
@given(st.lists(st.tuples(st.integers(1, 9), st.integers(-30, 160)), min_size=1, max_size=8))
def test_f0_is_the_fine_sum(points):
    body, t = [], 0
    for step, celsius in points:
        t += step
        body.append([str(t), str(celsius)])
    content = file(body, names="t_s,temperature_c")
    judged = judge(read_cycle(content), load_profile("holding-134"))
    slow = oracle.f0(oracle.read(content)[0], 1)
    assert judged.f0 == pytest.approx(slow, rel=3e-3, abs=1e-12)


# ------------------------------------------------------------------------------------------------ damaged files

_ROWS = rows(hold=185, dt=5, up=20, down=20)
GOOD = file(_ROWS)
_COMMAS = [
    [c.replace(".", ",") for c in (t, _fahrenheit(a), f"{(float(p) - 101.325) / 100:.5f}", b)] for t, a, p, b in _ROWS
]
# Of each seed one: plain; moments; °F, bar on the gauge and decimal commas; one sensor and tabs.
BASES = (
    GOOD,
    file(
        [[_moment(float(row[0]), "-05:00", ""), *row[1:]] for row in _ROWS], names="time," + NAMES.partition(",")[2]
    ),
    file(_COMMAS, names="t_s,temperature_f,pressure_bar_gauge,temperature_2_c", sep=";", end="\r\n"),
    file([row[:3] for row in _ROWS], names="t_s,temperature_c,pressure_kpa_abs", sep="\t"),
)
KINDS = (0, 1, 2, 3, 3, 3, 4, 5, 6, 7, 8, 8, 8, 8)
MARKS = [
    b",",
    b";",
    b".",
    b"-",
    b"#",
    b"\n",
    b"\r",
    b"\t",
    b" ",
    b"0",
    b"9",
    b"e",
    b"\xff",
    b"\x00",
    b"\xc3\xa9",
    b"nan",
]

CELLS = [
    b"",
    b"",
    b"",
    b"134.0",
    b"273,2",
    b"2026-12-31T23:59:59Z",
    b"137.01",
    b"1e2",
    b" 135.0 ",
    b"1 000",
    b"inf",
    b"nan",
    b"-3",
]


def damaged(seed: int) -> bytes:
    """A good file with one to three faults: bytes changed, dropped, put in, lines doubled, swapped, cut."""
    draw = random.Random(seed)
    content = BASES[seed % len(BASES)]
    for _ in range(draw.randint(1, 3)):
        at = draw.randrange(len(content))
        kind = draw.choice(KINDS)
        lines = content.splitlines(keepends=True)
        n = draw.randrange(len(lines))
        if kind == 0:
            content = content[:at] + draw.choice(MARKS) + content[at + 1 :]
        elif kind == 1:
            content = content[:at] + content[at + draw.randint(1, 4) :]
        elif kind == 2:
            content = content[:at] + draw.choice(MARKS) + content[at:]
        elif kind == 3:
            content = b"".join([*lines[:n], *lines[n + draw.randint(1, 6) :]])
        elif kind == 4:
            content = b"".join([*lines[: n + 1], *lines[n:]])
        elif kind == 5:
            other = draw.randrange(len(lines))
            lines[n], lines[other] = lines[other], lines[n]
            content = b"".join(lines)
        elif kind == 6:
            content = content[: at + 1]
        elif kind == 8:  # one digit of a row becomes another
            digits = [m.start() for m in re.finditer(rb"[0-9]", content) if m.start() > 120]
            at = draw.choice(digits or [at])
            content = content[:at] + draw.choice([b"0", b"3", b"5", b"9"]) + content[at + 1 :]
        else:
            cells = lines[n].split(b",")
            cells[draw.randrange(len(cells))] = draw.choice(
                [b"", b"134.0", b"1e2", b" 135.0 ", b"1 000", b"inf", b"-3"]
            )
            lines[n] = (
                b",".join(cells) if lines[n].endswith(b"\n") and b"\n" in cells[-1] else b",".join(cells) + b"\n"
            )
            content = b"".join(lines)
        if not content:
            return b"\n"
    return content


def test_damaged_files_are_refused_or_judged_as_the_slow_way_does():
    """Never a fault of the program, never another word than the rules give, and the first line at fault is named.

    A few hundred files in an ordinary run, ten thousand in a deep one.
    """
    held = load_profile("holding-134")
    assert [judge(read_cycle(base), held).verdict for base in BASES] == ["met"] * len(BASES)
    words = {}
    for seed in range(examples(500)):
        fast, slow = both(damaged(seed), held)
        assert fast == slow, seed
        words[fast[0]] = words.get(fast[0], 0) + 1
    assert words["refused"] > 20 and words["met"] > 10 and words["not met"] > 10 and words["incomplete"] > 0, words


@LAWS
@given(cycles(), profiles, profiles)
def test_stricter_rules_never_help(content, held, own):
    """Of two profiles together no cycle is met that is not met under each."""
    try:
        cycle = read_cycle(content)
    except NotInForm:
        return
    if judge(cycle, stricter(held, own)).verdict == "met":
        assert judge(cycle, held).verdict == judge(cycle, own).verdict == "met"
