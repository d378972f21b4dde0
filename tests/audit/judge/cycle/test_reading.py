"""What a file may look like and what refuses it whole, each with the line that is named."""

from __future__ import annotations

from fractions import Fraction

import pytest

from audit.judge.cycle import NotInForm, judge, judged_file, load_profile, read_cycle
from audit.judge.cycle.moments import fraction_of, plain_moments
from tests.audit.judge.cycle.logs import HEAD, NAMES, file, rows, text
from tests.examples import examples

ROWS = rows()
GOOD = text(ROWS)
FIRST_ROW = len(HEAD) + 2
LAST_ROW = FIRST_ROW + len(ROWS) - 1
PROFILE = load_profile("holding-134")
PSI = Fraction("6.894757293168")


def line_with(number: int, change) -> str:
    """The good file with one line changed; lines count from 1."""
    lines = GOOD.split("\n")
    lines[number - 1] = change(lines[number - 1])
    return "\n".join(lines)


def head(*lines: str) -> str:
    return text(ROWS, head=lines)


def cell(value: str, place=1, row=10):
    return line_with(FIRST_ROW + row, lambda line: ",".join(_with(line.split(","), place, value)))


def _with(cells, place, value):
    cells[place] = value
    return cells


def names(changed: str, cells=None):
    return text(ROWS if cells is None else [[*row, *cells] for row in ROWS], names=changed)


def replaced(word: str, by: str) -> str:
    assert word in GOOD
    return GOOD.replace(word, by, 1)


def timed(*moments: str) -> str:
    return text([[m, "130"] for m in moments], names="time,temperature_c")


