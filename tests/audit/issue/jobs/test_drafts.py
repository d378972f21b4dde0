"""A draft as a job: made without a signature, kept for a while, swept; what its page is told when it is not made."""

from __future__ import annotations

import os
import time
from datetime import timedelta

import pytest

from audit.issue import make as making
from audit.issue.jobs import drafts, queue, run, workers
from audit.models import BinderJob
from records import clock, log
from records import models as m
from tests import world as made

pytestmark = pytest.mark.django_db
State = BinderJob.State
WORKER = "machine 1"


def ask(world, wish, role="viewer", key=1) -> BinderJob:
    return queue.ask(world.clinic, world.people[role], wish, key, draft=True)


def made_by_worker(world, wish, role="viewer", key=1) -> BinderJob:
    ask(world, wish, role, key)
    job = queue.take_next(WORKER)
    run.run_job(job, WORKER)
    job.refresh_from_db()
    return job


def files_in(folders) -> list:
    return sorted((folders / "drafts").iterdir()) if (folders / "drafts").is_dir() else []


def test_it_takes_no_key_and_enters_nothing(world, wish, folders):
    entries = m.Entry.objects.count()
    job = made_by_worker(world, wish)
    assert (job.state, job.problem, job.issue_ref, job.said) == (State.DONE, "", None, "ready")
    content = drafts.read(job)
    assert content == making.make(world.clinic, wish).body and job.made["size"] == len(content)
    assert m.Entry.objects.count() == entries and len(files_in(folders)) == 1


def test_the_same_form_is_one_draft_and_another_binder(world, wish):
    first = ask(world, wish)
    assert ask(world, wish) == first
    assert queue.ask(world.clinic, world.people["viewer"], wish, 1) != first


def test_who_may_no_longer_look_gets_none(world, wish, folders):
    ask(world, wish)
    ending = m.Membership.objects.get(person=world.people["viewer"].person)
    log.end_membership(
        by=world.people["coordinator"], request_key=made.key(), membership=ending,
        effective_on=made.TODAY - timedelta(days=1), reason="left",
    )  # fmt: skip
    job = queue.take_next(WORKER)
    run.run_job(job, WORKER)
    job.refresh_from_db()
    assert job.state == State.FAILED and "Pat Viewer may not look at First Clinic today" in job.problem
    assert files_in(folders) == []


def test_a_record_that_does_not_come_to_rest_is_told_with_the_way_out(world, wish, monkeypatch):
    def busy(*args, **kwargs):
        raise making.TooBusy("Entries came in faster than they could be read. Make the binder again in a minute.")

    monkeypatch.setattr(making, "make", busy)
    job = made_by_worker(world, wish)
    assert job.state == State.FAILED and "again in a minute" in job.problem


def test_a_folder_that_cannot_be_written_to_is_told_with_the_way_out(world, wish, folders):
    (folders / "drafts").write_text("a file where the folder should be")
    job = made_by_worker(world, wish)
    assert job.state == State.FAILED and "cannot be written" in job.problem
    assert "disk of the data folder" in job.problem and "make the draft again" in job.problem


def test_a_fault_of_the_program_is_told_and_the_next_job_is_made(world, wish, monkeypatch):
    ask(world, wish, key=1)
    ask(world, wish, key=2)
    plain, times = making.make, []

    def fails_once(*args, **kwargs):
        times.append(1)
        return plain(*args, **kwargs) if len(times) > 1 else 1 / 0

    monkeypatch.setattr(making, "make", fails_once)
    assert workers.work_off() == 2
    failed, done = BinderJob.objects.order_by("pk")
    assert (failed.state, failed.problem) == (State.FAILED, run.FAULT) and done.state == State.DONE


def test_a_worker_whose_draft_was_taken_over_writes_nothing(world, wish, folders, monkeypatch):
    ask(world, wish)
    job, plain = queue.take_next(WORKER), making.make

    def slow(*args, **kwargs):
        body = plain(*args, **kwargs)
        BinderJob.objects.update(worker="another-machine 17")
        return body

    monkeypatch.setattr(making, "make", slow)
    run.run_job(job, WORKER)
    job.refresh_from_db()
    assert (job.state, job.worker) == (State.RUNNING, "another-machine 17") and files_in(folders) == []


def test_one_that_ends_its_worker_each_time_is_given_up(world, wish, monkeypatch):
    ask(world, wish)
    moment = clock.real()
    for n in range(queue.MOST_ATTEMPTS):
        later = moment + timedelta(seconds=61 * n)
        monkeypatch.setattr(clock, "real", lambda later=later: later)
        assert queue.take_next(WORKER).attempts == n + 1
    monkeypatch.setattr(clock, "real", lambda: moment + timedelta(seconds=600))
    assert queue.take_next(WORKER) is None
    job = BinderJob.objects.get()
    assert job.state == State.FAILED and "Try a shorter period" in job.problem


# ------------------------------------------------------------------------------------------------ swept


def aged(file, seconds: float) -> None:
    os.utime(file, (time.time() - seconds, time.time() - seconds))


def test_files_are_swept_after_their_time_also_half_written_ones(world, wish, folders, settings):
    settings.DRAFT_HOURS = 1
    made_by_worker(world, wish)
    (kept,) = files_in(folders)
    half = folders / "drafts" / ".binder-half"
    half.write_bytes(b"%PDF")
    aged(half, 3500)
    assert drafts.sweep() == 0
    aged(half, 3600)
    assert drafts.sweep() == 1 and files_in(folders) == [kept]
    aged(kept, 3600)
    workers.work_off()
    assert files_in(folders) == [], "a worker sweeps when it begins"


def test_jobs_of_drafts_go_a_week_later_and_no_others(world, wish):
    over = made_by_worker(world, wish, key=1)
    waiting = ask(world, wish, key=2)
    issued = queue.ask(world.clinic, world.people["coordinator"], wish, 3)
    BinderJob.objects.filter(pk=issued.pk).update(state=State.FAILED)
    with clock.at(made.NOW + drafts.ROWS_KEPT):
        drafts.sweep()
        assert set(BinderJob.objects.all()) == {over, waiting, issued}
    with clock.at(made.NOW + drafts.ROWS_KEPT + timedelta(seconds=1)):
        drafts.sweep()
    assert set(BinderJob.objects.all()) == {waiting, issued}


def test_what_cannot_be_swept_stands_in_nobodys_way(world, wish, monkeypatch):
    def no_disk():
        raise OSError("no disk")

    monkeypatch.setattr(drafts, "sweep", no_disk)
    ask(world, wish)
    assert workers.work_off() == 1 and BinderJob.objects.get().state == State.DONE
