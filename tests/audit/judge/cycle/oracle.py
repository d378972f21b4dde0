"""A second, slow and simple way to read and judge a recorded cycle: from the text, by fractions, row by row.

It shares nothing with the program but the profile's numbers and the formula of saturated steam at one pressure.
"""

from __future__ import annotations

import re
from datetime import datetime
from fractions import Fraction
from math import exp, log

from audit.judge.cycle.profile import Profile
from audit.judge.cycle.steam import t_sat_exactly

PER = {"kpa": Fraction(1), "bar": Fraction(100), "mbar": Fraction(1, 10), "psi": Fraction("6.894757293168")}
KNOWN = re.compile(r"t_s|time|temperature(_([2-9]|1[012]))?_[cf]|pressure_(kpa|bar|mbar|psi)_(abs|gauge)", re.ASCII)


class Bad(Exception):
    """Not in the form."""


def need(true, line):
    if not true:
        raise Bad(line)


def fraction(cell, comma, line):
    need(re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)?" if comma else r"[+-]?[0-9]+(\.[0-9]+)?", cell), line)
    return Fraction(cell.replace(",", "."))


DAYS = {"%Y-%m-%d": r"\d{4}-\d\d-\d\d", "%Y%m%d": r"\d{8}"}
TIMES = {
    "%Y-%m-%d": {"%H:%M:%S": r"\d\d:\d\d:\d\d", "%H:%M": r"\d\d:\d\d", "%H": r"\d\d"},
    "%Y%m%d": {"%H%M%S": r"\d{6}", "%H%M": r"\d{4}", "%H": r"\d\d"},
}


def moment(cell, line):
    """Seconds since some day: each form that there is, one after the other."""
    for day, day_form in DAYS.items():
        for clock, form in TIMES[day].items():
            part = r"(?:[.,](\d{1,60}))?" if "%S" in clock else "()"
            found = re.fullmatch(rf"({day_form})T({form}){part}(Z|[+-]\d\d(?::?[0-5]\d)?)", cell, re.ASCII)
            if found:
                zone = found[4].replace("Z", "+00:00").replace(":", "").ljust(5, "0")
                need(int(zone[1:3]) < 24 and found[2][-2:] < "60", line)
                try:
                    at = datetime.strptime(found[1] + found[2] + zone, day + clock + "%z")  # noqa: DTZ007
                except ValueError:
                    raise Bad(line) from None
                whole = (at - datetime.fromisoformat("2000-01-01T00:00:00Z")).total_seconds()
                return Fraction(whole) + (Fraction("0." + found[3]) if found[3] else 0)
    raise Bad(line)


