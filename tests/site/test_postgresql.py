"""The record keeping again, on PostgreSQL: a cluster of its own, the same tests in a process of their own.

Debian's `postgresql` package is enough; no running server is used or needed. Without it this is skipped, or fails
where the check script wants it.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
SUITES = ["append_only", "triggers", "ledger", "submission", "corrections", "concurrency", "binders", "together"]
JOBS = ["tests/audit/issue/jobs/test_queue.py", "tests/audit/issue/jobs/test_processes.py"]
# Of the counts of queries those of the first page after an entry; the warm ones are the same on both databases.
COLD = (
    "tests/audit/pages/test_queries.py::test_the_first_page_after_an_entry_reads_the_tables_once_whatever_their_size"
)
PAGES = ["tests/audit/pages/test_found.py", "tests/audit/gather/test_kept_facts.py", COLD]


def programs() -> Path | None:
    """The folder of the newest PostgreSQL server on this machine."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[-3]))
    return found[-1].parent if found else None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def as_server(*args) -> None:
    """Run a program of the server: it refuses to run as root, so then as the user that the package made."""
    prefix = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    done = subprocess.run([*prefix, *map(str, args)], cwd="/", capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture
def cluster(tmp_path_factory):
    """Environment of a fresh cluster with a role that may make databases."""
    where = programs()
    if where is None:
        if os.environ.get("STANDING_NEEDS_POSTGRESQL"):
            pytest.fail("PostgreSQL is not installed.")
        pytest.skip("PostgreSQL is not installed (Debian package postgresql)")
    # Not below pytest's own folder, which only its owner may enter.
    folder = Path(f"/tmp/standing-postgresql-{os.getpid()}")
    folder.mkdir(mode=0o700)
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    port, data = free_port(), folder / "data"
    quick = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"  # nothing here must outlive the test
    options = f"-p {port} -k {folder} {quick} -c listen_addresses=127.0.0.1"
    try:
        as_server(where / "initdb", "-D", data, "-A", "trust", "-U", "standing", "--encoding=UTF8", "--locale=C")
        as_server(where / "pg_ctl", "-D", data, "-o", options, "-l", folder / "log", "-w", "start")
        yield {
            "STANDING_DATABASE": "postgresql",
            "STANDING_DATA": str(tmp_path_factory.mktemp("postgresql")),
            "PGHOST": "127.0.0.1",
            "PGPORT": str(port),
            "PGUSER": "standing",
            "PGDATABASE": "postgres",
        }
    finally:
        if (data / "postmaster.pid").exists():
            as_server(where / "pg_ctl", "-D", data, "-m", "fast", "stop")
        shutil.rmtree(folder, ignore_errors=True)


def test_records_are_kept_the_same_way_on_postgresql(cluster):
    files = [f"tests/records/test_{name}.py" for name in SUITES] + ["tests/audit/gather/test_read.py", *JOBS, *PAGES]
    dropped = ("PYTEST_XDIST_WORKER", "PYTEST_XDIST_TESTRUNUID", "PYTEST_CURRENT_TEST")
    env = {k: v for k, v in os.environ.items() if k not in dropped} | cluster
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *files],
        cwd=TOP,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    assert " passed" in done.stdout.splitlines()[-1]
