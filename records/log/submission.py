"""One submission is one entry of one ledger in one transaction: all of it or nothing.

Writers collect unsaved rows; leaving the block checks them, stamps them and writes them with the entry's hash. The
ledger's head row is locked first, so entries are numbered without a gap and `logged_at` only grows.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import TypeVar
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import connection, models, transaction

from records import clock, signals
from records.ledger import canon
from records.models import Clinic, Entry, Fact, Ledger, Organisation, PersonText
from records.models.prepared import prepared

from . import device, gathering, leaps
from .errors import InputPlace, Problem, Refused, SubmissionConflict

WHOLE = InputPlace()

F = TypeVar("F", bound=Fact)


class Submission:
    """What is being logged. `repeated` is True when this request was answered before; then write nothing."""

    def __init__(
        self, organisation, by, request_key, *, what, logged_for=None, written_at=None, paper="", signed_as=""
    ):
        self.organisation, self.by, self.request_key = organisation, by, request_key
        self.what, self.logged_for, self.written_at, self.paper = what, logged_for, written_at, paper
        self.signed_as = signed_as
        self.rows: list[Fact] = []
        self.entry: Entry | None = None
        self.repeated = False
        self.space = uuid.uuid5(by.ref, str(request_key))
        self.before = 0  # rows of the same entry that stand before these

    def add(self, row: Fact, *, amends: Fact | None = None, at: InputPlace = WHOLE) -> Fact:
        """Take a row into the submission. `at` is its place in the input, for messages."""
        row.line = self.before + len(self.rows) + 1
        row.ref = uuid.uuid5(self.space, str(row.line))
        row.origin = amends.origin if amends else row.ref
        row.amends = amends
        row.input_place = at
        _point_to_origins(row)
        self.rows.append(row)
        return row

    def signed(self) -> PersonText:
        """The name that the entry carries: the account's own, or `signed_as` where the account is no person's."""
        return PersonText.named(self.by.person, self.signed_as) if self.signed_as else self.by.signed()

    def first(self, model: type[F]) -> F:
        """The first row of that model: of the entry that stands where `repeated`, else of the rows added so far."""
        if not self.repeated:
            return next(r for r in self.rows if isinstance(r, model))
        return model.objects.filter(entry=self.entry).order_by("line").first()


def _point_to_origins(row: Fact) -> None:
    """Facts point to first versions, so that correcting a parent loses no child."""
    for field in row._meta.concrete_fields:
        if not field.is_relation or field.name == "amends":
            continue
        target = field.get_cached_value(row, default=None)
        if isinstance(target, Fact) and target.pk and not target.is_origin:
            setattr(row, field.name, target.origin_row())


def inputs_digest(what: str, inputs: dict) -> str:
    """A digest of what was asked, to tell a repeated request from another one under the same key."""
    kept = {k: v for k, v in inputs.items() if k not in ("by", "request_key", "confirmed")}
    return canon.digest({"what": what, "inputs": canon.render_value(kept)})


def answered(by, request_key) -> bool:
    """Whether this request was recorded already: what it made then is no reason to refuse it now. None never was."""
    return request_key is not None and _earlier(by, request_key) is not None


@prepared
def _of_request(account: int, request_key: UUID) -> models.QuerySet[Entry]:
    return Entry.objects.filter(account=account, request_key=request_key)


def _earlier(by, request_key) -> Entry | None:
    """The entry that stands under that key by that account."""
    return next(iter(_of_request(by.pk, uuid.UUID(str(request_key)))), None)


def locked_ledger(organisation: Organisation) -> Ledger:
    """The organisation's ledger, locked until the transaction ends."""
    locked = Ledger.objects.select_for_update()
    try:
        return locked.get(organisation_id=organisation.pk)
    except Ledger.DoesNotExist:
        Ledger.objects.get_or_create(organisation_id=organisation.pk)
        return locked.get(organisation_id=organisation.pk)


def _problems_of(row: Fact) -> list[Problem]:
    in_hand = {f.name for f in row._meta.concrete_fields if f.is_relation and _in_hand(row, f)}
    skip = in_hand | {"entry", "line", "ref", "origin", "amends"}
    try:
        row.clean_fields(exclude=skip)
    except ValidationError as error:
        return [Problem(row.input_place / name, " ".join(messages)) for name, messages in error.message_dict.items()]
    return _unseen(row)


def _unseen(row: Fact) -> list[Problem]:
    """Characters that nobody sees but that change how a line reads: controls, and marks that turn its direction."""
    found = []
    for field in row._meta.concrete_fields:
        value = getattr(row, field.attname)
        if isinstance(field, models.CharField) and isinstance(value, str) and (words := unseen_in(value)):
            found.append(Problem(row.input_place / field.name, words))
    return found


def unseen_in(text: str) -> str:
    """What to say of a text that holds such a character, "" when it holds none."""
    hidden = next((c for c in text if c in TURNING or (ord(c) < 32 and c not in "\n\r\t")), None)
    return f"This text holds a character that cannot be seen (U+{ord(hidden):04X}). Type it again." if hidden else ""


