"""Tables on their way into the record: judged and recorded, small ones at once and others by a worker of the queue.

A worker that dies leaves its table behind; the next one takes it up again. Recording is one transaction and its
entries have keys of their own, so that nothing is ever recorded by half or twice.
"""

from __future__ import annotations

import logging
import time
import uuid
import zlib
from collections.abc import Iterator
from dataclasses import asdict
from datetime import timedelta

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from audit.models import BroughtTable, RememberedColumns
from records import access, clock, log
from records.brought.mapping import Mapping, digest_of, propose
from records.brought.record import LONGEST_PAPER, Judge, RefusedNow, Verdict, judged, record
from records.brought.rows import RowReader
from records.files import table_file
from records.forms import EntryContext
from records.log import may_be_logged
from records.models import Account, Clinic
from records.views.unit_said import against_use
from records.wording import FROM_TABLE

from . import queue
from .run import TakenOver

LOG = logging.getLogger("audit.issue.jobs")
State = BroughtTable.State
AT_ONCE = 300  # rows that a page looks through while somebody waits; more go to a worker
TOLD_SECONDS = 0.5
KEPT = timedelta(days=30)  # working state, and the file of what was set aside
FAULT = (
    "The program has a fault and could not go on with this table. Nothing of it was recorded. What went wrong is in "
    "the log of the workers: show it to whoever looks after this site."
)
GONE = (
    "It was begun {} times, and each time the process ended before it was done. Nothing was recorded. Bring the rows "
    "in with fewer in a file."
)


def sheets_of(table: BroughtTable) -> list[table_file.TableSheet]:
    """The sheets as they were read."""
    return table_file.unpacked(zlib.decompress(table.cells))


def sheet_of(table: BroughtTable, mapping: Mapping) -> table_file.TableSheet:
    """The sheet that the mapping names."""
    return next(sheet for sheet in sheets_of(table) if sheet.name == mapping.sheet)


def aside_of(table: BroughtTable) -> frozenset[int]:
    """The rows that were set aside."""
    return frozenset(map(int, table.aside))


def take_in(clinic: Clinic, account: Account, kind: str, filename: str, packed: bytes, rows: int) -> BroughtTable:
    """Keep a table that was read, until its rows are recorded or it is put away. Old ones of the clinic go."""
    BroughtTable.objects.filter(clinic=clinic, asked_at__lt=clock.now() - KEPT).delete()
    return BroughtTable.objects.create(
        clinic=clinic, account=account, kind=kind, filename=filename[-200:], cells=zlib.compress(packed), rows=rows,
        asked_at=clock.now(),
    )  # fmt: skip


def proposal(table: BroughtTable, sheet: table_file.TableSheet) -> Mapping:
    """What the columns most likely hold: as this clinic chose it for such heads, else as the heads say."""
    from records.brought.kinds import KINDS

    first = propose(KINDS[table.kind], sheet)
    known = RememberedColumns.objects.filter(clinic=table.clinic_id, heads=digest_of(table.kind, first.heads)).first()
    return propose(KINDS[table.kind], sheet, Mapping.from_json(known.mapping)) if known else first


def remember(clinic: Clinic, mapping: Mapping) -> None:
    """Keep what the clinic chose, for the next table with such heads."""
    said = {"mapping": mapping.to_json(), "used_at": clock.now()}
    RememberedColumns.objects.update_or_create(
        clinic=clinic, heads=digest_of(mapping.kind, mapping.heads), defaults=said
    )


def paper_of(table: BroughtTable) -> str:
    """What its entries name as their source: the paper where one is named, and always the table."""
    paper = table.source.get("paper", "").strip()
    named = f"{FROM_TABLE}{table.filename}”, sheet “{table.mapping.get('sheet', '')}”"
    return f"{paper}; {named}"[:LONGEST_PAPER] if paper else named[:LONGEST_PAPER]


# ------------------------------------------------------------------------------------------------- the queue


def want(table: BroughtTable, step: str, *, at_once: bool = False) -> None:
    """Ask for the rows to be judged or recorded; small tables, or any `at_once`, in the process that asks."""
    table.step, table.state, table.problem = step, State.WAITING, ""
    table.done = table.attempts = 0
    table.worker, table.heartbeat, table.called_at = "", None, None
    table.save()
    if at_once or table.rows <= AT_ONCE:
        worker = f"page {uuid.uuid4().hex}"
        if taken := _take(worker, BroughtTable.objects.filter(pk=table.pk, state=State.WAITING)):
            run(taken, worker)
        table.refresh_from_db()


def take_next(worker: str) -> BroughtTable | None:
    """The oldest table that waits or whose worker is gone, now this worker's; None when there is nothing to do."""
    gone = BroughtTable.objects.filter(state=State.RUNNING, heartbeat__lt=queue.heard_since())
    for table in gone.filter(attempts__gte=queue.MOST_ATTEMPTS):
        _end(table, table.worker, State.FAILED, problem=GONE.format(table.attempts))
    again = Q(state=State.RUNNING, heartbeat__lt=queue.heard_since(), attempts__lt=queue.MOST_ATTEMPTS)
    return _take(worker, BroughtTable.objects.filter(Q(state=State.WAITING) | again))


