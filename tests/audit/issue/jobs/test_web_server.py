"""A real web server and its worker on a database of their own: whichever of them is killed, the binder is issued."""

from __future__ import annotations

import http.cookiejar
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import pytest
from django.conf import settings

from tests import started
from tests.audit.issue.jobs.process import SILENCE

PASSPHRASE = "correct kettle bellows"
SET_UP = f"""
import django; django.setup()
from audit.issue.seal import keys
from tests import world
keys.make_key("Keepers", world.NOW)
person = world.make().people["coordinator"]
person.set_password({PASSPHRASE!r}); person.save()
"""

# The server, and the workers that its pages start, as copies of a process that has imported the program.
COPIES = """
import sys
from django.core.management import execute_from_command_line
from audit.issue.jobs import workers
from tests import started
plain = workers.command
workers.command = lambda **how: started.words(plain(**how)[1:])
execute_from_command_line(sys.argv)
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory, migrated_in):
    """A data folder with the small world and a key, and the environment that points to it."""
    folder = tmp_path_factory.mktemp("site")
    started.address()  # in the environment from now on
    dropped = ("STANDING_DATABASE", "STANDING_WORKER", "PYTEST_CURRENT_TEST")
    env = {k: v for k, v in os.environ.items() if k not in dropped}
    env |= {"STANDING_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "audit.site.settings"}
    env |= {"STANDING_DEBUG": "1", "STANDING_BINDER_PROCESSES": "1", "STANDING_BINDER_SILENCE": str(SILENCE)}
    migrated_in(folder)
    done = started.run(["-c", SET_UP], env=env)
    assert done.returncode == 0, done.stderr
    return folder, env


class Site:
    """The web server, a browser of the coordinator, and a look into the database from outside.

    With `copies` server and workers are copies of a process that has imported the program (`tests/started`).
    """

    def __init__(self, folder: Path, env: dict, copies: bool = True):
        self.folder, self.env, self.server, self.copies = folder, env, None, copies
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self.browser = urllib.request.build_opener(jar)

    def start(self) -> None:
        words = ["runserver", "--noreload", "--skip-checks", f"127.0.0.1:{self.port}"]
        with (self.folder / "server.log").open("ab") as log:
            if self.copies:
                self.server = started.Process(["-c", COPIES, *words], env=self.env, stdout=log)
            else:
                words = [sys.executable, "manage.py", *words]
                self.server = subprocess.Popen(words, cwd=settings.BASE_DIR, env=self.env, stdout=log, stderr=log)
        self.until(lambda: self.open("/sign-in/")[1], "the server to answer")

    def kill(self) -> None:
        if self.server is not None:
            self.server.kill()
            self.server.wait()
            self.server = None

    def open(self, address: str, data: dict | None = None) -> tuple[str, bytes]:
        """Where a page was found in the end, and its content. Nothing while the server is not there."""
        sent = urllib.parse.urlencode(data).encode() if data is not None else None
        try:
            with self.browser.open(f"http://127.0.0.1:{self.port}{address}", sent, timeout=30) as answer:
                return urllib.parse.urlsplit(answer.url).path, answer.read()
        except urllib.error.HTTPError as error:
            raise AssertionError(f"{address}: {error.code} {error.read()[:2000]!r}") from None
        except (urllib.error.URLError, ConnectionError):
            return "", b""

    def send(self, address: str, **data) -> tuple[str, bytes]:
        token = re.search(rb'name="csrfmiddlewaretoken" value="([^"]+)"', self.open(address)[1])[1].decode()
        return self.open(address, data | {"csrfmiddlewaretoken": token})

    def until(self, true, what: str, pause: float = 0.05):
        end = time.monotonic() + 60
        while not (found := true()):
            assert time.monotonic() < end, f"waited in vain for {what}\n{self.said()}"
            time.sleep(pause)
        return found

    def said(self) -> str:
        logs = [self.folder / name for name in ("server.log", "make_binders.log")]
        return "\n".join(p.read_text(encoding="utf-8")[-3000:] for p in logs if p.exists())

    def row(self, columns: str, table: str = "audit_binderjob") -> tuple:
        with sqlite3.connect(f"file:{self.folder / 'standing.sqlite3'}?mode=ro", uri=True, timeout=20) as database:
            row = database.execute(f"SELECT {columns} FROM {table} ORDER BY id DESC LIMIT 1").fetchone()
        database.close()
        return row

    def kill_worker(self) -> None:
        """End the worker without warning while it makes the newest job."""
        self.until(lambda: self.row("state") == ("running",), "a worker to take the job")
        os.kill(int(self.row("worker")[0].split()[-2]), signal.SIGKILL)


@pytest.fixture
def site(place, request):
    running = Site(*place, **getattr(request, "param", {}))
    try:
        running.start()
        running.send("/sign-in/", username="coordinator", password=PASSPHRASE)
        yield running
    finally:
        running.kill()


def asked_for(site, to: str) -> str:
    """Send the form; the address of the page of the job."""
    address, _ = site.send("/clinic/first/binders/make/", **{"from": "2026-01-16", "to": to})
    assert re.fullmatch(r"/clinic/first/binders/[0-9a-f-]{36}/", address), site.said()
    return address


def downloaded(site, address: str) -> bytes:
    """Look at the page until it leads to the file; the file."""
    page = site.until(
        lambda: (found := site.open(address)[1]) and b"Download the binder" in found and found, "it", pause=0.3
    )
    assert b'http-equiv="refresh"' not in page
    file = re.search(rb'href="(/clinic/first/binders/issued/[^"]+)"', page)[1].decode()
    return site.open(file)[1]


@pytest.mark.parametrize("site", [{"copies": False}], indirect=True, ids=["as people start it"])
def test_a_page_starts_a_worker_and_leads_to_the_file(site):
    assert downloaded(site, asked_for(site, "2026-03-01")).startswith(b"%PDF")
    assert site.row("state, attempts") == ("done", 1)


def test_a_killed_worker_is_followed_by_another_when_somebody_looks(site):
    address = asked_for(site, "2026-03-02")
    site.kill_worker()
    assert downloaded(site, address).startswith(b"%PDF")
    assert site.row("state, attempts") == ("done", 2)


def test_a_worker_goes_on_when_the_web_server_is_killed(site):
    address = asked_for(site, "2026-03-03")
    site.kill()
    site.until(lambda: site.row("state") == ("done",), "the worker that was left alone")
    assert site.row("attempts") == (1,)
    site.start()
    assert downloaded(site, address).startswith(b"%PDF")


def test_after_both_were_killed_the_next_server_takes_the_binder_up_again(site):
    issued = site.row("count(*)", "records_binderissue")
    address = asked_for(site, "2026-03-04")
    site.kill_worker()
    site.kill()
    assert site.row("state, issue_ref") == ("running", None)
    site.start()
    assert downloaded(site, address).startswith(b"%PDF")
    assert site.row("state, attempts") == ("done", 2)
    assert site.row("count(*)", "records_binderissue") == (issued[0] + 1,)


def test_several_processes_empty_the_queue_together(place):
    """As whoever looks after a site runs it, where pages start no worker."""
    folder, env = place
    site = Site(folder, env | {"STANDING_WORKER": "none"})
    try:
        site.start()
        site.send("/sign-in/", username="coordinator", password=PASSPHRASE)
        for day in range(1, 5):
            address = asked_for(site, f"2026-02-0{day}")
        assert b"It waits for its turn: 3 binders before it" in site.open(address)[1]
        done = started.run(["-c", COPIES, "make_binders", "--once", "--processes=3"], env=site.env)
        assert done.returncode == 0, done.stderr
        assert done.stdout.count(": issued") == 4
        assert sum(map(int, re.findall(r"^(\d+) binders? taken off", done.stdout, re.MULTILINE))) == 4
        assert len(re.findall("taken off the queue", done.stdout)) == 3, "each process says what it did"
        assert downloaded(site, address).startswith(b"%PDF")
    finally:
        site.kill()