def read(content: bytes):
    """Rows as dicts by column (time, 1…12, p), and the ambient pressure or None. Raises Bad with a line."""
    if content.startswith(b"\xef\xbb\xbf"):
        content = content[3:]
    try:
        whole = content.decode()
    except UnicodeDecodeError:
        raise Bad(None) from None
    lines = re.split("\r\n|\r|\n", whole)
    need(lines[0] == "# cycle 1", 1)
    n = 1
    head = {}
    while n < len(lines) - 1 and lines[n].startswith("#"):
        key, colon, value = lines[n][1:].partition(":")
        key, value = key.strip(" \t"), value.strip(" \t")
        need(colon and key and key not in head, n + 1)
        head[key] = (value, n + 1)
        n += 1
    need(n < len(lines) - 1, None)
    sep = next((s for s in ",;\t" if {"t_s", "time"} & {c.strip(" \t") for c in lines[n].split(s)}), ",")
    if "ambient_kpa" in head:
        need(fraction(head["ambient_kpa"][0], sep != ",", head["ambient_kpa"][1]) > 0, head["ambient_kpa"][1])
    if "cycle" in head:
        need(re.fullmatch("[+-]?[0-9]+", head["cycle"][0]), head["cycle"][1])
    if "started" in head:
        moment(head["started"][0], head["started"][1])
    ambient = fraction(head["ambient_kpa"][0], True, 0) if "ambient_kpa" in head else None
    names = [c.strip(" \t") for c in lines[n].split(sep)]
    known = [c for c in names if KNOWN.fullmatch(c)]
    need(len(set(names)) == len(names) and len({"t_s", "time"} & set(names)) == 1, n + 1)
    need(sum(c.startswith("pressure") for c in known) <= 1, n + 1)
    sensors = [c[:-2] for c in known if c.startswith("temperature")]
    need(len(set(sensors)) == len(sensors) and "temperature" in sensors, n + 1)
    body = lines[n + 1 : -1]
    while body and not body[-1].strip(" " if sep == "\t" else " \t"):
        body.pop()
    need(body or lines[-1], n + 1)
    rows = []
    for line, text in enumerate(body, n + 2):
        cells = [c.strip(" \t") for c in text.split(sep)]
        need(not text.startswith("#") and len(cells) == len(names), line)
        row = {}
        for name, cell in zip(names, cells, strict=True):
            if name not in known or cell == "":
                continue
            value = moment(cell, line) if name == "time" else fraction(cell, sep != ",", line)
            if name.startswith("temperature"):
                key = int(re.sub(r"\D", "", name) or 1)
                row[key] = (value - 32) * 5 / 9 if name.endswith("_f") else value
            elif name.startswith("pressure"):
                _, unit, kind = name.split("_")
                row["p"] = value * PER[unit] + ((ambient or Fraction("101.325")) if kind == "gauge" else 0)
                need(row["p"] > 0, line)
            else:
                row["t"] = value
        need("t" in row and (not rows or row["t"] > rows[-1]["t"]), line)
        rows.append(row)
    need(lines[-1] == "", len(lines))
    keys = sorted(int(re.sub(r"\D", "", c) or 1) for c in sensors)
    gauge = any(c.endswith("gauge") for c in known)
    if "time" in names:
        begin = rows[0]["t"]
        for row in rows:
            row["t"] -= begin
    return rows, keys, any(c.startswith("pressure") for c in known), ambient, gauge


def stretches(rows, keys, low, high):
    """Every unbroken stretch as a list of row numbers, good rows at both ends."""
    found, run = [], []
    for n, row in enumerate(rows):
        values = [row[k] for k in keys if k in row]
        if any(not low <= v <= high for v in values):
            found.append(run)
            run = []
        elif len(values) == len(keys):
            run.append(n)
    return [r for r in [*found, run] if r]


def longest(rows, runs):
    best = None
    for run in runs:
        if best is None or rows[run[-1]]["t"] - rows[run[0]]["t"] > rows[best[-1]]["t"] - rows[best[0]]["t"]:
            best = run
    return best


def limited(profile, id, measured, good="most", failed="not met"):
    limit = profile.limit(id)
    if limit is None:
        return "not judged", measured
    fits = measured >= limit if good == "least" else abs(measured) <= limit
    return ("met" if fits else failed), measured


