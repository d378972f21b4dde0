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
from tests.in_turn import ALL

TOP = Path(__file__).resolve().parents[2]
# Of these files an ordinary run takes what the database itself decides: locks, kills, triggers, types, what it counts
# as the same text. What is Python's alone is the same on both; STANDING_TESTS=all takes the files whole.
PARTS = {
    "tests/audit/upkeep/test_backup.py": [
        "test_what_is_put_back_is_the_same_record_to_the_last_byte[plain]",
        "test_what_was_logged_after_the_backup_is_not_in_it_and_told_by_the_heads",
        "test_a_set_of_the_other_database_is_refused_before_anything_is_written",
    ],
    "tests/audit/upkeep/test_ended_in_the_middle.py": [
        "test_a_restore_ended_anywhere_says_so_and_is_begun_again",
    ],
    "tests/records/test_corrections.py": [
        "test_the_second_of_two_people_is_told_who_was_first_and_when",
        "test_known_at_shows_what_could_be_known",
    ],
    "tests/records/test_submission.py": [
        "test_the_same_request_twice_is_one_entry",
        "test_what_is_raised_inside_leaves_nothing",
        "test_a_fault_while_the_rows_are_saved_leaves_nothing",
        "test_a_moment_is_stamped_when_the_ledger_is_held",
        "test_an_address_that_is_taken_is_not_opened_again",
    ],
    "tests/records/test_binders.py": [
        "test_a_flood_of_openings_is_counted_by_day",
        "test_an_issue_keeps_the_file_and_says_who_when_and_what",
    ],
    "tests/audit/issue/jobs/test_processes.py": [
        "test_a_worker_killed_in_the_middle_is_followed_by_another_and_the_binder_is_issued_once",
        "test_workers_beside_each_other_make_each_binder_once",
    ],
    "tests/audit/pages/test_found.py": [
        "test_everything_found_opens",
        "test_signs_are_looked_for_as_themselves",
        "test_it_takes_the_same_few_queries_whatever_is_found",
    ],
    # The counts of warm pages are the same on both databases.
    "tests/audit/pages/test_queries.py": [
        "test_the_first_page_after_an_entry_reads_the_tables_once_whatever_their_size",
    ],
}
# Each share makes its tables anew, which takes as long as some of its tests: no more of them than pay.
SHARES = {
    "writing": [
        "tests/records/test_append_only.py",
        "tests/records/test_corrections.py",
        "tests/records/test_submission.py",
        "tests/records/test_binders.py",
        "tests/records/ledger/test_triggers.py",
        "tests/records/ledger/test_tamper_check.py",
        "tests/records/ledger/test_what_is_found.py",
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
        "tests/audit/pages/test_queries.py",
    ],
}


def taken(file: str) -> list[str]:
    """The file, or its tests that an ordinary run takes."""
    if ALL or file not in PARTS:
        return [file]
    return [f"{file}::{name}" for name in PARTS[file]]


@pytest.fixture
def cluster(tmp_path_factory):
    return postgresql.running(tmp_path_factory)


@pytest.mark.parametrize("share", SHARES)
def test_records_are_kept_the_same_way_on_postgresql(cluster, share, tmp_path):
    dropped = ("PYTEST_XDIST_WORKER", "PYTEST_XDIST_TESTRUNUID", "PYTEST_CURRENT_TEST")
    env = {k: v for k, v in os.environ.items() if k not in dropped} | cluster
    env |= {"STANDING_DATA": str(tmp_path), "PGDATABASE": f"standing_{list(SHARES).index(share)}"}
    env = {"STANDING_KILLS": "3"} | env
    tests = [each for file in SHARES[share] for each in taken(file)]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *tests],
        cwd=TOP,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    assert " passed" in done.stdout.splitlines()[-1]
