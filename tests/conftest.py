"""What every test shares: a test that commits leaves the database as every test found it, triggers included.

And the deep run of all laws: its profile, and the mark `laws` on every test that Hypothesis drives.
"""

from __future__ import annotations

import gc
import os
import random
import sqlite3
import threading
import time
from contextlib import ExitStack, closing
from itertools import count
from pathlib import Path

import hypothesis
import pytest
from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.signals import connection_created
from django.test import TransactionTestCase
from hypothesis import is_hypothesis_test

from records import clock
from records.ledger import triggers
from tests import examples, in_turn, kept, migrated, order, postgresql
from tests.site import one_browser

examples.register()


def pytest_itemcollected(item):
    """As soon as it is collected, as what is not marked by then is left out by `-m laws`."""
    if is_hypothesis_test(getattr(item, "obj", None)):
        item.add_marker("laws")
    if "migrated_in" in getattr(item, "fixturenames", ()):
        item.add_marker("django_db")  # the test's database is made only in a run where a test asks for it


@connection_created.connect
def _does_not_wait_for_the_disk(connection, **_):
    """What a test writes need not outlive the machine, and waiting for the disk takes long."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous = OFF")


# No test is timed: how busy the machine is never fails one. Of the examples a law names an ordinary run takes six in
# ten: everybody waits for it.
hypothesis.settings.register_profile(
    "untimed", max_examples=60, deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("untimed")

_plain_teardown = TransactionTestCase._fixture_teardown
# SQLite: the database as `migrate` made it, in memory.
_as_made = sqlite3.connect(":memory:", check_same_thread=False)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings, pytestconfig, tmp_path_factory):
    """As ever; and what `migrate` makes is made once for all processes, and for the next run of the same code."""
    cache = getattr(pytestconfig, "cache", None)
    kept.shared = postgresql.folder_of_the_run(tmp_path_factory.getbasetemp()) / "worlds"
    kept.shared.mkdir(exist_ok=True)
    migrated.copied_from(cache.mkdir("migrated") if cache else kept.shared)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """As ever; and the database is kept as it is before any test."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor == "sqlite":
        with django_db_blocker.unblock():
            connection.ensure_connection()
            connection.connection.backup(_as_made)


@pytest.fixture(scope="session")
def migrated_in(django_db_setup):
    """Lays out in a folder the SQLite database that `migrate` makes there, and nobody else may read it."""

    def lay_out(folder: Path) -> None:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        assert _as_made.execute("SELECT count(*) FROM sqlite_master").fetchone()[0], "nothing was migrated here"
        file = folder / "standing.sqlite3"
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        with closing(sqlite3.connect(file)) as fresh:
            _as_made.backup(fresh)

    return lay_out


def _answering() -> list[str]:
    """The threads in which a live server answers: a page, or what a page or its worker asked for by script."""
    return [each.name for each in threading.enumerate() if "process_request_thread" in each.name]


def _until_quiet(seconds: float) -> list[str]:
    """Wait until no page is being answered. A page that is still made while tables are emptied finds half of them."""
    end = time.monotonic() + seconds
    while (left := _answering()) and time.monotonic() < end:
        time.sleep(0.01)
    return left


def _put_back(connection) -> None:
    """Faster than emptying each table and making each trigger anew; and new rows get the keys they always get."""
    end = time.monotonic() + 20

    def in_time(status, remaining, total):
        assert time.monotonic() < end, "The test ended while somebody still held the database: end what it began."

    connection.ensure_connection()
    _as_made.backup(connection.connection, progress=in_time)


def _as_it_was_made(self):
    left = _until_quiet(20)
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor == "sqlite":
        _put_back(connection)
    elif kept.may_all():
        kept.emptied()
    else:
        with ExitStack() as lifted:
            for alias in self._databases_names(include_mirrors=False):
                lifted.enter_context(triggers.lifted(connections[alias]))
            _plain_teardown(self)
    assert not left, (
        f"The test ended while a browser was still connected to the live server ({left}): close its pages."
    )


TransactionTestCase._fixture_teardown = _as_it_was_made


