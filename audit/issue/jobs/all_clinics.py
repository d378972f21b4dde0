"""The binders of every clinic that a company serves, worked off the queue by processes of their own."""

from __future__ import annotations

import subprocess
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

from audit.issue.wish import Wish
from audit.models import BinderJob
from records import clock
from records.log.may_be_logged import zone_of
from records.models import Account, Clinic, ServiceCompany

from . import queue, workers

LOOK_SECONDS = 0.2
MOST_CRASHES = 3


class NoWorkers(Exception):
    """Workers end before they have done anything: the message says the way out."""


def ask(
    company: ServiceCompany, clinics: list[Clinic], wish: Wish, folder: Path, account: Account | None
) -> uuid.UUID:
    """Put a binder for each clinic on the queue as one batch, written to the folder; the ref of the batch.

    `account` issues them; None: they are made and signed, and the record does not know of them.
    """
    wishes = [(clinic, _of_its_day(wish, clinic)) for clinic in clinics]
    folder = folder.resolve()

    def file_of(clinic: Clinic, asked: Wish) -> Path:
        return folder / f"{clinic.slug}-{asked.from_on}-to-{asked.to_on}.pdf"

    return queue.ask_all(wishes, account, uuid.uuid4(), company=company, file_of=file_of)


def _of_its_day(wish: Wish, clinic: Clinic) -> Wish:
    """With the clinic's own day where none was named."""
    as_of = wish.as_of or clock.local_day(wish.known_at or clock.now(), zone_of(clinic))
    return Wish(wish.from_on, wish.to_on, as_of, wish.known_at, wish.page, wish.extent)


def work_off(batch: uuid.UUID, processes: int) -> Iterator[BinderJob]:
    """Make them at the same time, each job as it is over. What fails takes nothing else with it.

    A job whose worker is gone is taken up again, and given up after so many times: the queue says when. Workers take
    the oldest job first, whoever asked for it. Raises NoWorkers.
    """
    told: set[int] = set()
    running: list[subprocess.Popen] = []
    crashes = 0
    try:
        while True:
            queue.give_up_hopeless()
            jobs = list(BinderJob.objects.filter(batch=batch).select_related("clinic").order_by("pk"))
            over = [job for job in jobs if job.is_over and job.pk not in told]
            told.update(job.pk for job in over)
            yield from over
            if len(told) == len(jobs):
                return
            crashes += sum((process.poll() or 0) > 0 for process in running)
            running = [process for process in running if process.poll() is None]
            if crashes >= MOST_CRASHES:
                raise NoWorkers(
                    f"{MOST_CRASHES} processes ended with a fault of the program, told above. Show it to whoever "
                    "looks after this site. What was not made still waits: `manage.py make_binders --once` makes it."
                )
            wanted = min(queue.free_of(batch), processes - len(running))
            running += [subprocess.Popen(workers.command(), stdout=subprocess.DEVNULL) for _ in range(wanted)]
            time.sleep(LOOK_SECONDS)
    finally:
        for process in running:
            process.wait()
