"""One job of the queue, from the record to the issued binder: made, signed, kept, and entered as issued.

A draft is made the same way, and only kept for a while.
"""

from __future__ import annotations

import hashlib
import logging
import threading
import time
import uuid
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from django.db import connection

from audit.issue.files import NotWritten, write_whole
from audit.issue.wish import Wish
from audit.models import BinderJob, BroughtTable, RecordOut
from records import access, clock, log
from records.files import blobs
from records.models import Account, BinderIssue, Clinic, Entry

from . import drafts, queue

LOG = logging.getLogger("audit.issue.jobs")
AT_LEAST_SECONDS = 0.5
_FILE_NOT_WRITTEN = "Ask for it again with files in a folder that exists and that the worker may write to."
Told = Callable[[int, int, str], None]


class NotMade(Exception):
    """The binder cannot be made or issued: the message says why and the way out."""


class TakenOver(Exception):
    """Another worker has the job by now."""


@dataclass(frozen=True, slots=True)
class SignedBinder:
    """A made binder with its signature. `made` is what `audit.issue.make` returned, `content` the signed file."""

    made: object
    content: bytes
    certificate: str


def run_job(job: BinderJob, worker: str) -> None:
    """Make, sign, keep and enter the binder of a job that this worker took. Whatever happens is told in the job."""
    try:
        issue = _drafted(job, worker) if job.draft else _issued_and_written(job, worker)
    except TakenOver:
        LOG.warning("Job %s is in another worker's hands by now.", job.ref)
    except (NotMade, NotWritten) as problem:
        queue.fail(job, worker, str(problem))
    except Exception:
        LOG.exception("Job %s failed.", job.ref)
        queue.fail(job, worker, FAULT)
    else:
        queue.finish(job, worker, issue.ref if issue else None)


FAULT = (
    "The program has a fault and could not make this binder. What went wrong is in the log of the workers: show it "
    "to whoever looks after this site. The record itself is untouched. A shorter period may work meanwhile."
)


def request_key_of(job: BinderJob) -> uuid.UUID:
    """The key under which the job's issue is entered: the same however often the job is taken up again."""
    return uuid.uuid5(job.ref, "issue")


def already_issued(job: BinderJob) -> BinderIssue | None:
    """The issue of a job whose worker died after entering it."""
    if job.asked_by is None:
        return None
    entry = Entry.objects.filter(account=job.asked_by, request_key=request_key_of(job)).first()
    return BinderIssue.objects.filter(entry=entry).first() if entry else None


def _issued_and_written(job: BinderJob, worker: str) -> BinderIssue | None:
    """The issue of the job, None where nobody issues it; the signed binder is in its file, where it has one."""
    clinic = Clinic.objects.get(pk=job.clinic_id)
    issue = already_issued(job)
    if issue is not None:
        content = blobs.read(clinic, issue.file_sha256) if job.file else b""
    else:
        issue, content = _issue(job, worker, clinic)
    if job.file:
        write_whole(Path(job.file), content, _FILE_NOT_WRITTEN)
    return issue


def _drafted(job: BinderJob, worker: str) -> None:
    """Make the draft of a job and keep its file. Raises NotMade, NotWritten, TakenOver."""
    from audit.issue.make import TooBusy, make

    started = time.monotonic()
    account, clinic = Account.objects.get(pk=job.asked_by_id), Clinic.objects.get(pk=job.clinic_id)
    if access.rights(account, clinic) is None:
        raise NotMade(f"{account.full_name} may not look at {clinic.name} today. Somebody who belongs there can.")
    try:
        made = make(clinic, wish_of(job), told=now_and_then(partial(queue.tell_progress, job, worker)))
    except TooBusy as problem:
        raise NotMade(str(problem)) from None
    told = {"pages": made.pages, "forbidding": made.binder.forbidding, "size": len(made.body)}
    told |= {"sha256": drafts.digest_of(made.body), "seconds": round(time.monotonic() - started, 2)}
    if not queue.tell_made(job, worker, told):
        raise TakenOver
    drafts.keep(job, made.body)