@pytest.fixture(scope="session")
def _folders_of_keys(tmp_path_factory):
    """A folder for each test, made by whoever puts a key there: most have none."""
    top = tmp_path_factory.mktemp("keys")
    return (top / str(number) / "seal" for number in count())


@pytest.fixture(autouse=True)
def no_key_but_its_own(_folders_of_keys):
    """A test signs with a key that it made itself, never with the one of whoever runs the tests.

    Set and put back by hand: every test does it, and `settings` tells all of Django of a change.
    """
    usual, settings.SEAL_DIR = settings.SEAL_DIR, next(_folders_of_keys)
    ran = clock.stands() is None
    yield
    settings.SEAL_DIR = usual
    stands = clock.stands()
    if ran and stands is not None:
        clock.stand_at(None)
        pytest.fail(f"The test left the clock standing at {stands}: the next one would stand there too.")


def pytest_addoption(parser):
    parser.addoption(
        "--shuffle", metavar="SEED",
        help="run files and their tests in random order: “any”, or the seed that a run printed, for its order again",
    )  # fmt: skip


_takes_turns = pytest.StashKey[bool]()


def pytest_configure(config):
    given = getattr(config, "workerinput", {})
    if config.option.shuffle == "any":
        config.option.shuffle = given.get("shuffle") or str(random.randrange(10**6))
    config.stash[_takes_turns] = given.get("in_turn", in_turn.takes_turns(config))


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node):
    """Every process of the run has the same tests in the same order."""
    node.workerinput["shuffle"] = node.config.option.shuffle
    node.workerinput["in_turn"] = node.config.stash[_takes_turns]


def pytest_report_header(config):
    said = [f"in random order: --shuffle {config.option.shuffle}"] if config.option.shuffle is not None else []
    if config.stash[_takes_turns]:
        said.append(
            f"of slow tests one in {in_turn.EVERY}, as STANDING_TURN={in_turn.TURN}; STANDING_TESTS=all takes all"
        )
    return said


@pytest.fixture
def takes_turns(pytestconfig) -> bool:
    """Whether the run takes turns. A test that asks is never left for another day: it takes its own share."""
    return pytestconfig.stash[_takes_turns]


@pytest.fixture
def share(takes_turns):
    """Of many cases within one slow test those whose turn it is; all where the run takes no turns."""
    return lambda cases: in_turn.in_turn(cases, in_turn.EVERY, whole=not takes_turns)


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item, nextitem):
    """The browser is closed after the last of the tests that drive pages."""
    if nextitem is None or nextitem.get_closest_marker("browser") is None:
        one_browser.closed()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config):
    """One process more than there are processors, as tests wait for browsers, servers and processes they started."""
    return (os.cpu_count() or 1) + 1 if config.option.numprocesses == "auto" else None


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    if config.stash[_takes_turns]:
        _leave_some_for_another_day(config, items)
    if config.option.shuffle is not None:
        order.shuffled(items, config.option.shuffle)
    if hasattr(config, "workerinput"):
        order.long_ones_first(items)


def _leave_some_for_another_day(config, items: list[pytest.Item]) -> None:
    paths = ["" if "takes_turns" in getattr(item, "fixturenames", ()) else item.nodeid for item in items]
    left = in_turn.left_for_another_day(paths)
    config.hook.pytest_deselected(items=[item for item, other in zip(items, left, strict=True) if other])
    items[:] = [item for item, other in zip(items, left, strict=True) if not other]


@pytest.hookimpl(wrapper=True)
def pytest_collection(session):
    """What is found stays to the end: it is not looked through for rubbish while it grows."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()


def pytest_collection_finish():
    """The tests and modules found stay to the end: the collector need not look through them again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 50, 100)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    return order.ByFile(config, log) if config.getvalue("dist") == "load" else None


def pytest_unconfigure(config):
    """The process that began the run ends the cluster which its tests may have started."""
    factory = getattr(config, "_tmp_path_factory", None)
    if factory is not None and not hasattr(config, "workerinput"):
        postgresql.ended(factory.getbasetemp())
