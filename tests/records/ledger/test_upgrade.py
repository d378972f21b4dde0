"""From each ledger that was ever written to today, on both databases, with the programme killed in the middle.

The processes are ended by SIGKILL between two statements of a migration, and `migrate` is started again. An ordinary
run takes each form on SQLite, and the first and the newest on PostgreSQL; STANDING_UPGRADES=all takes each on both.
"""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import psycopg
import pytest

from records.ledger import canon
from tests import postgresql, started

LEDGERS = Path(__file__).parents[1] / "ledgers"
FORMS = range(1, canon.newest_form() + 1)
# Of one form early, of another late: each before a statement that a migration from there still runs.
KILLED_BEFORE = {1: 90, 2: 1, 3: 40, 4: 7, 5: 12, 6: 1, 7: 1, 8: 1}
# Those written with the tables of today: no migration runs from there, so there is nothing to be killed in.
OF_TODAY: set[int] = {9}


def on_sqlite(tmp_path_factory, tmp_path, form: int) -> dict[str, str]:
    return {"STANDING_DATABASE": "sqlite"}


def on_postgresql(tmp_path_factory, tmp_path, form: int) -> dict[str, str]:
    """A new database in the run's cluster."""
    env = postgresql.running(tmp_path_factory)
    name = f"upgrade_{form}_{os.getpid()}"
    where = f"host={env['PGHOST']} port={env['PGPORT']} user={env['PGUSER']} dbname=postgres"
    with psycopg.connect(where, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")
    return env | {"PGDATABASE": name}


BY_NAME = {"sqlite": on_sqlite, "postgresql": on_postgresql}
ON_BOTH = FORMS if os.environ.get("STANDING_UPGRADES") == "all" else (1, canon.newest_form())
CASES = [("sqlite", form) for form in FORMS] + [("postgresql", form) for form in ON_BOTH]


@pytest.fixture
def place(tmp_path_factory, tmp_path):
    """Gives, for a database and a form, the environment in which the programme has a database of its own."""
    dropped = ("PYTEST", "STANDING", "PG")
    usual = {k: v for k, v in os.environ.items() if not k.startswith(dropped)}

    def made(name: str, form: int) -> dict[str, str]:
        return usual | {"STANDING_DATA": str(tmp_path)} | BY_NAME[name](tmp_path_factory, tmp_path, form)

    return made


def run(env: dict[str, str], *what):
    return started.run(["-m", "tests.records.ledger.upgrading", *what], env=env)


@pytest.mark.parametrize(("database", "form"), CASES)
def test_an_upgrade_that_was_killed_goes_on_and_every_entry_stands(place, database, form):
    env, said = place(database, form), json.loads((LEDGERS / f"form_{form}.json").read_text(encoding="utf-8"))
    loaded = run(env, "load", form)
    assert loaded.returncode == 0, loaded.stderr[-3000:]
    killed = run(env, "killed", KILLED_BEFORE.get(form, 1))
    assert killed.returncode == (0 if form in OF_TODAY else -signal.SIGKILL), killed.stderr[-3000:]
    done = run(env, "finish")
    assert done.returncode == 0, done.stderr[-3000:]
    found = json.loads(done.stdout)
    assert found["faults"] == [] and found["triggers"] == []
    assert found["ledgers"] == said["ledgers"] and found["kinds"] == said["kinds"]


def test_every_form_is_killed_somewhere():
    assert set(KILLED_BEFORE) | OF_TODAY == set(FORMS) and not set(KILLED_BEFORE) & OF_TODAY