def judged(rows, keys, pressure, ambient, gauge, profile: Profile):
    """The whole word, and verdict and measured value of each criterion."""
    low, high = profile.low, profile.high
    out = {}
    hold = longest(rows, stretches(rows, keys, low, high))
    plateaus = stretches(rows, [1], low, high)
    plateau = longest(rows, plateaus)
    reference = [(n, row[1]) for n, row in enumerate(rows) if 1 in row]
    whole = bool(reference)
    if hold is None:
        greatest = max((v for _, v in reference), default=0)
        whole = whole and reference[-1][1] < low and greatest - reference[-1][1] >= 3
    else:
        whole = reference[0][1] < low and any(v < low for n, v in reference if n > hold[-1])
    failed = "not met" if whole else "incomplete"
    for id, run in (("holding-time", hold), ("plateau-time", plateau)):
        length = rows[run[-1]]["t"] - rows[run[0]]["t"] if run else Fraction(0)
        out[id] = limited(profile, id, length, "least", failed)
    inside = [n for n, v in reference if low <= v <= high]
    none = ("not judged", None)
    together = [n for n, row in enumerate(rows) if all(k in row and low <= row[k] <= high for k in keys)]
    out["equilibration"] = none
    if len(keys) > 1 and together:
        out["equilibration"] = limited(profile, "equilibration", rows[together[0]]["t"] - rows[inside[0]]["t"])
    out["band-high"] = none
    if inside:
        top = max(row[k] for row in rows[inside[0] : inside[-1] + 1] for k in keys if k in row)
        out["band-high"] = ("met" if top <= high else "not met", top)
    for id in ("band-low", "spread", "theory-difference", "sampling", "drying"):
        out[id] = none
    has_pressure = pressure and any("p" in row for row in rows)
    if hold:
        held = rows[hold[0] : hold[-1] + 1]
        out["band-low"] = ("not judged", min(row[k] for row in held for k in keys if k in row))
        if len(keys) > 1:
            values = [[row[k] for k in keys if k in row] for row in held]
            out["spread"] = limited(profile, "spread", max(max(v) - min(v) for v in values if v))
        begin = next(run[0] for run in plateaus if run[0] <= hold[0] <= run[-1])
        gaps = []
        for key in [*keys, *(["p"] if pressure else [])]:
            times = [row["t"] for row in rows[begin : hold[-1] + 1] if key in row]
            gaps += [b - a for a, b in zip(times, times[1:], strict=False)]
        if gaps:
            out["sampling"] = limited(profile, "sampling", max(gaps), "most", "cannot be judged")
        under = [n for n, v in reference if v < low and n > hold[-1]]
        if under:
            out["drying"] = limited(
                profile, "drying", rows[under[-1]]["t"] - rows[hold[-1]]["t"], "least", "incomplete"
            )
        elif profile.limit("drying") is not None:
            out["drying"] = ("incomplete", None)
        if has_pressure:
            out["theory-difference"] = theory(held, profile, gauge and ambient is None)
    out["air-removal"] = pulses(rows, reference, ambient, profile, failed)
    return whole_word(out, whole, profile, keys, has_pressure), out


def theory(held, profile, assumed):
    both = [n for n, row in enumerate(held) if 1 in row and "p" in row]
    found = [(held[n]["t"], held[n][1] - t_sat_exactly(held[n]["p"])) for n in both]
    if not found:
        return ("cannot be judged" if profile.pressure_asked else "not judged"), None
    worst = max((d for _, d in found), key=abs)
    said = limited(profile, "theory-difference", worst, "most", "cannot be judged" if assumed else "not met")
    times = [held[0]["t"], *(t for t, _ in found), held[-1]["t"]]
    places = [-1, *both, len(held)]
    lost = max((times[i + 1] - times[i] for i in range(len(times) - 1) if places[i + 1] - places[i] > 1), default=0)
    if said[0] == "met" and profile.pressure_asked and lost > (profile.limit("sampling") or lost):
        return "cannot be judged", worst
    return said


def pulses(rows, reference, ambient, profile, failed):
    ambient = ambient or Fraction("101.325")
    end = next((n for n, v in reference if v >= profile.low), len(rows))
    values = [row["p"] for row in rows[:end] if "p" in row]
    if not values:
        return ("not judged" if profile.limit("air-removal") is None else "cannot be judged"), None
    count, deep = 0, False
    for value in values:
        if value <= ambient - 30:
            deep = True
        elif value >= ambient and deep:
            count, deep = count + 1, False
    return limited(profile, "air-removal", Fraction(count), "least", failed)


def whole_word(out, whole, profile, keys, has_pressure):
    verdicts = {verdict for verdict, _ in out.values()}
    if "not met" in verdicts:
        return "not met"
    if not whole or "incomplete" in verdicts:
        return "incomplete"
    if "cannot be judged" in verdicts or len(keys) < profile.sensors_least:
        return "cannot be judged"
    return "cannot be judged" if profile.pressure_asked and not has_pressure else "met"


def f0(rows, key):
    """F0 in minutes by a fine sum over each straight piece: 400 parts a step, in the middle of each."""
    points = [(float(row["t"]), float(row[key])) for row in rows if key in row]
    total = 0.0
    for (t0, c0), (t1, c1) in zip(points, points[1:], strict=False):
        parts = 400
        for n in range(parts):
            celsius = c0 + (c1 - c0) * (n + 0.5) / parts
            total += exp((celsius - 121.1) / 10 * log(10)) * (t1 - t0) / parts
    return total / 60
