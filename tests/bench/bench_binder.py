"""Seconds and memory of a long binder, step by step: judged, counted, written, laid out, drawn, finished.

One clinic, 4 units, ten years of weekly spore tests and daily checks, 80 visits, 20,000 loads. No database.

python -m tests.bench.bench_binder [--runs 3] [--years 10] [--units 4] [--visits 80] [--loads 20000] [--profile STEP]
"""

from __future__ import annotations

import argparse
import cProfile
import gc
import pstats
import resource
import statistics
import time
from collections.abc import Callable
from datetime import timedelta

from audit.binder.contents import binder_contents
from audit.binder.pdf import draw, lay_out
from audit.binder.pdf.finish import finished
from audit.binder.pdf.page import sheet
from audit.facts import ClinicFacts
from audit.issue.seal.manifest import contents_json
from audit.judge.evaluate import coverage_over, evaluate
from tests.bench.histories import LAST, clinic, unit

REGIME = "us-dental-cdc-2003"
TARGET_SECONDS, TARGET_MEGABYTES = 5, 300
STEPS = ("judge", "count duties", "contents", "contents as JSON", "lay out", "draw", "finish")


def facts(asked: argparse.Namespace) -> ClinicFacts:
    """The clinic of the case: visits and loads are shared out evenly among its units."""
    share = {"visits": asked.visits // asked.units, "loads": asked.loads // asked.units}
    units = [unit(years=asked.years, daily=True, seed=n, failures=3, **share) for n in range(1, asked.units + 1)]
    return clinic(*units, regime=REGIME)


def steps(held: ClinicFacts, years: float) -> dict[str, Callable]:
    """Each step as a function of what the step before gave."""
    first = LAST - timedelta(days=int(years * 365.25))
    paper = sheet("letter")
    return {
        "judge": lambda _: evaluate(held, LAST),
        "count duties": lambda said: (said, coverage_over(held, LAST, first, LAST)),
        "contents": lambda two: binder_contents(held, two[0], from_on=first, to_on=LAST, coverage=two[1]),
        "contents as JSON": lambda binder: (binder, contents_json(binder)),
        "lay out": lambda two: (two[0], lay_out(two[0], paper)),
        "draw": lambda two: (two[1], draw(two[0], two[1], paper).content),
        "finish": lambda two: (two[0], finished(two[1])),
    }


def once(held: ClinicFacts, asked: argparse.Namespace) -> tuple[dict[str, tuple[float, float]], int, int]:
    """(seconds of each step by the clock and of the processor, pages, bytes) of one run.

    The step named by `--profile` is profiled.
    """
    seconds, value = {}, None
    for name, step in steps(held, asked.years).items():
        seen = cProfile.Profile()
        if asked.profile == name:
            seen.enable()
        begin, worked = time.perf_counter(), time.process_time()
        value = step(value)
        seconds[name] = (time.perf_counter() - begin, time.process_time() - worked)
        if asked.profile == name:
            seen.disable()
            pstats.Stats(seen).sort_stats("tottime").print_stats(40)
    pages, body = value
    return seconds, len(pages), len(body)


def megabytes() -> float:
    """The most memory this process has held, in MB (10^6 bytes); Linux counts it in KiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--years", type=float, default=10)
    parser.add_argument("--units", type=int, default=4)
    parser.add_argument("--visits", type=int, default=80)
    parser.add_argument("--loads", type=int, default=20000)
    parser.add_argument("--profile", choices=STEPS, help="profile one step of one run")
    asked = parser.parse_args()
    held = facts(asked)
    gc.collect()
    before = megabytes()
    runs = [once(held, asked) for _ in range(1 if asked.profile else asked.runs)]
    _, pages, size = runs[0]
    print(f"{'':18}{'clock':>8}{'processor':>11}")
    for name in STEPS:
        clock, worked = (statistics.median(seconds[name][n] for seconds, _, _ in runs) for n in (0, 1))
        print(f"{name:18}{clock:6.2f} s{worked:9.2f} s")
    clock, worked = (statistics.median(sum(s[n] for s in seconds.values()) for seconds, _, _ in runs) for n in (0, 1))
    print(f"{'all of it':18}{clock:6.2f} s{worked:9.2f} s (target {TARGET_SECONDS} s)")
    print(f"{pages} pages, {size / 1e6:.1f} MB")
    print(f"most memory {megabytes():.0f} MB (target {TARGET_MEGABYTES} MB), {before:.0f} MB before the first step")


if __name__ == "__main__":
    main()
