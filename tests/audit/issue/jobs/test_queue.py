"""The queue: each job to one worker, taken up again when the worker is gone, given up after so many times."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from audit.issue.jobs import queue
from audit.models import BinderJob
from records import clock
from tests import world as made

pytestmark = pytest.mark.django_db
State = BinderJob.State
ELSEWHERE = "another-machine 17"


@pytest.fixture
def real(monkeypatch):
    """The real moment, moved on by hand."""

    class Moment:
        now = clock.real()

        def after(self, **span):
            self.now += timedelta(**span)

    moment = Moment()
    monkeypatch.setattr(clock, "real", lambda: moment.now)
    return moment


def ask(world, wish, key=1, role="coordinator"):
    return queue.ask(world.clinic, world.people[role], wish, key)


def test_a_job_says_what_was_asked_for(world, wish):
    job = ask(world, replace(wish, known_at=made.NOW, page="a4"))
    job.refresh_from_db()
    assert (job.clinic, job.asked_by, job.asked_at) == (
        queue.BinderJob.objects.get().clinic, world.people["coordinator"], made.NOW,
    )  # fmt: skip
    assert (job.from_on, job.to_on, job.as_of, job.known_at, job.page) == (
        wish.from_on, wish.to_on, wish.as_of, made.NOW, "a4",
    )  # fmt: skip
    assert (job.state, job.attempts, job.is_over) == (State.WAITING, 0, False)


def test_the_same_form_sent_twice_is_one_job_and_with_other_days_another(world, wish):
    first = ask(world, wish)
    assert ask(world, wish) == first
    assert ask(world, replace(wish, page="a4")) != first
    assert ask(world, wish, key=2) != first
    assert ask(world, wish, role="operator") != first
    assert BinderJob.objects.count() == 4


def test_jobs_are_taken_in_the_order_they_were_asked_for_and_each_once(world, wish):
    asked = [ask(world, wish, key) for key in range(3)]
    taken = [queue.take_next(f"machine {n}") for n in range(4)]
    assert taken == [*asked, None]
    assert [(j.state, j.worker, j.attempts) for j in taken[:3]] == [
        (State.RUNNING, f"machine {n}", 1) for n in range(3)
    ]


def test_progress_is_told_and_a_job_ends_once(world, wish):
    ask(world, wish)
    job = queue.take_next("machine 1")
    assert queue.tell_progress(job, "machine 1", 2, 5, "drawing")
    job.refresh_from_db()
    assert (job.done, job.total, job.what) == (2, 5, "drawing")
    assert queue.finish(job, "machine 1", job.ref)
    assert not queue.fail(job, "machine 1", "too late")
    job.refresh_from_db()
    assert (job.state, job.issue_ref, job.problem, job.ended_at) == (State.DONE, job.ref, "", made.NOW)
    assert queue.take_next("machine 2") is None


def test_a_problem_is_kept_and_a_failed_job_is_not_taken_again(world, wish, real):
    ask(world, wish)
    job = queue.take_next("machine 1")
    assert queue.fail(job, "machine 1", "no key")
    real.after(days=1)
    assert queue.take_next("machine 2") is None
    assert BinderJob.objects.get().problem == "no key"


# seconds without a heartbeat | taken up again
TABLE = [
    (0, False),
    (29, False),
    (30, False),
    (31, True),  # gone, or a machine that stood still
]


@pytest.mark.parametrize("worker", [queue.this_worker(), ELSEWHERE, ""], ids=["here", "elsewhere", "without a name"])
@pytest.mark.parametrize(("seconds", "again"), TABLE)
def test_a_job_is_taken_up_again_when_its_worker_is_gone(world, wish, real, seconds, worker, again):
    """Only by its heartbeat: what a process is called says nothing of whether it lives."""
    ask(world, wish)
    first = queue.take_next(worker)
    real.after(seconds=seconds)
    taken = queue.take_next("machine 2")
    assert (taken is not None) == again
    if again:
        assert (taken.pk, taken.worker, taken.attempts) == (first.pk, "machine 2", 2)
        assert not queue.tell_progress(first, worker, 1, 2, "still alive after all")
        assert not queue.finish(first, worker, first.ref) and not queue.beat(first, worker)
        taken.refresh_from_db()
        assert (taken.worker, taken.what) == ("machine 2", "reading the record")


def test_a_heartbeat_keeps_a_job(world, wish, real):
    ask(world, wish)
    job = queue.take_next(ELSEWHERE)
    for _ in range(5):
        real.after(seconds=25)
        assert queue.beat(job, ELSEWHERE)
        assert queue.take_next("machine 2") is None


def test_after_three_workers_died_a_job_is_given_up_with_a_way_out(world, wish, real):
    ask(world, wish)
    for attempt in range(1, queue.MOST_ATTEMPTS + 1):
        job = queue.take_next(ELSEWHERE)
        assert job.attempts == attempt
        queue.tell_progress(job, ELSEWHERE, 3, 7, "drawing the pages")
        real.after(seconds=31)
    assert queue.take_next("machine 2") is None
    job.refresh_from_db()
    assert job.state == State.FAILED
    assert "begun 3 times" in job.problem and "last while drawing the pages" in job.problem
    assert "Try a shorter period" in job.problem


def test_the_last_attempt_may_take_its_time(world, wish, real):
    ask(world, wish)
    for _ in range(queue.MOST_ATTEMPTS):
        job = queue.take_next(ELSEWHERE)
        real.after(seconds=31)
    queue.beat(job, ELSEWHERE)
    assert queue.give_up_hopeless() == 0
    assert queue.finish(job, ELSEWHERE, job.ref)


def test_a_worker_is_called_once_for_a_job_until_it_has_come_or_does_not_come(world, wish, real):
    job = ask(world, wish)
    assert queue.waits_for_a_worker(job)
    assert [queue.call_for(job) for _ in range(3)] == [True, False, False]
    real.after(seconds=16)
    assert queue.call_for(job), "the one that was called has not come"
    real.after(seconds=1)
    job = queue.take_next(ELSEWHERE)
    assert not queue.waits_for_a_worker(job)
    real.after(seconds=31)
    assert queue.waits_for_a_worker(job) and queue.call_for(job), "the one that came is gone"


def test_no_worker_is_called_while_one_works_on_the_queue(world, wish, real):
    ask(world, wish)
    waiting = ask(world, wish, key=2)
    queue.take_next(ELSEWHERE)
    assert not queue.waits_for_a_worker(waiting)
    real.after(seconds=31)
    assert queue.waits_for_a_worker(waiting)


def test_a_batch_is_one_job_a_clinic_and_sent_twice_still_one(world, wish, django_assert_num_queries):
    wishes = [(world.clinic, wish), (world.other_clinic, replace(wish, as_of=wish.from_on))]
    who = {"account": world.people["dispatcher"], "key": "form", "company": world.company}
    with django_assert_num_queries(1):
        batch = queue.ask_all(wishes, **who)
    assert queue.ask_all(wishes, **who) == batch
    jobs = BinderJob.objects.order_by("pk")
    assert [(j.clinic_id, j.as_of, j.batch, j.company_id) for j in jobs] == [
        (world.clinic.pk, wish.as_of, batch, world.company.pk),
        (world.other_clinic.pk, wish.from_on, batch, world.company.pk),
    ]
    assert queue.ask_all(wishes[:1], **who) != batch


def test_taking_a_job_takes_few_queries_however_many_wait(world, wish, django_assert_max_num_queries):
    for key in range(40):
        ask(world, wish, key)
    with django_assert_max_num_queries(5):  # hopeless ones, begin, the first that is free, its update, end
        queue.take_next("machine 1")
