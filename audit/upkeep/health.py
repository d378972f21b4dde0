"""Whether this installation can do its work now, and what needs attention: for a probe and for `doctor`."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cache
from pathlib import Path

from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Max

from audit.issue.seal import keys, token_key
from audit.models import BinderJob
from records import clock
from records.ledger import triggers
from records.models import Ledger

from . import place as p

# Common practice, no source: how much room is little, how old a backup may be, how long a binder may wait.
LEAST_FREE, LITTLE_FREE = 200 * 2**20, 2 * 2**30
BACKUP_AGE = timedelta(hours=26)
WAITS = timedelta(minutes=5)
# Two clocks that are further apart than this are not read a moment apart: one of them is wrong.
CLOCK_APART = timedelta(seconds=5)


class HealthState(StrEnum):
    """`MIND`: it works, and somebody should look. `STOP`: it cannot do its work."""

    WELL = "well"
    MIND = "mind"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class HealthCheck:
    """`said` is what is so, `way_out` what to do about it ("" where all is well), `value` the number behind it."""

    name: str
    state: HealthState
    said: str
    way_out: str = ""
    value: float | None = None


def look() -> list[HealthCheck]:
    """Every check, in an order in which the first that says stop is the one to mend first."""
    found = [_restored()]
    try:
        found += _database()
        if ready(found):
            found += [_clock(), _worker()]
    except DatabaseError as error:
        said = str(error).strip().splitlines()[0]
        found.append(
            HealthCheck(
                "database", HealthState.STOP, f"it cannot be read: {said}",
                "Look at STANDING_DATA, or STANDING_DATABASE and the PG… variables, and whether its server runs.",
            )
        )  # fmt: skip
    return [*found, *_token(), _disk(), _backup()]


def ready(found: list[HealthCheck]) -> bool:
    """Whether pages can be served."""
    return all(check.state is not HealthState.STOP for check in found)


def _restored() -> HealthCheck:
    if p.unfinished():
        way_out = "Run `manage.py restore` with the same set again."
        return HealthCheck(
            "restore", HealthState.STOP, "a backup was begun to be put back here and is not whole", way_out
        )
    return HealthCheck("restore", HealthState.WELL, "no backup is half put back")


@cache
def _wanted() -> frozenset:
    return frozenset(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)


def _database() -> list[HealthCheck]:
    return list(_of_the_database())


def _of_the_database() -> Iterator[HealthCheck]:
    applied = MigrationRecorder(connection).applied_migrations().keys()
    awaited = _wanted() - applied
    if not applied:
        yield HealthCheck(
            "database", HealthState.STOP, "it has no tables", "Run `manage.py begin`, or `manage.py restore`."
        )
        return
    if awaited:
        said = f"its tables are older than the program: {len(awaited)} migrations are not applied"
        yield HealthCheck("database", HealthState.STOP, said, "Make a backup, then run `manage.py migrate`.")
    else:
        yield HealthCheck("database", HealthState.WELL, f"{connection.vendor}, its tables are up to date")
    yield _writable()
    if gone := triggers.missing(connection):
        said = f"{len(gone)} are missing, such as {gone[0]}: records could be changed unseen"
        yield HealthCheck(
            "triggers", HealthState.STOP, said, "Run `manage.py migrate`, then `manage.py verify_ledger`."
        )
    else:
        yield HealthCheck("triggers", HealthState.WELL, "the tables refuse change and deletion")


def _writable() -> HealthCheck:
    if connection.vendor == "sqlite":
        file = Path(connection.settings_dict["NAME"])
        if not (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)):
            return HealthCheck(
                "writing", HealthState.STOP, f"{file} may not be written to", "Give the file and its folder back."
            )
    else:
        with connection.cursor() as cursor:
            cursor.execute("SHOW transaction_read_only")
            if cursor.fetchone()[0] == "on":
                return HealthCheck(
                    "writing", HealthState.STOP, "the database only answers", "Name the server that takes writes."
                )
    return HealthCheck("writing", HealthState.WELL, "the database takes entries")


def _clock() -> HealthCheck:
    newest, now = Ledger.objects.aggregate(at=Max("logged_at"))["at"], clock.real()
    way_out = "Set the machine's clock (NTP), and look at the entries logged meanwhile."
    if newest is not None and newest - now > CLOCK_APART and clock.stands() is None:
        said = f"this machine says {now:%Y-%m-%d %H:%M} UTC, before the last entry ({newest:%Y-%m-%d %H:%M})"
        return HealthCheck("clock", HealthState.MIND, said, way_out, (newest - now).total_seconds())
    apart = timedelta(0)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT clock_timestamp()")
            apart = abs(cursor.fetchone()[0] - clock.real())
        if apart > CLOCK_APART:
            said = f"this machine and the database are {apart.total_seconds():.0f} s apart"
            return HealthCheck("clock", HealthState.MIND, said, way_out, apart.total_seconds())
    return HealthCheck(
        "clock", HealthState.WELL, f"{now:%Y-%m-%d %H:%M:%S} UTC, after the last entry", "", apart.total_seconds()
    )


def _worker() -> HealthCheck:
    waiting = BinderJob.objects.filter(state=BinderJob.State.WAITING)
    alive = BinderJob.objects.filter(state=BinderJob.State.RUNNING, heartbeat__gt=clock.real() - WAITS).exists()
    oldest = waiting.order_by("pk").values_list("asked_at", flat=True).first()
    if oldest is not None and not alive and clock.now() - oldest > WAITS:
        said = f"{waiting.count()} binders wait, the oldest since {oldest:%Y-%m-%d %H:%M} UTC, and nobody makes them"
        return HealthCheck("worker", HealthState.MIND, said, "Start `manage.py make_binders`, and look at its log.")
    return HealthCheck("worker", HealthState.WELL, f"{waiting.count()} binders wait", "", float(waiting.count()))


def _token() -> Iterator[HealthCheck]:
    """Where the seal's key is in a token. The PIN is not tried: a wrong one, asked often, locks the token."""
    if not token_key.is_set():
        return
    try:
        found = [*token_key.troubles()]
        name, until = keys.name_in(keys.own_certificate().subject), keys.own_certificate().not_valid_after_utc
    except keys.NoKey as problem:
        found.append(str(problem))
    if found:
        said, way_out = f"binders cannot be signed: {found[0]}", "Binders that wait are made once it is set right."
        yield HealthCheck("seal", HealthState.MIND, said, way_out)
    else:
        yield HealthCheck(
            "seal", HealthState.WELL, f"{token_key.said()} is there, certificate of {name} to {until:%Y-%m-%d}"
        )


def _disk() -> HealthCheck:
    free = shutil.disk_usage(p.own().data).free
    said = f"{free / 2**30:.1f} GiB are free in {p.own().data}"
    if free < LEAST_FREE:
        return HealthCheck(
            "disk", HealthState.STOP, said, "Make room now: an entry that finds none is refused.", float(free)
        )
    if free < LITTLE_FREE:
        return HealthCheck("disk", HealthState.MIND, said, "Make room, or take a larger disk.", float(free))
    return HealthCheck("disk", HealthState.WELL, said, "", float(free))


def _backup() -> HealthCheck:
    way_out = "Run `manage.py backup --to DIR`, and have a timer do it every day."
    noted = p.noted(p.own().data / p.LAST_BACKUP)
    if noted is None:
        return HealthCheck("backup", HealthState.MIND, "none was made of this place yet", way_out)
    age = clock.real() - datetime.fromisoformat(noted["made_at"])
    said = f"the last was made {age / timedelta(hours=1):.0f} hours ago: {noted['file']}"
    if age > BACKUP_AGE:
        return HealthCheck("backup", HealthState.MIND, said, way_out, age.total_seconds())
    return HealthCheck("backup", HealthState.WELL, said, "", age.total_seconds())
