"""A clock that leaps: ahead, entries wait; behind, they say so; what was known when stays true."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db import connection

from records import clock, log
from records import models as m
from records.ledger import tamper_check
from records.log import leaps
from tests import world as build

pytestmark = pytest.mark.django_db


class Machine:
    """Its clock and the seconds since it was started, moved by hand."""

    def __init__(self):
        self.now, self.passed, self.boot = datetime.now(UTC), 5000.0, "first start"

    def passes(self, **time) -> None:
        self.now += timedelta(**time)
        self.passed += timedelta(**time).total_seconds()

    def leaps(self, **time) -> None:
        self.now += timedelta(**time)


@pytest.fixture
def machine(monkeypatch):
    made = Machine()
    monkeypatch.setattr(clock, "now", lambda: made.now)
    monkeypatch.setattr(leaps, "steady", lambda: (made.boot, made.passed))
    if connection.vendor == "postgresql":  # its own clock is tried below
        monkeypatch.setattr(leaps, "_refuse_another_than_the_database", lambda now: None)
    return made


@pytest.fixture
def clinic(machine):
    """A clinic whose first entry was logged by this machine's clocks."""
    coordinator = build.account("coordinator", "Ana", "Coordinator")
    return build.clinic_of(coordinator, "first", "First Clinic")


def enter(clinic):
    return log.log_closure(
        by=m.Account.objects.get(), request_key=build.key(), clinic=clinic, from_on=build.TODAY, to_on=build.TODAY,
        why="holiday",
    ).entry  # fmt: skip


def test_time_that_passes_is_no_leap(clinic, machine):
    for step in ({"seconds": 1}, {"hours": 9}, {"days": 40}, {"seconds": 0}):
        machine.passes(**step)
        entry = enter(clinic)
        assert entry.clock_off is None and abs(entry.logged_at - machine.now) <= timedelta(microseconds=9)


@pytest.mark.parametrize("leap, waits", [(119, False), (121, True), (3 * 3600, True), (366 * 86400, True)])
def test_an_entry_waits_while_the_clock_is_ahead(clinic, machine, leap, waits):
    machine.passes(minutes=1)
    machine.leaps(seconds=leap)
    if not waits:
        assert enter(clinic).clock_off is None
        return
    before = m.Entry.objects.count()
    with pytest.raises(log.Refused, match="leapt.*Nothing was recorded") as refused:
        enter(clinic)
    assert leaps.ACCEPT in str(refused.value) and m.Entry.objects.count() == before
    machine.leaps(seconds=-leap)
    assert enter(clinic).clock_off is None and tamper_check.verify(clinic).whole


def test_a_clock_that_is_said_to_be_right_is_taken_once_and_the_entry_says_so(clinic, machine, capsys):
    machine.leaps(hours=3)
    with pytest.raises(SystemExit) as end:
        call_command("accept_clock")
    assert end.value.code == 2 and "--yes" in capsys.readouterr().err
    with pytest.raises(SystemExit) as end:
        call_command("accept_clock", "--yes")
    assert end.value.code == 0
    entry = enter(clinic)
    assert entry.clock_off == 3 * 3600 and entry.logged_at == machine.now
    assert enter(clinic).clock_off is None
    machine.leaps(hours=3)
    with pytest.raises(log.Refused):
        enter(clinic)


def test_a_clock_set_back_is_said_by_the_entry_and_the_order_stays(clinic, machine):
    before = m.Ledger.objects.get().logged_at
    machine.passes(hours=5)
    machine.leaps(hours=-2)
    entry = enter(clinic)
    assert entry.clock_off == -2 * 3600 and entry.logged_at == machine.now > before
    machine.leaps(days=-3)
    behind = enter(clinic)
    assert behind.clock_off < 0 and behind.logged_at == entry.logged_at + timedelta(microseconds=1)
    assert tamper_check.verify(clinic).whole


def test_the_list_of_entries_says_so(clinic, machine, client):
    machine.leaps(hours=-2)
    enter(clinic)
    client.force_login(m.Account.objects.get())
    page = " ".join(client.get("/clinic/first/entries/").content.decode().split())
    assert "the clock of the server was 2 hours behind what it should have said" in page


def test_after_a_new_start_only_the_last_entry_tells(clinic, machine):
    machine.boot, machine.passed = "second start", 10.0
    machine.leaps(days=30)
    assert enter(clinic).clock_off is None, "nobody can tell how long a machine was off"
    machine.boot = "third start"
    machine.leaps(days=-2)
    assert enter(clinic).clock_off == -2 * 86400


def test_what_was_known_then_is_what_was_logged_then(clinic, machine):
    """An entry that a leap would have stamped a year ahead would be unknown for a year."""
    machine.passes(hours=1)
    machine.leaps(days=365)
    with pytest.raises(log.Refused):
        enter(clinic)
    machine.leaps(days=-365)
    entry = enter(clinic)
    machine.passes(minutes=1)
    assert m.Entry.objects.filter(logged_at__lte=machine.now).latest("number") == entry


def test_the_flag_is_hashed(clinic, machine):
    machine.leaps(days=-2)
    entry = enter(clinic)
    entry.clock_off = None
    from records.ledger import canon

    rows = list(m.Closure.objects.all())
    assert canon.hash_of(entry, rows) != entry.hash


@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL has a clock of its own")
@pytest.mark.parametrize("hours, side", [(2, "ahead of"), (-2, "behind")])
def test_a_clock_that_differs_from_the_databases_waits(monkeypatch, hours, side):
    coordinator = build.account("coordinator", "Ana", "Coordinator")
    wrong = datetime.now(UTC) + timedelta(hours=hours)
    monkeypatch.setattr(clock, "now", lambda: wrong)
    with pytest.raises(log.Refused, match=f"2 hours {side}|1 hour {side}"):
        build.clinic_of(coordinator, "first", "First Clinic")
    assert not m.Entry.objects.exists()


def test_this_machine_counts_its_seconds():
    first, then = leaps.steady(), leaps.steady()
    assert first[0] == then[0] and first[1] <= then[1]
