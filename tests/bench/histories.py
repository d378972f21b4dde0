"""Long histories built in memory, for benchmarks: plain, regular, invented. In order, as `gather` gives them."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from audit import facts as f
from tests.fact_builders import MADE_SAFE

LAST = date(2026, 6, 15)
LOT = f.LotFact("lot", "biological", "invented", "L1", date(2040, 1, 1), 24, Decimal("55"), Decimal("60"))
WORDS = ("invented plan", "1", "", "A")


class Log:
    """Makes rows with rising ledger numbers."""

    def __init__(self, name: str):
        self.name, self.number = name, 0

    def row(self, day: date, hour: int = 8) -> f.Row:
        self.number += 1
        at = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
        ref = f"{self.name}-{self.number}"
        return f.Row(ref, ref, self.number, 0, day, at, at)


def _reading(log: Log, day: date, grown: bool) -> f.BioReadingFact:
    test = "growth" if grown else "no growth"
    return f.BioReadingFact(log.row(day, 9), test, "growth", day, None, Decimal(24), Decimal(57), "A. Reader", "")


def _spore_test(log: Log, day: date, grown: bool, purpose: str) -> f.BioTestFact:
    row = log.row(day)
    readings = f.in_order([_reading(log, day + timedelta(days=1), grown)])
    what = ("", "wrapped", "full", purpose, "clinic", LOT, LOT, False, "pass", "pass", "A. Runner")
    return f.BioTestFact(row, *what, readings)


def _job(log: Log, day: date) -> f.JobFact:
    row = log.row(day)
    done = f.OutcomeFact(log.row(day), "replace-seal", "pos", "replace", "done", "", "", None, "", "")
    part = f.PartFact(
        log.row(day),
        "pos",
        "seal",
        "N-1",
        f"P{day.year}",
        "printed",
        "R1",
        None,
        1,
        "replaced on plan",
        "scrapped",
        "",
    )
    heat = f.ReadingFact(
        log.row(day), "temperature", "°C", "drain", Decimal("134.4"), Decimal("134.5"), Decimal(134), Decimal(137),
        "invented instructions", "T1", date(2040, 1, 1),
    )  # fmt: skip
    passed = [f.VerificationFact(log.row(day), code, "pass", "", "", "") for code in ("V1", "V2", "V5")]
    signed = [f.SignatureFact(log.row(day), what, "A", "", "") for what in ("released", "returned to use")]
    return f.JobFact(
        row, "visit", "Invented Service", "A. Technician", None, None, "planned", "", "clean", MADE_SAFE,
        "", "", f.in_order([done]), (), f.in_order([heat]), f.in_order([part]), f.in_order(passed),
        f.in_order(signed), f.ConclusionFact(log.row(day), "released", "", "", None, ""),
    )  # fmt: skip


def unit(
    *, years: float, visits: int, loads: int, daily: bool, type: str = "dynamic air removal", seed: int = 1,
    failures: int = 1, last: date = LAST,
) -> f.UnitFacts:  # fmt: skip
    """One unit with weekly spore tests, daily checks if `daily`, so many visits and loads, up to `last`."""
    chance = random.Random(seed)
    log = Log(f"u{seed}")
    days = int(years * 365.25)
    first = last - timedelta(days=days)
    first -= timedelta(days=first.weekday())  # a Monday: one test in each calendar week
    head = log.row(first)
    at = {n: first + timedelta(days=n) for n in range(days + 1)}
    bad = set(chance.sample(range(8, days // 7 - 4), failures)) if days > 120 else set()
    tests = []
    for week in range(days // 7):
        day = at[week * 7 + chance.randrange(5)]
        tests.append(_spore_test(log, day, week in bad, "routine"))
        if week in bad:
            tests.append(_spore_test(log, day + timedelta(days=2), False, "repeat"))
    events = [f.UnitEventFact(log.row(first), "installed", "", "")]
    seal = f.PlanLineFact(
        log.row(first), "replace-seal", "pos", "replace seal", "replace", 12, 2500, None, 30, 14, *WORDS, first, False
    )
    lines = [seal] + [
        f.PlanLineFact(
            log.row(first), f"line-{n}", "", f"line {n}", "inspect", 12, None, None, 30, 400, *WORDS, first, False
        )
        for n in range(7)
    ]
    jobs = [_job(log, at[int((n + 0.5) * days / max(visits, 1))]) for n in range(visits)]
    counters = [
        f.CounterFact(log.row(j.row.happened_on), "cycles", Decimal(n * 500), Decimal(0), "")
        for n, j in enumerate(jobs)
    ]
    run = [
        f.LoadFact(
            log.row(at[n * days // max(loads, 1)], 8 + n % 9), str(n), "wrapped", "3 packs", False, "released",
            "pass", "pass", Decimal(30),
        )
        for n in range(loads)
    ]  # fmt: skip
    air, checks = [], []
    if daily:
        for n in range(days):
            if at[n].weekday() < 5:
                air.append(f.AirRemovalFact(log.row(at[n], 7), "pass", "", "empty", "AR1"))
                checks.append(
                    f.UserCheckFact(log.row(at[n], 7), "automatic control", "pass", None, "", "", "wrapped", "A", "")
                )
    order = f.in_order
    seat = f.Row("pos", "pos", 1, 1, first, None, head.logged_at)
    return f.UnitFacts(
        head, f"Unit {seed}", f"S-{seed}", "Invented Maker", "Model One", type, Decimal(18), "",
        placements=order([f.PlacementFact(log.row(first), first, "room 1", "in use")]),
        positions=order([f.PositionFact(seat, "seal", "seal", "seal")]),
        fits=order([f.FitFact(log.row(first), "pos", "yes", first, "")]),
        plan=order(lines), events=order(events), counters=order(counters), jobs=order(jobs), bio_tests=order(tests),
        air_removal=order(air), loads=order(run), checks=order(checks),
    )  # fmt: skip


def clinic(*units: f.UnitFacts, regime: str = "us-healthcare-cdc-2008") -> f.ClinicFacts:
    """An invented clinic following `regime`."""
    log = Log("clinic")
    first = date(2000, 1, 1)
    terms = f.TermsFact(
        log.row(first),
        first,
        "Example Clinic (invented)",
        "medical",
        "1 Example Street",
        "America/New_York",
        0,
        regime,
    )
    return f.ClinicFacts("clinic", "example", f.in_order([terms]), units=units)
