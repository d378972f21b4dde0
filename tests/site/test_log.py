"""The log: one line with its time on standard error, from the level that the environment names."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.site.test_project import PRODUCTION

TOP = Path(__file__).resolve().parents[2]
LINE = r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d,\d{3} "
SAY = """
import django; django.setup()
import logging
for name in ("audit.issue.jobs", "records.log", "another"):
    logging.getLogger(name).info("looked at %s", name)
    logging.getLogger(name).warning("minded %s", name)
try:
    1 / 0
except ZeroDivisionError:
    logging.getLogger("audit.judge.evaluate").exception("not judged")
"""


def say(tmp_path, program=SAY, **env):
    """Run it in a process of its own and return it."""
    plain = {k: v for k, v in os.environ.items() if k != "STANDING_LOG_LEVEL"}
    env = plain | {"DJANGO_SETTINGS_MODULE": "audit.site.settings", "STANDING_DATA": str(tmp_path)} | env
    return subprocess.run(
        [sys.executable, "-c", program], cwd=TOP, env=env, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(
    ("env", "lines"),
    [
        ({}, ["WARNING audit.issue.jobs: minded audit.issue.jobs", "WARNING records.log: minded records.log"]),
        (
            {"STANDING_LOG_LEVEL": "INFO"} | PRODUCTION,
            [
                "INFO audit.issue.jobs: looked at audit.issue.jobs",
                "WARNING audit.issue.jobs: minded audit.issue.jobs",
                "INFO records.log: looked at records.log",
                "WARNING records.log: minded records.log",
                "WARNING another: minded another",
            ],
        ),
        ({"STANDING_LOG_LEVEL": "ERROR"}, []),
    ],
    ids=["left out", "INFO on a server", "ERROR"],
)
def test_a_line_says_when_how_bad_where_and_what(tmp_path, env, lines):
    done = say(tmp_path, **env)
    said = [re.sub(f"^{LINE}", "", line) for line in done.stderr.splitlines() if re.match(LINE, line)]
    assert (done.returncode, done.stdout) == (0, "")
    assert said == [*lines, "ERROR audit.judge.evaluate: not judged"]
    assert "Traceback (most recent call last):" in done.stderr and "ZeroDivisionError" in done.stderr


def test_a_level_that_is_none_is_refused_with_those_there_are(tmp_path):
    done = say(tmp_path, STANDING_LOG_LEVEL="loud")
    assert done.returncode != 0
    assert "STANDING_LOG_LEVEL is “loud”. Choose DEBUG, INFO, WARNING, ERROR or CRITICAL." in done.stderr


def test_a_command_logs_a_fault_of_the_program_with_where_it_is(tmp_path):
    """As `manage.py` runs one: what becomes an open item is in the log with its traceback."""
    program = """
import django; django.setup()
from audit.judge import evaluate
from tests.fact_builders import clinic, unit
from datetime import date
def broken(situation): raise ArithmeticError("an invented fault")
evaluate.stand = broken
print(evaluate.evaluate(clinic(unit()), date(2026, 3, 16)).units[0].findings[0].rule)
"""
    done = say(tmp_path, program, PYTHONIOENCODING="utf-8")
    assert done.stdout == "not-judged\n", done.stderr
    said = "ERROR audit.judge.evaluate: Unit unit-1 could not be judged as of 2026-03-16."
    assert re.match(LINE + re.escape(said), done.stderr)
    assert "in broken" in done.stderr and "ArithmeticError: an invented fault" in done.stderr
