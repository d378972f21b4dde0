"""A ledger of an earlier form, upgraded by a programme that was killed in the middle and started again.

The processes are ended by SIGKILL between two statements of a migration (`upgrading.py`), and `migrate` is started
again.
"""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

from records.ledger import canon
from tests import started

LEDGERS = Path(__file__).parents[1] / "ledgers"
FORMS = range(1, canon.newest_form() + 1)
# Of one form early, of another late: each before a statement that a migration from there still runs.
KILLED_BEFORE = {1: 90, 2: 1, 3: 40, 4: 7, 5: 12, 6: 1, 7: 1, 8: 1, 9: 1, 10: 1, 11: 1}
# Those written with the tables of today: no migration runs from there, so there is nothing to be killed in.
OF_TODAY: set[int] = set()


def upgraded(form: int, where: dict[str, str]) -> tuple[dict, dict]:
    """(what the code of that day said of its ledgers, what the tamper check finds of them after the upgrade).

    `where` names the empty database, and the folder for files, as the environment does.
    """
    dropped = ("PYTEST", "STANDING", "PG")
    env = {k: v for k, v in os.environ.items() if not k.startswith(dropped)} | where

    def run(*what):
        return started.run(["-m", "tests.records.ledger.upgrading", *what], env=env)

    loaded = run("load", form)
    assert loaded.returncode == 0, loaded.stderr[-3000:]
    killed = run("killed", KILLED_BEFORE.get(form, 1))
    assert killed.returncode == (0 if form in OF_TODAY else -signal.SIGKILL), killed.stderr[-3000:]
    done = run("finish")
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads((LEDGERS / f"form_{form}.json").read_text(encoding="utf-8")), json.loads(done.stdout)
