"""Workers as they are: processes beside each other, and processes that are killed in the middle."""

from __future__ import annotations

import signal
import time

import pytest

from audit.issue.jobs import drafts, queue
from audit.issue.jobs.run import beating
from audit.issue.seal import keys
from audit.models import BinderJob
from records import clock
from records import models as m
from records.files import blobs
from records.ledger import tamper_check
from tests import world as made

from . import process

pytestmark = pytest.mark.django_db(transaction=True)
State = BinderJob.State


@pytest.fixture
def world():
    """Committed, so that other processes see it, with a key to sign with."""
    keys.make_key("Keepers", made.NOW)
    return made.make()


def ask(world, wish, key=1) -> BinderJob:
    return queue.ask(world.clinic, world.people["coordinator"], wish, key)


def test_a_worker_killed_in_the_middle_is_followed_by_another_and_the_binder_is_issued_once(world, wish):
    job = ask(world, wish)
    killed = process.start("--once", die_at=2)
    killed.communicate(timeout=120)
    assert killed.returncode == -signal.SIGKILL
    job.refresh_from_db()
    assert (job.state, job.attempts) == (State.RUNNING, 1)
    assert not m.BinderIssue.objects.exists()

    # The next one takes it up once it was silent for long enough.
    time.sleep(max(0.0, process.SILENCE + 0.2 - _silent_seconds(job)))
    assert "first 2025-12-16 to 2026-03-16: issued" in process.said(process.start("--once"))
    job.refresh_from_db()
    issue = m.BinderIssue.objects.get()
    assert (job.state, job.attempts, job.issue_ref) == (State.DONE, 2, issue.ref)
    assert blobs.read(world.clinic, issue.file_sha256).startswith(b"%PDF")
    assert tamper_check.verify(world.clinic).whole


def test_a_worker_killed_in_the_middle_of_a_draft_is_followed_by_another(world, wish, folders):
    job = queue.ask(world.clinic, world.people["viewer"], wish, 1, draft=True)
    killed = process.start("--once", die_at=2)
    killed.communicate(timeout=120)
    assert killed.returncode == -signal.SIGKILL
    job.refresh_from_db()
    assert (job.state, job.attempts) == (State.RUNNING, 1) and not (folders / "drafts").exists()
    time.sleep(max(0.0, process.SILENCE + 0.2 - _silent_seconds(job)))
    assert "first 2025-12-16 to 2026-03-16: draft ready" in process.said(process.start("--once"))
    job.refresh_from_db()
    assert (job.state, job.attempts, job.issue_ref) == (State.DONE, 2, None)
    assert drafts.read(job).startswith(b"%PDF") and not m.BinderIssue.objects.exists()


def _silent_seconds(job) -> float:
    return (clock.real() - job.heartbeat).total_seconds()


def test_workers_beside_each_other_make_each_binder_once(world, wish):
    asked = [ask(world, wish, key) for key in range(4)]
    running = [process.start("--once") for _ in range(3)]
    taken = [process.said(worker).count(": issued") for worker in running]
    assert sum(taken) == len(asked)
    jobs = BinderJob.objects.order_by("pk")
    assert [(j.state, j.attempts) for j in jobs] == [(State.DONE, 1)] * len(asked)
    assert m.BinderIssue.objects.count() == len({j.issue_ref for j in jobs}) == len(asked)
    assert tamper_check.verify(world.clinic).whole


def test_a_worker_tells_that_it_is_alive_while_one_step_takes_long(world, wish):
    """It stands still inside a step; its heartbeat comes from a thread that does not."""
    job = ask(world, wish)
    worker = queue.take_next("another-machine 17")
    before = worker.heartbeat
    with beating(worker, "another-machine 17"):
        time.sleep(queue.BEAT.total_seconds() * 1.5)
    job.refresh_from_db()
    assert job.heartbeat > before


@pytest.mark.parametrize("number", ["0", "65", "-1"])
def test_no_number_of_processes_that_makes_no_sense(number):
    worker = process.start("--once", f"--processes={number}")
    _, err = worker.communicate(timeout=60)
    assert worker.returncode == 2 and "choose a number from 1 to 64" in err


def test_with_nothing_to_do_it_ends_at_once_and_says_so():
    assert process.said(process.start("--once")) == "0 binders taken off the queue; nothing waits any more.\n"
