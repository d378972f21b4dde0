"""Commands of the program in processes of their own that are copies of one which has imported it all.

A start takes a second of the processor, and nearly all of it goes into importing the same modules again. Here they
are imported once, by `parent.py`; each command is a copy of that process (fork) which reads the settings anew from
the environment it was given. It has a number, output and an exit status of its own, and can be killed anywhere.

    run(["manage.py", "check"], env=…)     as subprocess.run with `capture_output` and `text`
    Process(["-m", "tests.records.worker", …], env=…)     as subprocess.Popen, what it says in pipes of text
    words(["manage.py", "check"])     a command line that does the same, for whoever starts processes by one

What a start of its own imports, and in which order, is not seen so: each kind of command is started for real
somewhere.
"""

from __future__ import annotations

import atexit
import json
import os
import select
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
# Where the parent listens; whoever is started by a test finds it here and needs no parent of its own.
VARIABLE = "STANDING_TESTS_STARTED"
_lock = threading.Lock()


def address() -> str:
    """Where the parent listens, started now if need be. It ends with this process."""
    with _lock:
        if VARIABLE not in os.environ:
            os.environ[VARIABLE] = _parent()
    return os.environ[VARIABLE]


def _parent() -> str:
    folder = Path(tempfile.mkdtemp(prefix="standing-started-"))
    there = str(folder / "socket")
    plain = {k: v for k, v in os.environ.items() if not k.startswith(("STANDING_", "PG", "DJANGO", "PYTEST"))}
    parent = subprocess.Popen(
        [sys.executable, "-m", "tests.started.parent", there],
        cwd=TOP, env=plain | {"STANDING_DATA": str(folder)}, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    said = parent.stdout.readline()
    assert said == b"ready\n", "the parent of the processes does not start"

    def ended():
        parent.stdin.close()  # it goes when nobody holds this any more
        parent.wait(timeout=60)
        parent.stdout.close()

    atexit.register(ended)
    return there


def words(argv: list) -> list[str]:
    """A command line that runs a copy with these arguments, passes signals on, and ends as the copy ended."""
    return [sys.executable, "-I", "-S", str(Path(__file__).parent / "handle.py"), address(), *map(str, argv)]


class Process:
    """A copy that runs what `python` would under these arguments: `manage.py …`, `-m MODULE …` or `-c CODE …`."""

    def __init__(self, argv: list, *, env=None, cwd=TOP, stdin="", stdout=None) -> None:
        """`stdin` is text to be read; with `stdout` (a file) both outputs go there, else `communicate` has them."""
        self.args, self.returncode = list(map(str, argv)), None
        self._given = tempfile.TemporaryFile()
        self._given.write(stdin.encode())
        self._given.seek(0)
        self._out = stdout or tempfile.TemporaryFile()
        self._err = stdout or tempfile.TemporaryFile()
        self._kept = stdout is None
        asked = {"argv": self.args, "env": dict(os.environ if env is None else env), "cwd": str(cwd)}
        self._line = ask(address(), asked | {"umask": _umask()}, self._files())
        self._answers = self._line.makefile()
        self.pid = json.loads(self._answers.readline())["pid"]

    def _files(self) -> list[int]:
        return [each.fileno() for each in (self._given, self._out, self._err)]

    def poll(self) -> int | None:
        return self.returncode if self.returncode is not None else self._heard(0.0)

    def wait(self, timeout: float | None = None) -> int:
        if self.returncode is None and self._heard(timeout) is None:
            raise subprocess.TimeoutExpired(self.args, timeout)
        return self.returncode

    def _heard(self, seconds: float | None) -> int | None:
        """Its exit status once it has ended, waited for so long."""
        self._line.settimeout(None)
        end = None if seconds is None else time.monotonic() + seconds
        if not _readable(self._line, end):
            return None
        said = self._answers.readline()
        assert said, "the parent of the processes is gone"
        self.returncode = json.loads(said)["status"]
        self._answers.close()
        self._line.close()
        self._given.close()
        return self.returncode

    def communicate(self, timeout: float | None = None) -> tuple[str, str]:
        """Wait for its end; what it said, and what it said on standard error."""
        self.wait(timeout)
        return self.said(self._out), self.said(self._err)

    def said(self, file) -> str:
        if not self._kept:
            return ""
        file.seek(0)
        with file:
            return file.read().decode()

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """End it without warning, as a machine that loses its power."""
        self.send_signal(signal.SIGKILL)


def run(argv: list, *, env=None, cwd=TOP, stdin="", timeout: float | None = None) -> subprocess.CompletedProcess:
    """Run it to its end; one that takes longer than `timeout` seconds is killed, and raises TimeoutExpired."""
    process = Process(argv, env=env, cwd=cwd, stdin=stdin)
    try:
        out, err = process.communicate(timeout)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        raise
    return subprocess.CompletedProcess(process.args, process.returncode, out, err)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _readable(line: socket.socket, end: float | None) -> bool:
    left = None if end is None else max(0.0, end - time.monotonic())
    return bool(select.select([line], [], [], left)[0])


def ask(there: str, asked: dict, files: list[int]) -> socket.socket:
    """Ask the parent for a copy; the line on which it answers with its number, and at last how it ended."""
    from tests.started import handle

    return handle.ask(there, asked, files)
