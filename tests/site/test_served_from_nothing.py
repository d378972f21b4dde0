"""From an empty folder to a visit on record and a backup put back, by the commands of the operator's page alone.

Once as on a clinic's own machine, each command started as people do; once as on a server: PostgreSQL, a proxy before
it, a role that changes no table, the commands in copies of one process (`tests/started`).
"""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import psycopg
import pytest

from records.wording import MAKE_SAFE_STEPS
from tests import postgresql, started

from .served import Served, environment, in_a_copy, manage

PHRASE = "correct kettle bellows"
TODAY = datetime.now(UTC).date() - timedelta(days=1)
BEGIN = (
    "begin", "--username", "ines", "--first-name", "Ines", "--last-name", "Ink", "--clinic", "Quay Studio",
    "--clinic-slug", "quay", "--regime", "us-ca-body-art", "--programme", "body art", "--time-zone", "UTC",
    "--week-start", "Monday", "--since", (TODAY - timedelta(days=14)).isoformat(),
)  # fmt: skip
UNIT = {
    "label": "Unit 1", "maker": "Invented Works", "model": "Kettle", "serial": "S-1", "room": "Steri",
    "equipment_type": "gravity", "chamber_litres": "18", "on": (TODAY - timedelta(days=14)).isoformat(),
    "installed": "on", "positions-0-code": "seal", "positions-0-name": "Door seal", "positions-0-component": "seal",
    "positions-0-fit": "yes", "plan-1-code": "replace-seal", "plan-1-title": "Replace the seal",
    "plan-1-position": "seal", "plan-1-action": "replace", "plan-1-months": "24", "plan-1-source": "Invented manual",
}  # fmt: skip
VISIT = {
    "jobs-0-job-reason": "planned", "jobs-0-job-contamination": "declared clean", "report_number": "R-1",
    "jobs-0-conclusion-conclusion": "released", "on": TODAY.isoformat(),
}  # fmt: skip
VISIT |= {f"jobs-0-safe-{key.replace(' ', '-')}-done": "done" for key, _, _ in MAKE_SAFE_STEPS}


def visit_logged(site: Served) -> None:
    assert site.send("/sign-in/", username="ines", password=PHRASE) == "/"
    unit = site.send("/clinic/quay/units/register/", **UNIT)
    ref = re.search(r"[0-9a-f-]{36}", unit)[0]
    assert "/visits/" in site.send(f"/clinic/quay/visits/log/?units={ref}", **VISIT)
    assert b"Unit 1" in site.open("/clinic/quay/").content


def backed_up(run, env, folder) -> str:
    done = run(env, "backup", "--to", folder, "--encrypt")
    assert done.returncode == 0, done.stdout + done.stderr
    return re.match(r"(\S+\.tar\.enc): ", done.stdout)[1]


def put_back(run, env, path) -> None:
    done = run(env, "restore", "--from", path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "as in the set" in done.stdout and "so are the bytes of the binder of quay" in done.stdout


def test_a_clinics_own_machine(tmp_path):
    here = environment(STANDING_DATA=str(tmp_path / "own"), STANDING_BACKUP_PASSPHRASE="an invented long one")
    refused = manage(here, "serve")
    assert refused.returncode == 2 and "Run `manage.py begin`" in refused.stderr
    begun = manage(here | {"STANDING_PASSPHRASE": PHRASE}, *BEGIN)
    assert begun.returncode == 0, begun.stderr
    with Served(here) as site:
        visit_logged(site)
        ready = site.ask("/health/ready")
        assert ready.status == 200 and json.loads(ready.content)["ready"]
        assert site.open("/static/records/style.css").status == 200
        path = backed_up(manage, here, tmp_path / "sets")
    assert site.status == 0 and site.said[-1].endswith("Stopped.\n"), site.said
    assert (tmp_path / "own" / "secret-key").stat().st_mode & 0o077 == 0
    put_back(manage, here | {"STANDING_DATA": str(tmp_path / "back")}, path)
    with closing(sqlite3.connect(tmp_path / "back" / "standing.sqlite3")) as there:
        assert there.execute("SELECT report_number FROM records_visit").fetchall() == [("R-1",)]


def test_a_server_whose_role_may_change_no_table(tmp_path, tmp_path_factory):
    cluster = postgresql.running(tmp_path_factory)
    at = f"host=127.0.0.1 port={cluster['PGPORT']}"
    with psycopg.connect(f"{at} user=standing dbname=postgres", autocommit=True) as all_powers:
        for role in ("walk_owner", "walk_app"):
            all_powers.execute(f"CREATE ROLE {role} LOGIN")
        for name in ("walk", "walk_back"):
            all_powers.execute(f"CREATE DATABASE {name} OWNER walk_owner")
    here = environment(
        STANDING_DATA=str(tmp_path / "server"), STANDING_DATABASE="postgresql", PGHOST="127.0.0.1",
        PGPORT=cluster["PGPORT"], PGDATABASE="walk", STANDING_DEBUG="0", STANDING_SECRET_KEY="an-invented-key" * 5,
        STANDING_HOSTS="standing.example", STANDING_ORIGINS="https://standing.example",
        STANDING_ADDRESS="https://standing.example", STANDING_BACKUP_PASSPHRASE="an invented long one",
    )  # fmt: skip
    owner, app = here | {"PGUSER": "walk_owner"}, here | {"PGUSER": "walk_app"}
    begun = in_a_copy(owner | {"STANDING_PASSPHRASE": PHRASE}, *BEGIN)
    assert begun.returncode == 0, begun.stderr
    assert "owns" in in_a_copy(owner, "grant", "--to", "walk_owner").stderr
    assert manage(owner, "grant", "--to", "walk_app").returncode == 0
    by_proxy = {"Host": "standing.example", "X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}
    by_proxy |= {"Referer": "https://standing.example/"}
    with Served(app, "--behind-proxy", headers=by_proxy, words_of=started.words) as site:
        visit_logged(site)
        assert site.ask("/metrics").status == 404
        path = backed_up(in_a_copy, app, tmp_path / "sets")
    assert site.status == 0
    refused(f"{at} user=walk_app dbname=walk")
    put_back(in_a_copy, owner | {"PGDATABASE": "walk_back", "STANDING_DATA": str(tmp_path / "back")}, path)
    with psycopg.connect(f"{at} user=walk_owner dbname=walk_back") as there:
        assert there.execute("SELECT report_number FROM records_visit").fetchall() == [("R-1",)]


def refused(where: str) -> None:
    """What the role of the pages may not do, tried."""
    for statement in (
        "ALTER TABLE records_visit ADD COLUMN x int",
        "ALTER TABLE records_visit DISABLE TRIGGER ALL",
        "DROP TRIGGER records_visit_no_update ON records_visit",
        "CREATE OR REPLACE FUNCTION records_refuse() RETURNS trigger LANGUAGE sql AS 'SELECT NULL'",
        "UPDATE records_visit SET report_number = 'R-2'",
        "DELETE FROM records_entry",
        "TRUNCATE records_visit CASCADE",
        "CREATE TABLE mine (x int)",
        "INSERT INTO django_migrations (app, name, applied) VALUES ('records', 'x', now())",
        "SET session_replication_role = replica",
    ):
        with psycopg.connect(where) as there, pytest.raises(psycopg.errors.InsufficientPrivilege):
            there.execute(statement)
