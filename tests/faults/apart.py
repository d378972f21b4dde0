"""Copies of this process (fork) that write to its test's database, and a web server among them."""

from __future__ import annotations

import json
import os
import signal
import socket
import traceback
import warnings
from collections.abc import Callable
from datetime import timedelta

from django.db import connections

from records import clock
from tests import world as build


class Apart:
    """A copy of this process that does the work; what it returns comes back as JSON, None when it was killed."""

    def __init__(self, work: Callable[[], object]) -> None:
        connections.close_all()  # a copy must not go on with its parent's
        self._answer, there = os.pipe()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # threads of the test runner take no part in it
            self.pid = os.fork()
        if self.pid == 0:
            os.close(self._answer)
            _work(work, there)
        os.close(there)

    def kill(self) -> None:
        """End it without warning, as a machine that loses its power."""
        os.kill(self.pid, signal.SIGKILL)

    def ended(self):
        """Wait for its end."""
        with os.fdopen(self._answer, "rb") as answer:
            said = answer.read()
        _, status = os.waitpid(self.pid, 0)
        if os.WIFSIGNALED(status):
            assert os.WTERMSIG(status) == signal.SIGKILL
            return None
        assert status == 0, "the work ended with a fault, told above"
        return json.loads(said)


def _work(work: Callable[[], object], there: int) -> None:
    status = 1
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        clock.stand_at(build.NOW + timedelta(hours=1))
        os.write(there, json.dumps(work()).encode())
        status = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(status)


def listening() -> socket.socket:
    """A socket that copies serve one after the other: who asks while none is there waits."""
    there = socket.socket()
    there.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    there.bind(("127.0.0.1", 0))
    there.listen(256)
    return there


def serving(there: socket.socket, threads: int = 8) -> Apart:
    """The web server that `serve` runs, on that socket."""

    def work():
        import logging

        import waitress
        from django.core.wsgi import get_wsgi_application

        logging.disable(logging.WARNING)
        waitress.serve(get_wsgi_application(), sockets=[there], threads=threads, _quiet=True)

    return Apart(work)
