"""The queue of binders: asked for, taken by one worker at a time, told of, ended. On SQLite and PostgreSQL alike.

A worker that dies leaves its job behind, running and without a heartbeat; the next one takes it up again, at most
`MOST_ATTEMPTS` times in all. Every function that a worker calls names the worker, and changes nothing when somebody
else has the job by then.
"""

from __future__ import annotations

import os
import socket
import uuid
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime, timedelta
from functools import cache

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q

from audit.issue.wish import Wish
from audit.models import BinderJob, BroughtTable, RecordOut
from records import clock

State = BinderJob.State
MOST_ATTEMPTS = 3
# How often a worker says that it is alive; one that was silent for `BINDER_SILENCE_SECONDS` is gone.
BEAT = timedelta(seconds=2)
# How long a worker that was called may take before it has taken a job.
COMING = timedelta(seconds=15)


def ask(clinic, account, wish: Wish, key, *, draft: bool = False) -> BinderJob:
    """Put a binder on the queue, or a draft of one.

    The same wish under the same key (of a form) is one job, however often sent; draft and binder are two.
    """
    asked = {"clinic": clinic, "asked_by": account, "asked_at": clock.now(), "draft": draft, **asdict(wish)}
    ref = _ref(account, f"draft {key}" if draft else key, clinic, wish)
    job, _ = BinderJob.objects.get_or_create(ref=ref, defaults=asked)
    return job


def ask_all(wishes: list[tuple], account, key, *, company, file_of: Callable | None = None) -> uuid.UUID:
    """Put one binder for each (clinic, wish) on the queue; the ref of the batch. One query, whatever their number.

    The same wishes under the same key are one batch, however often they are sent. `file_of(clinic, wish)` names the
    file that each is written to. Without an account they are made for those files alone and not issued: no page
    shows them.
    """
    batch = _ref(account, key, company, wishes)
    now = clock.now()
    jobs = [
        BinderJob(
            ref=_ref(account, batch, clinic, wish), clinic=clinic, asked_by=account, asked_at=now,
            company=company if account else None, file=str(file_of(clinic, wish)) if file_of else "", batch=batch,
            **asdict(wish),
        )
        for clinic, wish in wishes
    ]  # fmt: skip
    BinderJob.objects.bulk_create(jobs, ignore_conflicts=True)
    return batch


def _ref(account, key, whose, wish) -> uuid.UUID:
    said = wish if isinstance(wish, Wish) else [w for _, w in wish]
    return uuid.uuid5(account.ref if account else whose.ref, f"{key} {whose.ref} {said}")


@cache
def this_worker() -> str:
    """The name of this process: its machine, its number there for whoever looks, and what no other process drew."""
    return f"{socket.gethostname()[:150]} {os.getpid()} {uuid.uuid4().hex[:12]}"


def take_next(worker: str) -> BinderJob | None:
    """The oldest job that waits or whose worker is gone, now this worker's; None when there is nothing to do."""
    give_up_hopeless()
    return take_oldest(BinderJob, worker)


def take_oldest(jobs: type[BinderJob] | type[RecordOut], worker: str) -> BinderJob | RecordOut | None:
    """The oldest of a kind of jobs that a worker may take, now this worker's; None where there is none."""
    with transaction.atomic():
        # Whoever takes at the same moment waits here, and then sees what is left; SQLite lets one writer in anyway.
        job = jobs.objects.select_for_update().filter(free()).order_by("pk").first()
        if job is None:
            return None
        job.state, job.worker, job.heartbeat = State.RUNNING, worker, clock.real()
        job.attempts += 1
        job.done, job.total, job.what = 0, 0, "reading the record"
        job.save()
        return job


def heard_since() -> datetime:
    """A worker that was heard at this moment or later is alive: so long may a machine stand still."""
    return clock.real() - timedelta(seconds=settings.BINDER_SILENCE_SECONDS)


