"""Workers: processes that take binders off the queue, and how a page calls one.

`BINDER_WORKER` says who starts them: "page" (the default) lets a page start one process, apart from the web server,
when something waits and nobody works on it; "none" leaves it to whoever runs `manage.py make_binders`.
"""

from __future__ import annotations

import logging
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError

from audit.issue.whole import jobs as records_out
from audit.models import BinderJob, BroughtTable, RecordOut
from records import clock

from . import drafts, queue, tables
from .run import beating, run_job

LOG = logging.getLogger("audit.issue.jobs")
PAUSE_SECONDS = 2.0
SWEEP_SECONDS = 600.0


def work_off(
    *, once: bool = True, told=lambda job: None, told_table=lambda table: None, told_out=lambda out: None
) -> int:
    """Make binders, look through and record tables, write whole records, until nothing waits (`once`), or for ever.

    Binders come first. Returns how many of all were ended, well or not.

    Drafts whose time is over are swept when it begins, and now and then.
    """
    worker, ended, sweeping = queue.this_worker(), 0, 0.0
    while True:
        if time.monotonic() >= sweeping:
            sweeping = time.monotonic() + SWEEP_SECONDS
            _sweep()
        job = queue.take_next(worker)
        if job is not None:
            with beating(job, worker):
                run_job(job, worker)
            ended += 1
            job.refresh_from_db()
            told(job)
        elif (table := tables.take_next(worker)) is not None:
            with beating(table, worker, queue.beat_table):
                tables.run(table, worker)
            ended += 1
            table.refresh_from_db()
            told_table(table)
        elif (out := records_out.take_next(worker)) is not None:
            with beating(out, worker, records_out.beat):
                records_out.run(out, worker)
            ended += 1
            out.refresh_from_db()
            told_out(out)
        elif once:
            return ended
        else:
            time.sleep(PAUSE_SECONDS)


def _sweep() -> None:
    try:
        drafts.sweep()
        records_out.sweep()
    except (OSError, DatabaseError):  # of no weight beside a binder that waits
        LOG.exception("Old drafts could not be swept.")


def command(*, once: bool = True, processes: int = 1) -> list[str]:
    """The command line of a worker that stands at this process's moment."""
    words = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), "make_binders", f"--processes={processes}"]
    words += ["--once"] if once else []
    moment = clock.stands()
    return words + ([f"--stand-at={moment.isoformat()}"] if moment else [])


def call_for(job: BinderJob) -> bool:
    """Start a worker for a job that nobody works on, where pages may do that. Returns whether one was started."""
    return _call(job, queue.waits_for_a_worker, command(processes=settings.BINDER_PROCESSES))


def call_for_table(table: BroughtTable) -> bool:
    """The same for a table that waits to be looked through or recorded."""
    return _call(table, tables.waits, command(), "table")


def call_for_record(out: RecordOut) -> bool:
    """The same for everything of a clinic that waits to be written."""
    return _call(out, records_out.waits, command())


def _call(job, waits: Callable[..., bool], words: list[str], what: str = "job") -> bool:
    if settings.BINDER_WORKER != "page" or not waits(job) or not queue.call_for(job):
        return False
    try:
        start(words)
    except OSError:
        # The page says that nobody comes; a process can be started by hand.
        LOG.exception("No worker could be started for %s %s.", what, job.ref)
        return False
    return True


def start(words: list[str]) -> subprocess.Popen:
    """Start a process in a session of its own, so that it outlives the web server. What it says goes to a log."""
    with (Path(settings.DATA_DIR) / "make_binders.log").open("ab") as out:
        process = subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT, start_new_session=True,
            cwd=settings.BASE_DIR,
        )  # fmt: skip
    # Waited for, so that one that ended is not taken for one that lives.
    threading.Thread(target=process.wait, name="worker ended", daemon=True).start()
    return process
