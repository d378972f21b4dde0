"""A server as people start it, in a process of its own, and a browser of pages and forms alone that signs in."""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlencode, urlsplit

from tests import started
from tests.records.page_form import form_of

TOP = Path(__file__).resolve().parents[2]
SECONDS = 180


def environment(**given: str) -> dict[str, str]:
    """That of a machine on which nothing is set but what is given."""
    plain = {k: v for k, v in os.environ.items() if not k.startswith(("STANDING_", "PG", "PYTEST", "DJANGO"))}
    return plain | given


def in_a_copy(env: dict, *words) -> subprocess.CompletedProcess:
    """Run a command in a copy of a process that has imported the program (`tests/started`)."""
    return started.run(["manage.py", *words], env=env, timeout=SECONDS)


def manage(env: dict, *words) -> subprocess.CompletedProcess:
    """Run a command as people type it."""
    return subprocess.run(
        [sys.executable, "manage.py", *map(str, words)],
        cwd=TOP, env=env, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL, timeout=SECONDS,
    )  # fmt: skip


class Served:
    """`with Served(env, "--threads", "4") as site`: it answers when the block begins, and is told to end after it.

    `words_of` makes a command line of the arguments of `python`; by itself it is started as people do.
    """

    def __init__(self, env: dict, *words: str, headers: dict | None = None, words_of=None) -> None:
        self.env, self.words, self.headers, self.cookies = env, words, headers or {}, {}
        self.words_of = words_of or (lambda argv: [sys.executable, *argv])

    def __enter__(self) -> Served:
        words = self.words_of(["manage.py", "serve", "--port", "0", *self.words])
        self.process = subprocess.Popen(
            words, cwd=TOP, env=self.env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            start_new_session=True,
        )  # fmt: skip
        self.said = []
        for line in self.process.stdout:
            self.said.append(line)
            if found := re.match(r"Serving http://127\.0\.0\.1:(\d+)/", line):
                self.port = int(found[1])
                return self
        raise AssertionError(f"it does not serve: {''.join(self.said)}")

    def __exit__(self, *_) -> None:
        self.process.send_signal(signal.SIGTERM)
        rest, _ = self.process.communicate(timeout=60)
        self.said.append(rest)
        self.status = self.process.returncode

    def kill(self) -> None:
        """As a machine that loses its power: the server and all that it started."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.communicate()

    def ask(self, address: str, sent: dict | None = None, **headers: str) -> SimpleNamespace:
        """One request, without following where it leads."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=SECONDS)
        headers = self.headers | {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())} | headers
        body = None
        if sent is not None:
            body = urlencode(sent | {"csrfmiddlewaretoken": self.token}, doseq=True)
            headers |= {"Content-Type": "application/x-www-form-urlencoded"}
        connection.request("POST" if sent is not None else "GET", address, body, headers)
        answer = connection.getresponse()
        content = answer.read()
        for line in answer.headers.get_all("Set-Cookie") or []:
            name, value = line.split(";")[0].split("=", 1)
            self.cookies[name] = value
        connection.close()
        return SimpleNamespace(status=answer.status, headers=answer.headers, content=content)

    def open(self, address: str) -> SimpleNamespace:
        """A page, with the token of its form kept for the next `send`."""
        answer = self.ask(address)
        if found := re.search(rb'name="csrfmiddlewaretoken" value="([^"]+)"', answer.content):
            self.token = found[1].decode()
        return answer

    def send(self, address: str, **typed) -> str:
        """Fill the page's form in and send it; the address where it leads."""
        page = self.open(address)
        assert page.status == 200, (address, page.status, page.content[:2000])
        answer = self.ask(address, form_of(page) | typed)
        assert answer.status == 302, (address, answer.status, answer.content[-3000:])
        return urlsplit(answer.headers["Location"]).path
