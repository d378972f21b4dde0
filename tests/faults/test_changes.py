"""A shortened run of `tests.faults.changes`, in a process of its own: nothing that is read changes unseen."""

from __future__ import annotations

import os

from tests import started
from tests.faults import changes


def test_whatever_changes_what_is_read_is_found(migrated_in, tmp_path):
    env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTEST", "STANDING", "PG"))}
    migrated_in(tmp_path)
    command = ["-m", "tests.faults.changes", "30", "--seed", "7", "--migrated", tmp_path / "standing.sqlite3"]
    done = started.run(command, env=env)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    assert "30 changes, seed 7: " in done.stdout and " found" in done.stdout
    assert "MISSED" not in done.stdout and "FELL OVER" not in done.stdout


def test_a_difference_is_told_by_its_column():
    before = {"t": [["a", "b"], (1, 2), (3, 4)], "u": [["c"], (5,)]}
    assert changes.differs(before, {"t": [["a", "b"], (1, 2), (3, 9)], "u": [["c"]]}) == {"t.b", "u.rows"}
    assert changes.differs(before, before) == set()
    assert changes.is_known("records_account.username") and not changes.is_known("records_unit.label")
