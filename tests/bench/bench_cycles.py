"""How long a recorded cycle of 3,600 samples takes to read and to judge, beside a plain pass over the same arrays.

python -m tests.bench.bench_cycles [--runs 200] [--cycles 2000] [--profile]

The plain pass is what anybody would write by hand over arrays of floats that are there already: band, longest run,
spread, greatest difference to theory, longest step and lethality of each sensor. It checks no empty cells, compares
no decimals exactly and says nothing in words. Times are processor time.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import resource
import statistics
import time

import numpy as np

from audit.judge.cycle import judge, load_profile, read_cycle
from audit.judge.cycle.steam import t_sat_of
from tests.audit.judge.cycle.logs import file, rows

SAMPLES = 3600
LN10 = np.log(10)


def long_cycle() -> bytes:
    """3,600 rows of two sensors and pressure, a second apart: a quarter of an hour in the band within an hour."""
    return file(rows(hold=900, up=1594, down=1100, at="135.2"))


def plain_pass(t, temperatures, p):
    """By hand over floats: what is measured, without words."""
    inside = ((temperatures >= 134) & (temperatures <= 137)).all(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.view(np.int8), [0]))))
    firsts, lasts = edges[::2], edges[1::2] - 1
    best = np.argmax(t[lasts] - t[firsts])
    held = slice(firsts[best], lasts[best] + 1)
    spread = (temperatures[:, held].max(axis=0) - temperatures[:, held].min(axis=0)).max()
    apart = np.abs(temperatures[0, held] - t_sat_of(p[held])).max()
    rate = np.exp((temperatures - 121.1) * (LN10 / 10))
    f0 = ((rate[:, 1:] + rate[:, :-1]) / 2 * np.diff(t)).sum(axis=1) / 60
    return t[held][-1] - t[held][0], temperatures.max(), spread, apart, np.diff(t[held]).max(), f0


def median_ms(runs: int, work) -> float:
    """Median of so many runs, after ten that warm up."""
    for _ in range(10):
        work()
    took = []
    for _ in range(runs):
        begin = time.process_time()
        work()
        took.append(time.process_time() - begin)
    return statistics.median(took) * 1000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--cycles", type=int, default=2000)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    content, held = long_cycle(), load_profile("holding-134")
    cycle = read_cycle(content)
    t, p = cycle.time.floats(), cycle.pressure.floats(slice(None))
    temperatures = np.array([column.floats() for column in cycle.temperatures])
    assert len(t) == SAMPLES and judge(cycle, held).verdict == "met"
    if options.profile:
        seen = cProfile.Profile()
        seen.runcall(lambda: [judge(read_cycle(content), held) for _ in range(options.runs)])
        pstats.Stats(seen).sort_stats("tottime").print_stats(30)
        return
    reading = median_ms(options.runs, lambda: read_cycle(content))
    judging = median_ms(options.runs, lambda: judge(cycle, held))
    plain = median_ms(options.runs, lambda: plain_pass(t, temperatures, p))
    print(f"{len(t)} samples, {len(content) / 1024:.0f} KB: read {reading:.2f} ms, judged {judging:.2f} ms")
    print(f"together {reading + judging:.2f} ms (at most 15); plain pass {plain:.3f} ms, ratio {judging / plain:.2f}")
    many(content, held, options.cycles)


def many(content: bytes, held, count: int) -> None:
    """Cycles a second in one process, and whether memory stays flat."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begin = time.process_time()
    for _ in range(count):
        judge(read_cycle(content), held)
    took = time.process_time() - begin
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    print(f"{count} cycles: {count / took:.0f} a second (at least 100), memory grown by {grown / 1024:.1f} MB")


if __name__ == "__main__":
    main()
