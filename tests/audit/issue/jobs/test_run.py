"""One job from the record to the issued binder, and what its page is told when that is not possible."""

from __future__ import annotations

import hashlib
import json
import logging
from dataclasses import replace
from datetime import timedelta

import pytest

from audit.issue import make as making
from audit.issue.contents_told import contents_in
from audit.issue.jobs import queue, run, workers
from audit.issue.seal import keys
from audit.issue.seal.verify import check
from audit.models import BinderJob
from records import clock, log
from records import models as m
from records.files import blobs
from records.ledger import tamper_check
from tests import world as made

pytestmark = pytest.mark.django_db
State = BinderJob.State
WORKER = "machine 1"


@pytest.fixture
def key(folders):
    return keys.make_key("Keepers", made.NOW)


def ask(world, wish, role="coordinator", key=1) -> BinderJob:
    return queue.ask(world.clinic, world.people[role], wish, key)


def made_by_worker(world, wish, role="coordinator", key=1) -> BinderJob:
    """Ask for a binder, take it and run it; the job as it stands then."""
    ask(world, wish, role, key)
    job = queue.take_next(WORKER)
    run.run_job(job, WORKER)
    job.refresh_from_db()
    return job


def test_a_job_ends_as_an_issued_signed_and_kept_binder(world, wish, key):
    made.weekly_tests(world, 2)
    head = m.Ledger.objects.get(organisation=world.clinic).number
    job = made_by_worker(world, wish, "technician")
    issue = m.BinderIssue.objects.get()
    assert (job.state, job.issue_ref, job.problem) == (State.DONE, issue.ref, "")
    assert (issue.from_on, issue.to_on, issue.as_of) == (wish.from_on, wish.to_on, wish.as_of)
    assert (issue.page, issue.known_at, issue.ledger_number) == ("letter", None, head)
    assert str(issue.issued_by) == "Pat Technician" and issue.entry.logged_for_id == world.company.pk
    assert issue.certificate == key.fingerprint
    assert tamper_check.verify(world.clinic).whole


def test_the_kept_file_is_the_body_with_a_signature_behind_it(world, wish, key, monkeypatch):
    """An incremental update (ISO 32000-1, 7.5.6): the unsigned file is the beginning of the signed one."""
    results, plain = [], making.make
    monkeypatch.setattr(making, "make", lambda *args, **kwargs: results.append(plain(*args, **kwargs)) or results[-1])
    made_by_worker(world, wish)
    issue, body = m.BinderIssue.objects.get(), results[0].body
    kept = blobs.read(world.clinic, issue.file_sha256)
    assert kept.startswith(body) and b"/ByteRange" in kept[len(body) :]
    assert hashlib.sha256(body).hexdigest() == issue.body_sha256
    assert (issue.pages, issue.size) == (results[0].pages, len(kept))


def test_signature_certificate_and_the_page_of_the_seal_name_one_party_and_who_issued_it(world, wish, key):
    made_by_worker(world, wish)
    issue = m.BinderIssue.objects.get()
    checked = check(blobs.read(world.clinic, issue.file_sha256))
    assert (checked.word, checked.signed.by, checked.certificate.name) == ("unaltered", "Keepers", "Keepers")
    assert checked.signed.reason.endswith(f", issued by {issue.issued_by}")
    contents = json.dumps(contents_in(blobs.read(world.clinic, issue.file_sha256)), ensure_ascii=False)
    assert "Sealed by Keepers for " in contents and f"Issued by {issue.issued_by}." in contents
    assert checked.signed.at == made.NOW.replace(microsecond=0)


def test_the_extent_asked_for_is_the_one_made(world, wish, key):
    made_by_worker(world, replace(wish, extent="everything"))
    issue = m.BinderIssue.objects.get()
    assert check(blobs.read(world.clinic, issue.file_sha256)).manifest["extent"] == "everything"


def test_progress_is_told_in_words(world, wish, key, monkeypatch):
    told = []
    plain = queue.tell_progress
    monkeypatch.setattr(queue, "tell_progress", lambda *args: told.append(args[2:]) or plain(*args))
    made_by_worker(world, wish)
    assert len(told) >= 2
    assert all(0 <= done <= total and what.strip() for done, total, what in told)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)


