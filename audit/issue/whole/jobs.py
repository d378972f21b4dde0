"""Everything of a clinic, made in the background: asked for, taken by a worker of the queue, kept for a while, swept.

A worker that dies leaves its job behind; the next one begins it again. The file lies in the folder `out` of the data
folder, by its job; no backup holds it.
"""

from __future__ import annotations

import logging
import shutil
import time
from datetime import timedelta
from functools import partial
from pathlib import Path

from django.conf import settings

from audit.issue.jobs import queue
from audit.issue.jobs.run import TakenOver, now_and_then
from audit.issue.whole import write
from audit.models import RecordOut
from records import access, clock
from records.models import Account, Clinic

LOG = logging.getLogger("audit.issue.jobs")
State = RecordOut.State
ROWS_KEPT = timedelta(days=400)  # who took out what, and when
FAULT = (
    "The program has a fault and could not make this file. What went wrong is in the log of the workers: show it to "
    "whoever looks after this site. The record itself is untouched."
)
GONE = (
    "It was begun {} times, and each time the process that made it ended before it was done. The machine may be "
    "short of memory or of room on its disk. Ask whoever looks after this site to look at the log of the workers."
)


def ask(clinic: Clinic, account: Account, ref) -> RecordOut:
    """Put it on the queue; the same `ref` (of a form) is one job, however often it is sent."""
    asked = {"clinic": clinic, "asked_by": account, "asked_at": clock.now()}
    job, _ = RecordOut.objects.get_or_create(ref=ref, defaults=asked)
    return job


def kept_for() -> timedelta:
    """How long the file is kept."""
    return timedelta(hours=settings.DRAFT_HOURS)


def is_gone(job: RecordOut) -> bool:
    """Whether the file of a job that is done is there no more."""
    over = job.ended_at is not None and clock.now() >= job.ended_at + kept_for()
    return job.state == State.DONE and (over or not path_of(job).exists())


def folder() -> Path:
    """Where the files lie."""
    return Path(settings.DATA_DIR) / "out"


def path_of(job: RecordOut) -> Path:
    """The file of a job."""
    return folder() / f"{job.ref}.zip"


# ------------------------------------------------------------------------------------------------- the queue


def give_up_hopeless() -> None:
    """Fail the jobs whose worker died as often as is tried."""
    gone = RecordOut.objects.filter(
        state=State.RUNNING, heartbeat__lt=queue.heard_since(), attempts__gte=queue.MOST_ATTEMPTS
    )
    for job in gone:
        _end(job, job.worker, State.FAILED, problem=GONE.format(job.attempts))


def take_next(worker: str) -> RecordOut | None:
    """The oldest job that waits or whose worker is gone, now this worker's; None when there is nothing to do."""
    give_up_hopeless()
    # Looked for first: to take one, others are kept waiting.
    return queue.take_oldest(RecordOut, worker) if RecordOut.objects.filter(queue.free()).exists() else None


def waits(job: RecordOut) -> bool:
    """Whether it stands still because nobody works on the queue."""
    return RecordOut.objects.filter(queue.free(), pk=job.pk).exists()


def _mine(job: RecordOut, worker: str):
    return RecordOut.objects.filter(pk=job.pk, state=State.RUNNING, worker=worker)


def beat(job: RecordOut, worker: str) -> bool:
    """The worker is alive. False when the job is no longer this worker's."""
    return bool(_mine(job, worker).update(heartbeat=clock.real()))


def _end(job: RecordOut, worker: str, state: str, **said) -> bool:
    return bool(_mine(job, worker).update(state=state, ended_at=clock.now(), **said))


# --------------------------------------------------------------------------------------------------- one job


def run(job: RecordOut, worker: str) -> None:
    """Make the file of a job that this worker took. Whatever happens is told in the job."""
    started = time.monotonic()
    try:
        made = _made(job, worker)
    except TakenOver:
        LOG.warning("Job %s is in another worker's hands by now.", job.ref)
    except write.NotTakenOut as problem:
        _end(job, worker, State.FAILED, problem=str(problem))
    except OSError as error:
        problem = (
            f"The file cannot be written: {error.strerror}. Ask whoever looks after this site to look at the disk."
        )
        _end(job, worker, State.FAILED, problem=problem)
    except Exception:
        LOG.exception("Job %s failed.", job.ref)
        _end(job, worker, State.FAILED, problem=FAULT)
    else:
        _end(job, worker, State.DONE, made=made | {"seconds": round(time.monotonic() - started, 2)}, problem="")


def _made(job: RecordOut, worker: str) -> dict:
    account, clinic = Account.objects.get(pk=job.asked_by_id), Clinic.objects.get(pk=job.clinic_id)
    rights = access.rights(account, clinic)
    if rights is None or not rights.may_manage:
        raise write.NotTakenOut(
            f"{account.full_name} may not take out the record of {clinic.name} today. Its coordinator can."
        )
    folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    by = f"{account.full_name}, {rights.company.name if rights.company else clinic.name}"
    told = now_and_then(partial(_tell, job, worker))
    return write.write(clinic, path_of(job), by=by, at=job.asked_at, told=told).told()


def _tell(job: RecordOut, worker: str, done: int, total: int, what: str) -> bool:
    progress = {"done": done, "total": total, "what": what[:200], "heartbeat": clock.real()}
    return bool(_mine(job, worker).update(**progress))


def sweep() -> None:
    """Remove the files whose time is over and what a worker that was ended left half made; then rows long past."""
    old = (clock.real() - kept_for()).timestamp()
    for path in folder().glob("*") if folder().is_dir() else ():
        try:
            if path.lstat().st_mtime <= old:
                shutil.rmtree(path) if path.is_dir() else path.unlink()
        except FileNotFoundError:
            pass  # another worker swept it
    over = RecordOut.objects.filter(state__in=(State.DONE, State.FAILED))
    over.filter(asked_at__lt=clock.now() - ROWS_KEPT).delete()