def _issue(job: BinderJob, worker: str, clinic: Clinic) -> tuple[BinderIssue | None, bytes]:
    started = time.monotonic()
    account = Account.objects.get(pk=job.asked_by_id) if job.asked_by_id else None
    if account:
        refuse_without_rights(account, clinic)
    wish = wish_of(job)
    signed = make_signed(clinic, account, wish, now_and_then(partial(queue.tell_progress, job, worker)))
    made = {"pages": signed.made.pages, "forbidding": signed.made.binder.forbidding}
    if not queue.tell_made(job, worker, made | {"seconds": round(time.monotonic() - started, 2)}):
        raise TakenOver
    if account is None:
        return None, signed.content
    issue = enter(signed, wish, clinic=clinic, account=account, request_key=request_key_of(job))
    # Whoever enters first has issued it: what is handed out is what is kept.
    return issue, blobs.read(clinic, issue.file_sha256) if job.file else b""


def now_and_then(tell: Callable[[int, int, str], bool]) -> Told:
    """Tells of each new step, and within one step now and then. It raises TakenOver once `tell` answers no."""
    last, said = 0.0, ""

    def told(done: int, total: int, what: str) -> None:
        nonlocal last, said
        moment = time.monotonic()
        if what == said and moment - last < AT_LEAST_SECONDS:
            return
        last, said = moment, what
        if not tell(done, total, what):
            raise TakenOver

    return told


def wish_of(job: BinderJob) -> Wish:
    """What was asked for."""
    return Wish(job.from_on, job.to_on, job.as_of, job.known_at, job.page, job.extent)


def refuse_without_rights(account: Account, clinic: Clinic) -> None:
    """Raises NotMade unless the account may record at the clinic today."""
    rights = access.rights(account, clinic)
    if rights is None or not rights.may_log:
        raise NotMade(
            f"{account.full_name} may not issue binders of {clinic.name} today. Somebody who may record there can."
        )


def make_signed(clinic: Clinic, account: Account | None, wish: Wish, told: Told) -> SignedBinder:
    """Make the binder and sign it in the name of the certificate; the account's person is named as who issued it.

    Raises NotMade when there is no key to sign with, before anything is made, or the record does not come to rest.
    """
    from audit.issue.make import TooBusy, make
    from audit.issue.seal.keys import NoKey, load_key
    from audit.issue.seal.sign import reason_of, sealing_of, sign

    try:
        seal = load_key()
        sealing = sealing_of(seal, account.full_name if account else "", clock.now())
        made = make(clinic, wish, told=told, sealing=sealing)
        reason = reason_of(made, sealing.issued_by)
        content = sign(made.body, by=sealing.by, reason=reason, at=sealing.at, seal=seal)
    except (NoKey, TooBusy) as problem:
        raise NotMade(str(problem)) from None
    return SignedBinder(made, content, seal.fingerprint)


def enter(signed: SignedBinder, wish: Wish, *, clinic: Clinic, account: Account, request_key) -> BinderIssue:
    """Keep the file and enter that it was issued. Raises NotMade when the record refuses."""
    made = signed.made
    read = {head.organisation: head.number for head in made.binder.heads}
    own = read.pop(str(clinic.ref), 0)
    try:
        return log.log_binder_issue(
            by=account, request_key=request_key, clinic=clinic, from_on=wish.from_on, to_on=wish.to_on,
            as_of=wish.as_of, known_at=wish.known_at, page=wish.page, pages=made.pages,
            body_sha256=hashlib.sha256(made.body).hexdigest(), content=signed.content,
            certificate=signed.certificate, ledger_number=own, company_ledger_number=next(iter(read.values()), None),
        )  # fmt: skip
    except log.Refused as refusal:
        raise NotMade(" ".join(p.message for p in refusal.problems)) from None


@contextmanager
def beating(job: BinderJob | BroughtTable | RecordOut, worker: str, beats=queue.beat):
    """Tell every `queue.BEAT` that the worker is alive, from a thread: one step of a long binder takes its time."""
    over = threading.Event()

    def beat() -> None:
        try:
            while not over.wait(queue.BEAT.total_seconds()):
                try:
                    beats(job, worker)
                except Exception:  # a busy database: the next beat will do
                    LOG.exception("No heartbeat for job %s.", job.ref)
        finally:
            connection.close()

    thread = threading.Thread(target=beat, name="heartbeat", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
