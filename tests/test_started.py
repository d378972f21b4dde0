"""A copy of the process that has imported the program is a process like one that `python` started."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from tests import started

# What is run, its exit status, what it says, and how the last line on standard error begins.
ENDS = [
    ("print('said')", 0, "said\n", ""),
    ("import sys; sys.exit(5)", 5, "", ""),
    ("raise SystemExit('words')", 1, "", "words"),
    ("1 / 0", 1, "", "ZeroDivisionError"),
    ("import os; os.kill(os.getpid(), 9)", -signal.SIGKILL, "", ""),
    ("import sys; print(sys.stdin.read(), sys.argv[1:])", 0, "given ['a', 'b']\n", ""),
]


@pytest.mark.parametrize(("code", "status", "said", "err"), ENDS, ids=[f"{n}" for n in range(len(ENDS))])
def test_it_ends_and_says_what_python_would(code, status, said, err):
    argv = ["-c", code, "a", "b"]
    copy = started.run(argv, stdin="given")
    for words in (started.words(argv), [sys.executable, *argv]):
        other = subprocess.run(words, input="given", capture_output=True, text=True, check=False)
        assert (other.returncode, other.stdout) == (copy.returncode, copy.stdout) == (status, said)
        assert other.stderr.splitlines()[-1:] == copy.stderr.splitlines()[-1:]
    assert copy.stderr.rpartition("\n")[0].rpartition("\n")[2].startswith(err)


def test_settings_are_those_of_its_environment(tmp_path):
    code = "from django.conf import settings as s; d = s.DATABASES['default']; print(d['ENGINE'], d['NAME'], s.DEBUG)"
    env = {k: v for k, v in os.environ.items() if not k.startswith(("STANDING_DATA", "PG"))}
    env |= {"DJANGO_SETTINGS_MODULE": "audit.site.settings"}
    here = started.run(["-c", code], env=env | {"STANDING_DATA": str(tmp_path), "STANDING_DEBUG": "1"})
    assert here.stdout.split()[1:] == [str(tmp_path / "standing.sqlite3"), "True"], here.stderr
    there = started.run(["-c", code], env=env | {"STANDING_DATABASE": "postgresql", "PGDATABASE": "walk"})
    assert there.stdout.split()[:2] == ["django.db.backends.postgresql", "walk"], there.stderr


def test_a_command_says_the_same_as_when_it_is_started(tmp_path):
    env = os.environ | {"STANDING_DATA": str(tmp_path)}
    argv = ["manage.py", "regimes", "base"]
    copy = started.run(argv, env=env)
    plain = subprocess.run([sys.executable, *argv], cwd=started.TOP, env=env, capture_output=True, text=True)
    assert copy.returncode == plain.returncode == 0 and copy.stdout == plain.stdout != ""


def test_it_is_killed_with_whoever_stands_for_it(tmp_path):
    """And a signal is passed on to it."""
    code = "import os, time; print(os.getpid(), flush=True); time.sleep(60)"
    for number in (signal.SIGTERM, signal.SIGKILL):
        with subprocess.Popen(started.words(["-c", code]), stdout=subprocess.PIPE, text=True) as handle:
            pid = int(handle.stdout.readline())
            assert pid != handle.pid
            handle.send_signal(number)
            assert handle.wait(timeout=60) == -number
        end = time.monotonic() + 60
        while os.path.exists(f"/proc/{pid}"):
            assert time.monotonic() < end, "the copy goes on"
            time.sleep(0.02)


def test_one_that_takes_too_long_is_killed():
    with pytest.raises(subprocess.TimeoutExpired):
        started.run(["-c", "import time; time.sleep(60)"], timeout=0.5)