def test_without_a_key_nothing_is_made_and_the_way_out_is_told(world, wish, folders, monkeypatch):
    monkeypatch.setattr(making, "make", lambda *args, **kwargs: pytest.fail("made although it cannot be signed"))
    job = made_by_worker(world, wish)
    assert job.state == State.FAILED and "make_seal_key" in job.problem
    assert not m.BinderIssue.objects.exists() and not (folders / "blobs").exists()


def test_who_may_no_longer_record_there_issues_nothing(world, wish, key):
    ask(world, wish, "operator")
    ending = m.Membership.objects.get(person=world.people["operator"].person)
    log.end_membership(
        by=world.people["coordinator"],
        request_key=made.key(),
        membership=ending,
        effective_on=made.TODAY,
        reason="left",
    )
    job = queue.take_next(WORKER)
    run.run_job(job, WORKER)
    job.refresh_from_db()
    assert job.state == State.FAILED and "Pat Operator may not issue binders of First Clinic" in job.problem
    assert not m.BinderIssue.objects.exists()


def test_a_fault_of_the_program_fails_the_job_and_goes_into_the_log(world, wish, key, monkeypatch, caplog):
    def broken(clinic, wish, told, sealing):
        raise ZeroDivisionError("invented fault")

    monkeypatch.setattr(making, "make", broken)
    with caplog.at_level(logging.ERROR):
        job = made_by_worker(world, wish)
    assert (job.state, job.problem) == (State.FAILED, run.FAULT)
    assert "invented fault" in caplog.text


def test_a_worker_that_died_after_entering_the_issue_is_not_answered_with_a_second_one(world, wish, key, monkeypatch):
    ask(world, wish)
    first = queue.take_next("another-machine 17")
    monkeypatch.setattr(queue, "finish", lambda *args: False)  # it dies before it can say so
    run.run_job(first, "another-machine 17")
    monkeypatch.undo()
    issue = m.BinderIssue.objects.get()

    later = clock.real() + timedelta(seconds=61)
    monkeypatch.setattr(clock, "real", lambda: later)
    monkeypatch.setattr(making, "make", lambda *args, **kwargs: pytest.fail("made a second time"))
    again = queue.take_next(WORKER)
    run.run_job(again, WORKER)
    again.refresh_from_db()
    assert (again.pk, again.attempts, again.state, again.issue_ref) == (first.pk, 2, State.DONE, issue.ref)


def test_two_workers_with_one_job_issue_it_once(world, wish, key, monkeypatch):
    """The first stood still for a minute and lives after all: whoever enters first has issued it."""
    ask(world, wish)
    slow = queue.take_next("another-machine 17")
    signed = run.make_signed(world.clinic, world.people["coordinator"], wish, lambda done, total, what: None)
    later = clock.real() + timedelta(seconds=61)
    monkeypatch.setattr(clock, "real", lambda: later)
    run.run_job(queue.take_next(WORKER), WORKER)
    issue = m.BinderIssue.objects.get()

    who = {"clinic": world.clinic, "account": world.people["coordinator"]}
    assert run.enter(signed, wish, **who, request_key=run.request_key_of(slow)) == issue
    assert not queue.finish(slow, "another-machine 17", issue.ref)
    assert m.BinderIssue.objects.count() == 1


def test_a_worker_that_lost_its_job_stops_making_it(world, wish, key, monkeypatch):
    ask(world, wish)
    slow = queue.take_next("another-machine 17")
    later = clock.real() + timedelta(seconds=61)
    monkeypatch.setattr(clock, "real", lambda: later)
    assert queue.take_next(WORKER)
    run.run_job(slow, "another-machine 17")
    slow.refresh_from_db()
    assert (slow.state, slow.worker, slow.problem) == (State.RUNNING, WORKER, "")
    assert not m.BinderIssue.objects.exists()


def test_a_worker_works_off_the_queue_and_tells_of_each(world, wish, key, monkeypatch):
    monkeypatch.setattr(workers, "beating", lambda job, worker: _Nothing())  # it would need rows that are committed
    for n in range(3):
        ask(world, wish, key=n)
    told = []
    assert workers.work_off(told=lambda job: told.append((job.state, job.worker))) == 3
    assert told == [(State.DONE, queue.this_worker())] * 3
    assert m.BinderIssue.objects.count() == 3


class _Nothing:
    def __enter__(self):
        return self

    def __exit__(self, *args):
        return False