# Unicode's embeddings, overrides and isolates of text direction (UAX 9).
TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def _in_hand(row, field) -> bool:
    """Whether the row that is pointed to was read already or goes along: then nobody need ask whether it exists."""
    return field.get_cached_value(row, default=None) is not None


def _stamp(ledger: Ledger, now: datetime) -> datetime:
    """Now, but always later than the entry before: the order of logging is the order of numbers."""
    return max(now, ledger.logged_at + timedelta(microseconds=1)) if ledger.logged_at else now


def _write(sub: Submission, ledger: Ledger, content: str) -> None:
    if not sub.rows:
        raise Refused([Problem("", "There is nothing to record.")])
    problems = [p for row in sub.rows for p in _problems_of(row)]
    if problems:
        raise Refused(problems)
    now = clock.now()
    clock_off = leaps.off(ledger, now)
    logged_at = _stamp(ledger, now)
    entry = Entry(
        ledger=ledger,
        number=ledger.number + 1,
        form=canon.newest_form(),
        what=sub.what,
        request_key=sub.request_key,
        content=content,
        account=sub.by,
        logged_at=logged_at,
        logged_by=sub.signed(),
        logged_for=sub.logged_for,
        written_at=sub.written_at or device.written_at(sub.rows, logged_at),
        paper=sub.paper,
        clock_off=clock_off,
        previous=ledger.hash,
    )
    entry.hash = canon.hash_of(entry, sub.rows)
    entry.save()
    _save(sub.rows, entry)
    ledger.number, ledger.hash, ledger.logged_at = entry.number, entry.hash, entry.logged_at
    leaps.mark(ledger, now)
    ledger.save()
    sub.entry = entry


MANY = 50


def _save(rows: list[Fact], entry: Entry) -> None:
    """Write the rows. Many go kind by kind, in the order in which each kind first comes: parents before children."""
    for row in rows:
        row.entry = entry
    if len(rows) < MANY:
        for row in rows:
            row.save()
        return
    kinds: dict[type[Fact], list[Fact]] = {}
    for row in rows:
        kinds.setdefault(type(row), []).append(row)
    for model, of_kind in kinds.items():
        # Of Django's own query set: that of facts refuses, so that nobody writes them but this function.
        models.QuerySet(model).bulk_create(of_kind, batch_size=MANY)


@contextmanager
def _part(gathered: gathering.Gathering, organisation, by, what: str) -> Iterator[Submission]:
    """What a writer logs while rows are gathered: judged as ever, then a part of the one entry."""
    whole = gathered.whole
    part = Submission(organisation, by, whole.request_key if whole else "", what=what)
    if whole is not None:
        if whole.organisation.pk != organisation.pk:
            raise ValueError("One entry stands in one ledger.")
        part.space, part.before = whole.space, len(whole.rows)
    yield part
    if whole is not None:
        whole.rows += part.rows  # they are checked with all rows of the entry
    elif problems := [p for row in part.rows for p in _problems_of(row)]:
        raise Refused(problems)


def _refuse_without_triggers() -> None:
    # One look a process is enough: triggers only vanish when a table is rebuilt, and that is a deploy.
    from records.ledger import triggers

    if getattr(connection, "records_triggers_seen", False):
        return
    gone = triggers.faults(connection)
    if gone:
        _, name, what = gone[0]
        raise Refused(
            [Problem("", f"The database no longer protects its records ({name} {what}). "
                         "Nothing is recorded until `python manage.py migrate` has been run.")]
        )  # fmt: skip
    connection.records_triggers_seen = True


@contextmanager
def submission(
    organisation, by, request_key, what, inputs, *, logged_for=None, written_at=None, paper="", signed_as=""
) -> Iterator[Submission]:
    """Log one submission to the ledger of `organisation`.

    The same key by the same account with the same inputs yields a submission that is `repeated`; with other inputs
    it raises SubmissionConflict. Whatever is raised inside leaves nothing written. While rows of a table are gathered
    (`records.log.gathering`) nothing is written here: the rows join the entry of the table, whose key it has.
    """
    gathered = gathering.current()
    if gathered is not None:
        with _part(gathered, organisation, by, what) as part:
            yield part
        return
    sub = Submission(
        organisation, by, request_key, what=what, logged_for=logged_for, written_at=written_at, paper=paper,
        signed_as=signed_as,
    )  # fmt: skip
    content = inputs_digest(what, inputs)
    with transaction.atomic():
        _refuse_without_triggers()
        ledger = locked_ledger(organisation)
        ledger.organisation = organisation
        earlier = _earlier(by, request_key)
        if earlier is not None:
            if earlier.content != content:
                raise SubmissionConflict(earlier)
            sub.entry, sub.repeated = earlier, True
            yield sub
            return
        yield sub
        _write(sub, ledger, content)
        entry, clinic = sub.entry, organisation if isinstance(organisation, Clinic) else None
        transaction.on_commit(lambda: signals.logged.send(sender=Entry, entry=entry, clinic=clinic), robust=True)
