"""What is wrong with an installation is named with its way out, by the page and by `doctor` alike."""

from __future__ import annotations

import json
from collections import namedtuple
from datetime import timedelta

import pytest
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder

from audit.models import BinderJob
from audit.upkeep import health
from audit.upkeep import place as p
from records import clock
from records.ledger import triggers
from records.models import Clinic
from tests import world as build

State = health.HealthState
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _well(settings, tmp_path, monkeypatch):
    """The small world, with a backup of an hour ago and room on the disk."""
    settings.DATA_DIR = tmp_path
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(health.shutil, "disk_usage", lambda path: usage(10**12, 0, 10**12))
    monkeypatch.setattr(clock, "real", lambda: build.NOW + timedelta(hours=1))
    monkeypatch.setattr(clock, "now", lambda: build.NOW + timedelta(hours=1))
    build.make()
    p.note(tmp_path / p.LAST_BACKUP, {"made_at": build.NOW.isoformat(), "file": "a.tar"})


def found(name) -> health.HealthCheck:
    return next(check for check in health.look() if check.name == name)


def test_all_is_well(command):
    assert [(c.name, c.way_out) for c in health.look() if c.state is not State.WELL] == []
    status, out, err = command("doctor")
    assert (status, err) == (0, "") and "well  triggers: the tables refuse change and deletion" in out


def test_a_trigger_that_is_gone_stops_it(command):
    name = next(iter(triggers.sql_for(triggers.tables()[0], connection.vendor)))
    with connection.cursor() as cursor:
        on = f' ON "{triggers.tables()[0]}"' if connection.vendor == "postgresql" else ""
        cursor.execute(f'DROP TRIGGER "{name}"{on}')
    assert found("triggers").state is State.STOP and name in found("triggers").said
    assert not health.ready(health.look())
    status, out, _ = command("doctor")
    assert status == 3 and "STOP  triggers" in out and "manage.py migrate" in out


def test_tables_of_an_older_program_stop_it(monkeypatch):
    applied = MigrationRecorder(connection).applied_migrations()
    newest = max(key for key in applied if key[0] == "records")
    MigrationRecorder.Migration.objects.filter(app=newest[0], name=newest[1]).delete()
    assert "1 migrations are not applied" in found("database").said and found("database").state is State.STOP


def test_a_database_that_is_away_is_said_and_not_raised(monkeypatch, command):
    def away(*args, **kwargs):
        raise OperationalError("connection refused\nsecond line")

    monkeypatch.setattr(health.MigrationRecorder, "applied_migrations", away)
    check = found("database")
    assert (check.state, check.said) == (State.STOP, "it cannot be read: connection refused")
    assert command("doctor")[0] == 3


def test_an_old_backup_and_none_are_to_be_minded(settings, command):
    p.note(settings.DATA_DIR / p.LAST_BACKUP, {"made_at": "2026-03-14T14:00:00+00:00", "file": "old.tar"})
    assert (found("backup").state, found("backup").value) == (State.MIND, 49 * 3600)
    status, out, _ = command("doctor", "--json")
    assert status == 1 and [c["check"] for c in json.loads(out) if c["state"] == "mind"] == ["backup"]
    (settings.DATA_DIR / p.LAST_BACKUP).unlink()
    assert "none was made" in found("backup").said and health.ready(health.look())


def test_a_half_restore_stops_it(settings):
    p.note(settings.DATA_DIR / p.RESTORING, {})
    assert found("restore").state is State.STOP and "manage.py restore" in found("restore").way_out


@pytest.mark.parametrize(
    ("free", "state"),
    [(200 * 2**20 - 1, State.STOP), (200 * 2**20, State.MIND), (2 * 2**30 - 1, State.MIND), (2 * 2**30, State.WELL)],
)
def test_how_much_room_there_is(monkeypatch, free, state):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(health.shutil, "disk_usage", lambda path: usage(10**12, 0, free))
    assert found("disk").state is state


@pytest.mark.parametrize(("back", "state"), [(5, State.WELL), (6, State.MIND)])
def test_a_clock_before_the_last_entry_is_to_be_minded(monkeypatch, back, state):
    from records.models import Ledger

    newest = max(Ledger.objects.exclude(logged_at=None).values_list("logged_at", flat=True))
    monkeypatch.setattr(clock, "real", lambda: newest - timedelta(seconds=back))
    said = found("clock")
    assert said.state is (State.MIND if connection.vendor == "postgresql" else state)


@pytest.mark.parametrize(("minutes", "state"), [(5, State.WELL), (6, State.MIND)])
def test_a_binder_that_nobody_makes_is_to_be_minded(minutes, state):
    asked = build.NOW + timedelta(hours=1, minutes=-minutes)
    days = {"from_on": build.TODAY, "to_on": build.TODAY, "as_of": build.TODAY}
    BinderJob.objects.create(clinic=Clinic.objects.first(), asked_at=asked, page="a4", **days)
    assert found("worker").state is state