def free() -> Q:
    """A worker may take it now: it waits, or its worker is gone and it was not begun too often."""
    again = Q(state=State.RUNNING, heartbeat__lt=heard_since(), attempts__lt=MOST_ATTEMPTS)
    return Q(state=State.WAITING) | again


def free_of(batch: uuid.UUID) -> int:
    """How many jobs of a batch a worker may take now."""
    return BinderJob.objects.filter(free(), batch=batch).count()


def give_up_hopeless() -> int:
    """Fail the jobs whose worker died as often as is tried; the number of them."""
    hopeless = BinderJob.objects.filter(state=State.RUNNING, attempts__gte=MOST_ATTEMPTS, heartbeat__lt=heard_since())
    return sum(
        fail(
            job,
            job.worker,
            f"It was begun {job.attempts} times, and each time the process that made it ended before it was done, "
            f"last while {job.what or 'starting'}. The machine may be short of memory. Try a shorter period; if that "
            "fails as well, ask whoever looks after this site to look at the log of the workers.",
        )
        for job in hopeless
    )


def _mine(job: BinderJob, worker: str):
    return BinderJob.objects.filter(pk=job.pk, state=State.RUNNING, worker=worker)


def tell_progress(job: BinderJob, worker: str, done: int, total: int, what: str) -> bool:
    """Step `done` of `total` is what is being done now. False when the job is no longer this worker's."""
    told = {"done": done, "total": total, "what": what[:200], "heartbeat": clock.real()}
    return bool(_mine(job, worker).update(**told))


def tell_made(job: BinderJob, worker: str, made: dict) -> bool:
    """What was made, told before it is issued. False when the job is no longer this worker's."""
    return bool(_mine(job, worker).update(made=made))


def beat(job: BinderJob, worker: str) -> bool:
    """The worker is alive. False when the job is no longer this worker's."""
    return bool(_mine(job, worker).update(heartbeat=clock.real()))


def beat_table(table: BroughtTable, worker: str) -> bool:
    """The same of a table that a worker looks through or records."""
    mine = BroughtTable.objects.filter(pk=table.pk, state=BroughtTable.State.RUNNING, worker=worker)
    return bool(mine.update(heartbeat=clock.real()))


def finish(job: BinderJob, worker: str, issue_ref) -> bool:
    """The binder is issued, or only written or kept as a draft where `issue_ref` is None.

    False when the job is no longer this worker's; the issue stands all the same.
    """
    ended = {"state": State.DONE, "issue_ref": issue_ref, "problem": "", "ended_at": clock.now()}
    return bool(_mine(job, worker).update(**ended))


def fail(job: BinderJob, worker: str, problem: str) -> bool:
    """It cannot be made; `problem` says why and the way out. False when the job is no longer this worker's."""
    ended = {"state": State.FAILED, "problem": problem, "ended_at": clock.now()}
    return bool(_mine(job, worker).update(**ended))


def waits_for_a_worker(job: BinderJob) -> bool:
    """Whether the job stands still because nobody works on the queue."""
    if not BinderJob.objects.filter(free(), pk=job.pk).exists():
        return False
    alive = BinderJob.objects.filter(state=State.RUNNING, heartbeat__gte=heard_since())
    return not alive.exclude(pk=job.pk).exists()


def call_for(job: BinderJob | BroughtTable | RecordOut) -> bool:
    """Note that a worker is called for the job. False when one is on its way: then don't call another.

    Who was called longer ago than `COMING` does not come, and who took the job since has come and gone.
    """
    now = clock.real()
    nobody_comes = Q(called_at=None) | Q(called_at__lte=now - COMING) | Q(heartbeat__gte=F("called_at"))
    open_still = type(job).objects.filter(pk=job.pk, state__in=(State.WAITING, State.RUNNING))
    return bool(open_still.filter(nobody_comes).update(called_at=now))


def waiting() -> int:
    """How many jobs wait to be taken."""
    return BinderJob.objects.filter(state=State.WAITING).count()