def _take(worker: str, free) -> BroughtTable | None:
    if not free.exists():
        return None
    with transaction.atomic():
        table = free.select_for_update().order_by("pk").first()
        if table is None:
            return None
        table.state, table.worker, table.heartbeat = State.RUNNING, worker, clock.real()
        table.attempts += 1
        table.done = 0
        table.save(update_fields=["state", "worker", "heartbeat", "attempts", "done"])
        return table


def why_wrong(found: dict) -> dict[int, str]:
    """What is wrong with each wrong row; "" where that was one too many to be told."""
    why: dict[int, list[str]] = {row: [] for row in found.get("wrong", ())}
    for fault in found.get("faults", ()):
        said = f"{fault['head']}: {fault['message']}" if fault["head"] else fault["message"]
        why.setdefault(fault["row"], []).append(said)
    return {row: " ".join(each) for row, each in why.items()}


def _mine(table: BroughtTable, worker: str):
    return BroughtTable.objects.filter(pk=table.pk, state=State.RUNNING, worker=worker)


def _end(table: BroughtTable, worker: str, state: str, **said) -> bool:
    return bool(_mine(table, worker).update(state=state, ended_at=clock.now(), **said))


# ------------------------------------------------------------------------------------------------- one table


def run(table: BroughtTable, worker: str) -> None:
    """Judge or record a table that this worker took. Whatever happens is told in its row."""
    try:
        with timezone.override(may_be_logged.zone_of(table.clinic)):
            (_record if table.step == "record" else _judge)(table, worker)
    except TakenOver:
        LOG.warning("Table %s is in another worker's hands by now.", table.ref)
    except RefusedNow as changed:
        rows = sorted({fault.row for fault in changed.faults})
        found = table.found | {"wrong": rows, "faults": [asdict(fault) for fault in changed.faults]}
        _end(table, worker, State.JUDGED, found=found)
    except log.Refused as refused:
        _end(table, worker, State.FAILED, problem=" ".join(problem.message for problem in refused.problems))
    except log.SubmissionConflict as conflict:
        _end(table, worker, State.FAILED, problem=str(conflict))
    except Exception:
        LOG.exception("Table %s failed.", table.ref)
        _end(table, worker, State.FAILED, problem=FAULT)


def _judge_of(table: BroughtTable) -> tuple[Judge, Iterator]:
    account = Account.objects.get(pk=table.account_id)
    clinic = Clinic.objects.get(pk=table.clinic_id)
    rights = may_be_logged.rights_or_refuse(account, clinic)
    ground = EntryContext(clinic, account, rights, may_be_logged.zone_of(clinic))
    mapping = Mapping.from_json(table.mapping)
    reader = RowReader(ground, mapping, table.source.get("who", ""))
    judge = Judge(
        ground, reader, confirmed=table.confirmed, paper=paper_of(table),
        against=lambda unit, on: against_use(ground, unit, on),
    )  # fmt: skip
    kept = table_file.rows_of(zlib.decompress(table.cells), mapping.sheet)
    return judge, (each for each in kept if each[0] > mapping.head)


def _judge(table: BroughtTable, worker: str) -> None:
    judge, rows = _judge_of(table)
    verdict = judged(judge, rows, _teller(table, worker), aside_of(table))
    _end(table, worker, State.JUDGED, found=_told(verdict))


def _told(verdict: Verdict) -> dict:
    said = asdict(verdict) | {"asked": verdict.asked}
    days = {name: said[name].isoformat() if said[name] else "" for name in ("first", "last")}
    return said | days | {"known": len(verdict.known), "known_first": verdict.known[:5]}


def _record(table: BroughtTable, worker: str) -> None:
    judge, rows = _judge_of(table)
    also = (lambda: _file_picture(table, judge)) if table.picture else None
    with transaction.atomic():  # that it is done is written with its rows, or not at all
        entries = record(judge, rows, key=table.ref, aside=aside_of(table), also=also)
        remember(table.clinic, Mapping.from_json(table.mapping))
        if not _end(table, worker, State.DONE, entries=[entry.number for entry in entries]):
            raise TakenOver


def _file_picture(table: BroughtTable, judge: Judge) -> None:
    """The picture of the page, as a paper of the clinic in the same entry as the rows that were copied from it."""
    title = f"Page that rows were copied from: {table.source.get('paper') or table.filename}"[:200]
    log.log_document(
        by=judge.ground.account, request_key=None, clinic=judge.ground.clinic, kind="other", title=title,
        valid_from=judge.ground.today, content=bytes(table.picture), filename=table.source.get("picture", "page"),
    )  # fmt: skip


def _teller(table: BroughtTable, worker: str):
    """Tells now and then how many rows are looked through."""
    last, done = time.monotonic(), 0

    def told(row: int) -> None:
        nonlocal last, done
        done += 1
        if time.monotonic() - last > TOLD_SECONDS:
            last = time.monotonic()
            _mine(table, worker).update(done=done, heartbeat=clock.real())

    return told


def waits(table: BroughtTable) -> bool:
    """Whether the table stands still because nobody works on the queue."""
    free = Q(state=State.WAITING) | Q(state=State.RUNNING, heartbeat__lt=queue.heard_since())
    return BroughtTable.objects.filter(free, pk=table.pk).exists()


def may_still_log(table: BroughtTable) -> bool:
    """Whether whoever brought it may still record at the clinic today."""
    rights = access.rights(table.account, table.clinic)
    return rights is not None and rights.may_log
