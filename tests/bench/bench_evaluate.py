"""How long it takes to judge one long history, whether it grows linearly, and how many typical units a second.

python -m tests.bench.bench_evaluate [--runs 9] [--fleet 20000] [--processes 2] [--profile]
"""

from __future__ import annotations

import argparse
import cProfile
import gc
import pstats
import statistics
import time
from concurrent.futures import ProcessPoolExecutor

from audit.judge.evaluate import evaluate, evaluate_unit
from audit.regimes import load_regime
from tests.bench.histories import LAST, clinic, unit

REGIME = "us-healthcare-cdc-2008"


def measured(runs: int, work) -> float:
    """Median seconds of so many runs, after one that warms up."""
    work()
    times = []
    for _ in range(runs):
        gc.collect()
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def facts_in(one) -> int:
    """How many facts the unit holds (readings and leaves of jobs counted too)."""
    kinds = ("placements", "positions", "fits", "plan", "events", "counters", "jobs", "bio_tests", "chemical")
    kinds += ("air_removal", "leaks", "loads", "checks", "cases")
    leaves = sum(len(t.readings) for t in one.bio_tests)
    leaves += sum(len(x) for j in one.jobs for x in (j.outcomes, j.readings, j.parts, j.tests, j.signatures))
    return sum(len(getattr(one, k)) for k in kinds) + leaves


def one_unit(runs: int) -> None:
    rules = load_regime(REGIME)
    for years, visits, loads in ((2.5, 5, 5000), (5, 10, 10000), (10, 20, 20000), (20, 40, 40000)):
        held = unit(years=years, visits=visits, loads=loads, daily=True)
        place = clinic(held, regime=REGIME)
        seconds = measured(runs, lambda held=held, place=place: evaluate_unit(held, place, rules, LAST))
        count = facts_in(held)
        each = seconds / count * 1e6
        print(f"one unit, {years:g} years, {count} facts: {seconds * 1000:.1f} ms, {each:.2f} µs a fact")


def typical(seed: int):
    """A typical two-year history: weekly tests, four visits, three loads a working day, one failure in five units."""
    return unit(
        years=2, visits=4, loads=1500, daily=False, type="gravity", seed=seed, failures=1 if seed % 5 == 0 else 0
    )


def judge_many(first: int, last: int) -> tuple[int, float]:
    """Judge, as for a list of units, a tenth of that many made histories ten times over; (units, seconds judging)."""
    rules = load_regime(REGIME)
    made = [typical(seed) for seed in range(first, first + max(1, (last - first) // 10))]
    places = [clinic(one, regime=REGIME) for one in made]
    gc.collect()
    gc.freeze()  # the facts stay; the collector need not look through them again and again
    judged = 0
    begin = time.perf_counter()
    for _ in range(10):
        for one, place in zip(made, places, strict=True):
            evaluate_unit(one, place, rules, LAST, brief=True)
            judged += 1
    return judged, time.perf_counter() - begin


def fleet(count: int, processes: int) -> None:
    share = count // processes
    begin = time.perf_counter()
    with ProcessPoolExecutor(processes) as pool:
        done = list(pool.map(judge_many, range(0, count, share), range(share, count + 1, share)))
    total, slowest = sum(n for n, _ in done), max(s for _, s in done)
    each = statistics.mean(s / n for n, s in done) * 1e6
    whole = time.perf_counter() - begin
    rate = total / slowest
    print(f"fleet: {total} units in {slowest:.1f} s of judging with {processes} processes: {rate:.0f} units/s")
    print(f"  {each:.0f} µs a unit in one process; {whole:.1f} s with making the histories")


def profile() -> None:
    rules = load_regime(REGIME)
    held = [typical(n) for n in range(200)]
    places = [clinic(one, regime=REGIME) for one in held]
    seen = cProfile.Profile()
    seen.enable()
    for one, place in zip(held, places, strict=True):
        evaluate_unit(one, place, rules, LAST, brief=True)
    seen.disable()
    pstats.Stats(seen).sort_stats("tottime").print_stats(35)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--fleet", type=int, default=20000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    if options.profile:
        profile()
        return
    one_unit(options.runs)
    place = clinic(typical(1), regime=REGIME)
    seconds = measured(options.runs, lambda: evaluate(place, LAST))
    print(f"a clinic of one typical unit, with coverage and answers: {seconds * 1000:.2f} ms")
    fleet(options.fleet, options.processes)


if __name__ == "__main__":
    main()
