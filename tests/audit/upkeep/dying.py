"""A process that ends without warning at the so-manieth call that some modules make: a copy of this one (fork)."""

from __future__ import annotations

import os
import signal
import sys
import warnings
from collections.abc import Callable
from pathlib import Path

from django.db import connections

UPKEEP = str(Path(__file__).parents[3] / "audit" / "upkeep")
# What reaches the disk or another process: between any two of these the machine may lose its power.
REACHES_OUT = {"replace", "fsync", "unlink", "mkdir", "open", "fork_exec", "backup", "write", "rmdir"}


def ended_at(work: Callable[[], object], at: int) -> int | None:
    """Do the work in a copy of this process that is killed at that call; None when it was killed.

    Else how many such calls there were, for work that came to its end.
    """
    connections.close_all()  # a copy must not go on with its parent's
    here, there = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # threads of the test runner take no part in it
        child = os.fork()
    if child == 0:
        os.close(here)
        _work_until(work, at, there)
    os.close(there)
    with os.fdopen(here, "rb") as answer:
        said = answer.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return None
    assert said, "the work ended with a fault"
    return int(said)


def _work_until(work: Callable[[], object], at: int, answer: int) -> None:
    count = 0

    def seen(frame, event, argument):
        nonlocal count
        inside = event == "call" and frame.f_code.co_filename.startswith(UPKEEP)
        outside = event == "c_call" and argument.__name__ in REACHES_OUT
        if inside or outside:
            count += 1
            if count == at:
                os.kill(os.getpid(), signal.SIGKILL)

    try:
        sys.setprofile(seen)
        work()
        sys.setprofile(None)
        os.write(answer, str(count).encode())
    except BaseException:
        import traceback

        sys.setprofile(None)
        traceback.print_exc()
    finally:
        os._exit(0)


def spread(count: int, points: int) -> list[int]:
    """So many calls from the first to the last, evenly; both ends are in it."""
    return sorted({1 + round(n * (count - 1) / (points - 1)) for n in range(points)})