# what: (the file as text or bytes, the line that is named, a word of what is said)
REFUSED = {
    "nothing": ("", 1, "first line"),
    "a blank line first": ("\n" + GOOD, 1, "first line"),
    "no first line": (GOOD.removeprefix("# cycle 1\n"), 1, "first line"),
    "another version": (replaced("# cycle 1", "# cycle 2"), 1, "first line"),
    "a version that begins alike": (replaced("# cycle 1", "# cycle 10"), 1, "first line"),
    "two byte-order marks": ("\ufeff\ufeff" + GOOD, 1, "first line"),
    "a byte that is not UTF-8": (GOOD.encode().replace(b"INVENTED", b"\xfcber"), 2, "UTF-8"),
    "such a byte in a row": (cell("X").encode().replace(b"X", b"\xff"), FIRST_ROW + 10, "UTF-8"),
    "UTF-16": (GOOD.encode("utf-16"), 1, "UTF-8"),
    "a line of the head without a colon": (head(*HEAD, "# invented"), 5, "key: value"),
    "a line of the head without a key": (head(*HEAD, "# : 5"), 5, "key: value"),
    "a doubled key": (head(*HEAD, "# serial: INVENTED-2"), 5, "twice"),
    "a doubled key that nobody knows": (head(*HEAD, "# mood: a", "# mood: a"), 6, "twice"),
    "an ambient pressure that is no number": (replaced("101.325", "normal"), 4, "no number"),
    "an empty ambient pressure": (replaced(" 101.325", ""), 4, "no number"),
    "a decimal comma of the ambient pressure beside commas": (replaced("101.325", "101,325"), 4, "no number"),
    "an ambient pressure of zero": (replaced("101.325", "0.0"), 4, "above zero"),
    "a cycle that is not whole": (replaced("# cycle: 7", "# cycle: 7.0"), 3, "whole number"),
    "a cycle in letters": (replaced("# cycle: 7", "# cycle: 7a"), 3, "whole number"),
    "an empty cycle": (replaced("# cycle: 7", "# cycle:"), 3, "whole number"),
    "started without a zone": (head(*HEAD, "# started: 2026-06-09T08:12:00"), 5, "zone"),
    "started that is a day": (head(*HEAD, "# started: 2026-06-09"), 5, "ISO 8601"),
    "started on no day": (head(*HEAD, "# started: 2026-02-30T08:12:00Z"), 5, "there is"),
    "no column names": ("# cycle 1\n# serial: X\n", 0, "column names"),
    "an empty line before the column names": (head(*HEAD, ""), 5, "time"),
    "no column of time": (names(NAMES.replace("t_s", "seconds")), 5, "time"),
    "two columns of time": (names(NAMES + ",time", ["2026-06-09T08:12:00Z"]), 5, "side by side"),
    "no reference": (names(NAMES.replace("temperature_c", "temperature_3_c")), 5, "reference"),
    "no reference and no rows": ("# cycle 1\nt_s,temperature_2_c\n", 2, "reference"),
    "a doubled column": (names(NAMES + ",temperature_2_c", ["1"]), 5, "twice"),
    "a doubled column that nobody knows": (names(NAMES + ",door,door", ["1", "1"]), 5, "twice"),
    "the reference in two units": (names(NAMES + ",temperature_f", ["273.2"]), 5, "side by side"),
    "a sensor in two units": (names(NAMES + ",temperature_2_f", ["273.2"]), 5, "side by side"),
    "two columns of pressure": (names(NAMES + ",pressure_bar_abs", ["1"]), 5, "at most one"),
    "names in another case": (names(NAMES.replace("temperature_c", "Temperature_C")), 5, "reference"),
    "a header without rows": (text([]), 5, "no rows"),
    "a header without rows but empty lines": (text([]) + "\n \n", 5, "no rows"),
    "a header without its line end": (text([]).rstrip("\n"), 5, "ends within a row"),
    "a first line without its line end": ("# cycle 1", 1, "ends within a row"),
    "a last row without its line end": (GOOD.rstrip("\n"), LAST_ROW, "ends within a row"),
    "a last row cut within a number": (GOOD[:-3], LAST_ROW, "ends within a row"),
    "blanks after the last line end": (GOOD + "  ", LAST_ROW + 1, "ends within a row"),
    "an only row without its line end": (text(ROWS[:1]).rstrip("\n"), FIRST_ROW, "ends within a row"),
    "a fault before a cut": (cell("x").rstrip("\n"), FIRST_ROW + 10, "no number"),
    "a row too short": (line_with(FIRST_ROW + 4, lambda s: s.rpartition(",")[0]), FIRST_ROW + 4, "too short: 3"),
    "a row too long": (line_with(FIRST_ROW + 4, lambda s: s + ",1"), FIRST_ROW + 4, "too long: 5"),
    "an empty line between rows": (line_with(FIRST_ROW + 4, lambda s: s + "\n"), FIRST_ROW + 5, "empty line"),
    "a note between rows": (line_with(FIRST_ROW + 4, lambda s: "# door opened\n" + s), FIRST_ROW + 4, "#"),
    "a note after the rows": (GOOD + "# end\n", LAST_ROW + 1, "#"),
    "text in a cell": (cell("high"), FIRST_ROW + 10, "no number"),
    "nan": (cell("nan"), FIRST_ROW + 10, "no number"),
    "inf": (cell("-inf"), FIRST_ROW + 10, "no number"),
    "a power of ten": (cell("1.35e2"), FIRST_ROW + 10, "no number"),
    "a thousands blank": (cell("1 013.25", place=2), FIRST_ROW + 10, "no number"),
    "a thousands underscore": (cell("1_013.25", place=2), FIRST_ROW + 10, "no number"),
    "a mark before the digits": (cell(".5"), FIRST_ROW + 10, "no number"),
    "a mark after the digits": (cell("135."), FIRST_ROW + 10, "no number"),
    "two marks": (cell("1.013.25"), FIRST_ROW + 10, "no number"),
    "a sign alone": (cell("-"), FIRST_ROW + 10, "no number"),
    "two signs": (cell("--5"), FIRST_ROW + 10, "no number"),
    "digits of another script": (cell("١٣٥"), FIRST_ROW + 10, "no number"),
    "a minus that is a dash": (cell("−5"), FIRST_ROW + 10, "no number"),
    "quotes": (cell('"135"'), FIRST_ROW + 10, "no number"),
    "a blank that is none": (cell("\u00a0135"), FIRST_ROW + 10, "no number"),
    "a NUL": (cell("135\x00"), FIRST_ROW + 10, "no number"),
    "a form feed": (cell("135\x0c"), FIRST_ROW + 10, "no number"),
    "a line end that only Unicode knows": (cell("135\u2028"), FIRST_ROW + 10, "no number"),
    "a number of a thousand digits": (cell("1" + "0" * 1000), FIRST_ROW + 10, "no reading"),
    "a semicolon among commas": (cell("135;0"), FIRST_ROW + 10, "no number"),
    "a row without a time": (cell("", place=0), FIRST_ROW + 10, "no time"),
    "a time that stands twice": (cell("9", place=0), FIRST_ROW + 10, "times only grow"),
    "a time that goes back": (cell("8.5", place=0), FIRST_ROW + 10, "times only grow"),
    "a time that stands twice in other digits": (cell("9.0000000", place=0), FIRST_ROW + 10, "times only grow"),
    "a vacuum of nothing": (cell("0", place=2), FIRST_ROW + 10, "zero absolute"),
    "a pressure under zero": (cell("-2.5", place=2), FIRST_ROW + 10, "zero absolute"),
    "a pressure of no more than zero in many digits": (
        cell("-0.00000000000000000001", place=2), FIRST_ROW + 10, "zero absolute"),
    "two rows at fault, the first is named": (
        cell("nan", row=3).replace("20,123", "20,x", 1), FIRST_ROW + 3, "no number"),
    "a gauge that falls to nothing": (
        text([["0", "24", "0"], ["1", "24", "-101.325"]], names="t_s,temperature_c,pressure_kpa_gauge"), 7, "zero"),
    "a gauge of psi that falls under nothing": (
        text([["0", "24", "0"], ["1", "24", "-14.7"]], names="t_s,temperature_c,pressure_psi_gauge"), 7, "zero"),
    "a time without a zone": (timed("2026-06-09T08:12:00Z", "2026-06-09T08:12:01"), 7, "zone"),
    "a time without its day": (timed("08:12:00Z"), 6, "ISO 8601"),
    "a time with a blank for the T": (timed("2026-06-09 08:12:00Z"), 6, "ISO 8601"),
    "the same moment in another zone": (
        timed("2026-06-09T08:12:00-05:00", "2026-06-09T13:12:00Z"), 7, "only grow"),
    "an earlier moment that reads later": (
        timed("2026-06-09T08:12:00-05:00", "2026-06-09T12:00:00Z"), 7, "only grow"),
    "a time with marks in its day alone": (timed("2026-06-09T081200Z"), 6, "write both"),
    "a time that lost one of its marks": (timed("2026-06-09T08:1200Z"), 6, "ISO 8601"),
    "a day that lost one of its marks": (timed("2026-0609T08:12:00Z"), 6, "ISO 8601"),
    "decimals of minutes": (timed("2026-06-09T08:12.5Z"), 6, "write the seconds"),
    "a leap second": (timed("2026-06-30T23:59:60Z"), 6, "there is"),
    "hour 24": (timed("2026-06-30T24:00:00Z"), 6, "there is"),
    "a clock put forward an hour, which is earlier": (
        timed("2026-06-09T08:12:00-05:00", "2026-06-09T08:12:01-04:00"), 7, "only grow"),
    "a time of no day": (timed("2026-06-31T08:12:00Z"), 6, "there is"),
    "an offset that there is not": (timed("2026-06-09T08:12:00+25:00"), 6, "offset"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused_whole_with_the_line(name):
    content, line, word = REFUSED[name]
    with pytest.raises(NotInForm) as refused:
        read_cycle(content.encode() if isinstance(content, str) else content)
    assert refused.value.line == line and word in refused.value.words


F0 = ("f0_min", "f0_least_min")
WORD = judged_file(GOOD.encode(), "holding-134").as_json()
DECIMAL_COMMA = text([[c.replace(".", ",") for c in row] for row in ROWS], sep=";")
SAME = {
    "a byte-order mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "CR LF": text(ROWS, end="\r\n").encode(),
    "CR": text(ROWS, end="\r").encode(),
    "mixed line ends": "".join(s + ("\n", "\r\n", "\r")[n % 3] for n, s in enumerate(GOOD.splitlines())).encode(),
    "semicolons": text(ROWS, sep=";").encode(),
    "tabs": text(ROWS, sep="\t").encode(),
    "tabs and decimal commas": text([[c.replace(".", ",") for c in row] for row in ROWS], sep="\t").encode(),
    "semicolons and decimal commas": DECIMAL_COMMA.encode(),
    "with a comma in the head too": DECIMAL_COMMA.replace("101.325", "101,325").encode(),
    "blanks around cells and names": text(
        [[f" {c}\t" for c in row] for row in ROWS], names=NAMES.replace(",", " ,\t")
    ).encode(),
    "empty lines at the end": (GOOD + "\n \n\t\n").encode(),
    "signs and zeros": text([[f"+{c}", f"+00{a}0", f"+{b}", d] for c, a, b, d in ROWS]).encode(),
    "many digits": text([[c, a + "0" * 30, b + "0" * 60, d] for c, a, b, d in ROWS]).encode(),
    "a head without blanks": GOOD.replace("# serial: ", "#serial:").encode(),
    "keys that nobody knows": head(*HEAD, "# mood: fair: very", "# Cycle: x").encode(),
    "columns in another order": text([row[::-1] for row in ROWS], names=",".join(NAMES.split(",")[::-1])).encode(),
}


@pytest.mark.parametrize("name", SAME)
def test_read_as_the_plain_file(name):
    said = judged_file(SAME[name], "holding-134").as_json()
    assert [said.pop(key) for key in F0] == pytest.approx([WORD[key] for key in F0], rel=1e-12)
    assert said == {key: value for key, value in WORD.items() if key not in F0}


@pytest.mark.parametrize(
    ("name", "per"),
    [("kpa_abs", 1), ("bar_abs", 100), ("mbar_abs", Fraction(1, 10)), ("psi_abs", PSI),
     ("kpa_gauge", 1), ("bar_gauge", 100), ("mbar_gauge", Fraction(1, 10)), ("psi_gauge", PSI)],
)  # fmt: skip
def test_every_unit_of_pressure(name, per):
    gauge = name.endswith("gauge")
    read = read_cycle(file([["0", "100", "1.5"], ["1", "100", "0.25"]], names=f"t_s,temperature_c,pressure_{name}"))
    more = Fraction("101.325") if gauge else 0
    assert [read.pressure.kpa(n) for n in (0, 1)] == [Fraction(3, 2) * per + more, Fraction(1, 4) * per + more]
    assert read.pressure.floats(slice(None)) == pytest.approx([float(read.pressure.kpa(n)) for n in (0, 1)])


def test_fahrenheit_is_exact():
    """273.2 °F is 134 °C, on the band's edge; beside a sensor in °C all have one scale."""
    body = [["0", "100", "50"], ["1", "273.2", "134"], ["2", "273.19999", "134"], ["3", "278.6", "137"]]
    read = read_cycle(file(body, names="t_s,temperature_f,temperature_2_c"))
    first, second = read.temperatures
    assert (first.at(1), first.at(3), second.at(1)) == (134, 137, 134) and first.at(2) < 134
    assert first.scale == second.scale


def test_moments_are_exact_and_told_since_the_first_row():
    read = read_cycle(
        timed("2026-06-09T08:12:00.0000001-05:00", "2026-06-09T13:12:01.5Z", "20260609T131202.25+0000").encode()
    )
    assert [read.moment(n) for n in range(3)] == [0, Fraction(3, 2) - Fraction(1, 10**7), Fraction("2.2499999")]


@pytest.mark.parametrize(
    "form", ["2026-02-28T23:59:{:02d}Z", "2024-02-29T23:59:{:02d}.250+05:30", "0999-01-01T00:00:{:02d}Z"]
)
def test_moments_at_once_are_those_one_by_one(form):
    cells = [form.format(n) for n in range(0, 60, 7)]
    at_once = plain_moments(cells)
    assert (at_once is None) == form.startswith("0")
    if at_once is not None:
        assert [Fraction(int(v), 10**6) for v in at_once] == [fraction_of(cell) for cell in cells]


@pytest.mark.parametrize(
    "odd",
    ["2026-02-30T00:00:00Z", "2026-02-28T24:00:00Z", "2026-02-28T23:59:60Z", "2026-02-28T23:59:59+01:00", "", "NaT",
     "2026-02-28T23:59:59.0Z", "2026-02-28 23:59:59Z"],
)  # fmt: skip
def test_moments_that_are_out_of_the_ordinary_go_one_by_one(odd):
    assert plain_moments(["2026-02-28T23:59:58Z", odd]) is None and plain_moments([odd, odd + "x"]) is None


def test_times_from_any_start_are_told_as_they_stand():
    judged = judged_file(file(rows(start=-500)), "holding-134")
    assert judged.verdict == "met"
    assert {c.id: c.as_json()["at_s"] for c in judged.criteria}["holding-time"] == -435


def test_what_is_said_of_a_file_that_can_be_read():
    cases = {
        names(NAMES + ",door", ["shut, 1e5".split(",")[0]]): [(5, "“door” is not known")],
        names(NAMES + ",", ["x"]): [(5, "without a name")],
        names(NAMES.replace("kpa_abs", "mpa_abs")): [(5, "pressure_mpa_abs"), (0, "no pressure")],
        names(NAMES.replace("kpa_abs", "kpa_gauge")).replace("# ambient_kpa: 101.325\n", ""): [(0, "is assumed")],
        text([[*row[:3], ""] for row in ROWS]): [(5, "no value at all")],
        text(ROWS[:30]): [(0, "incomplete")],
    }
    for content, expected in cases.items():
        told = judged_file(content.encode(), "holding-134").problems
        assert len(told) >= len(expected)
        for line, word in expected:
            assert [p for p in told if p.line == line and word in p.words], told
    assert judged_file(GOOD.encode(), "holding-134").problems == ()


@pytest.mark.parametrize(
    ("started", "said"),
    [("2026-06-09T08:12:00-05:00", ""), ("2026-06-09T08:12:30-05:00", ""), ("2026-06-09T08:12:00Z", "another zone"),
     ("2026-06-09T14:12:10+01:00", ""), ("2026-06-09T09:00:00-05:00", "which of the two")],
)  # fmt: skip
def test_a_clock_in_another_zone_is_asked_about(started, said):
    content = text([["2026-06-09T08:12:00-05:00", "130"]], names="time,temperature_c", head=(*HEAD[:2], ""))
    content = content.replace("\n\n", f"\n# started: {started}\n")
    told = [p.words for p in judge(read_cycle(content.encode()), PROFILE).problems if "started" in p.words]
    assert bool(told) == bool(said) and all(said in words for words in told)


def test_a_long_file_is_read_whole():
    """Of some 16 MB in a deep run. As ordinary numbers at once, and the same row by row where one cell is odd."""
    count = examples(20_000)
    lines = [f"{n},135.125000,313.250000,134.875000\n" for n in range(count)]
    content = text([]) + "".join(lines)
    read = read_cycle(content.encode())
    assert len(read.time.values) == count and read.pressure.kpa(count - 1) == Fraction("313.25")
    odd = read_cycle(content.replace("135.125000", "135.12500000000000000", 1).encode())
    assert judge(odd, PROFILE) == judge(read, PROFILE)


def test_what_is_larger_than_any_cycle_is_refused(monkeypatch):
    monkeypatch.setattr("audit.judge.cycle.reading.LARGEST", 1000)
    with pytest.raises(NotInForm, match="one file holds one cycle"):
        read_cycle(GOOD.encode())
