"""The record keeping again, on PostgreSQL: a cluster of its own, the same tests in processes of their own.

Debian's `postgresql` package is enough; no running server is used or needed. Without it this is skipped, or fails
where the check script wants it. The cluster starts once in a run, whoever needs it first; each share of the tests has
a database of its own there, so that several processes of tests can run them at the same time.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import postgresql

TOP = Path(__file__).resolve().parents[2]
# Of the counts of queries those of the first page after an entry; the warm ones are the same on both databases.
COLD = (
    "tests/audit/pages/test_queries.py::test_the_first_page_after_an_entry_reads_the_tables_once_whatever_their_size"
)
WRITING = (
    "test_append_only", "ledger/test_triggers", "test_corrections", "ledger/test_tamper_check", "test_submission",
    "test_binders", "ledger/test_what_is_found",
)  # fmt: skip
# Each share makes its tables anew, which takes as long as some of its tests: no more of them than pay.
SHARES = {
    "writing": [
        *(f"tests/records/{name}.py" for name in WRITING),
        "tests/audit/upkeep/test_backup.py",
        "tests/audit/upkeep/test_ended_in_the_middle.py",
    ],
    "reading and at once": [
        "tests/records/test_concurrency.py",
        "tests/faults/test_kills.py",
        "tests/audit/issue/jobs/test_processes.py",
        "tests/audit/issue/jobs/test_queue.py",
        "tests/audit/gather/test_read.py",
        "tests/audit/pages/test_found.py",
        "tests/audit/gather/test_kept_facts.py",
        COLD,
    ],
}


@pytest.fixture
def cluster(tmp_path_factory):
    return postgresql.running(tmp_path_factory)


@pytest.mark.parametrize("share", SHARES)
def test_records_are_kept_the_same_way_on_postgresql(cluster, share, tmp_path):
    dropped = ("PYTEST_XDIST_WORKER", "PYTEST_XDIST_TESTRUNUID", "PYTEST_CURRENT_TEST")
    env = {k: v for k, v in os.environ.items() if k not in dropped} | cluster
    env |= {"STANDING_DATA": str(tmp_path), "PGDATABASE": f"standing_{list(SHARES).index(share)}"}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *SHARES[share]],
        cwd=TOP,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    assert " passed" in done.stdout.splitlines()[-1]
