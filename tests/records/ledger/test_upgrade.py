"""From each ledger that was ever written to today, on PostgreSQL, with the programme killed in the middle.

On SQLite `test_old_ledgers.py` does the same with each form, and goes on from there. An ordinary run takes the first
and the newest form here; STANDING_TESTS=all takes each.
"""

from __future__ import annotations

import os

import psycopg
import pytest

from tests import postgresql
from tests.in_turn import ALL
from tests.records.ledger.upgraded import FORMS, KILLED_BEFORE, OF_TODAY, upgraded

TAKEN = FORMS if ALL else (FORMS[0], FORMS[-1])


def database_of_its_own(tmp_path_factory, form: int) -> dict[str, str]:
    """In the run's cluster."""
    env = postgresql.running(tmp_path_factory)
    name = f"upgrade_{form}_{os.getpid()}"
    where = f"host={env['PGHOST']} port={env['PGPORT']} user={env['PGUSER']} dbname=postgres"
    with psycopg.connect(where, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")
    return env | {"PGDATABASE": name}


@pytest.mark.parametrize("form", TAKEN)
def test_an_upgrade_that_was_killed_goes_on_and_every_entry_stands(tmp_path_factory, tmp_path, form):
    database = database_of_its_own(tmp_path_factory, form)
    said, found = upgraded(form, {"STANDING_DATA": str(tmp_path)} | database)
    assert found["faults"] == [] and found["triggers"] == []
    assert found["ledgers"] == said["ledgers"] and found["kinds"] == said["kinds"]


def test_every_form_is_killed_somewhere():
    assert set(KILLED_BEFORE) | OF_TODAY == set(FORMS) and not set(KILLED_BEFORE) & OF_TODAY
