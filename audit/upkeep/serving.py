"""The pages, the worker that makes binders and the daily backup, kept running by one command.

The web server answers in this process; the worker is a process of its own that is begun again when it ends. Requests
wait in order for one of the threads, so that on the embedded database writes come one after the other.
"""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.management import call_command

from records import clock

from . import health, proof
from . import place as p

LOG = logging.getLogger("audit.upkeep")
COLLECTED = "static-of.json"
AGAIN_SECONDS, LONGEST_PAUSE = 1.0, 60.0
EVERY = timedelta(hours=24)


class CannotServe(Exception):
    """It was not begun: the message says what is to be done first."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Where it listens, how many threads answer, and where the daily backup goes (None: nobody makes one here)."""

    host: str
    port: int
    threads: int
    behind_proxy: bool
    worker: bool
    backup_to: Path | None


def refuse_unfit() -> None:
    """Raises CannotServe when a page could not be served: no tables, tables of another version, triggers missing."""
    for check in health.look():
        if check.state is health.HealthState.STOP and check.name in ("restore", "database", "triggers"):
            raise CannotServe(f"{check.name}: {check.said}. {check.way_out}")


def collect_static() -> None:
    """Lay out the style sheet and scripts for serving, unless that was done for this very program."""
    note, digest = Path(settings.DATA_DIR) / COLLECTED, proof.program_said()["digest"] + str(_newest_static())
    if p.noted(note) != {"program": digest}:
        call_command("collectstatic", interactive=False, verbosity=0, clear=True)
        p.note(note, {"program": digest})


def _newest_static() -> list[int]:
    found = [f for app in ("audit", "records") for f in (Path(settings.BASE_DIR) / app / "static").rglob("*.*")]
    return [len(found), max(f.stat().st_mtime_ns for f in found)]


def serve(wanted: Wanted, told=print) -> None:
    """Serve until the process is told to end; what it started ends with it. Raises CannotServe and OSError."""
    import waitress
    from django.core.wsgi import get_wsgi_application

    refuse_unfit()
    collect_static()
    limits = {"channel_timeout": 150, "connection_limit": 500, "backlog": 256, "max_request_body_size": 60 * 2**20}
    server = waitress.create_server(
        get_wsgi_application(), host=wanted.host, port=wanted.port, threads=wanted.threads, ident="", **limits,
        **_proxy(wanted.behind_proxy),
    )  # fmt: skip
    kept = KeptRunning(_commands(wanted))
    try:
        kept.start()
        told(f"http://{wanted.host}:{server.effective_port}/")
        server.run()
    finally:
        kept.end()
        server.close()


def _proxy(behind: bool) -> dict:
    if not behind:
        # What says that a request was passed on stays, so that `site.watched` sees it.
        return {"clear_untrusted_proxy_headers": False}
    names = {"x-forwarded-proto", "x-forwarded-for"}
    return {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": names, "trusted_proxy_count": 1}


def _commands(wanted: Wanted) -> dict[str, list[str]]:
    manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
    found = {}
    if wanted.worker:
        found["worker"] = [*manage, "make_binders"]
    if wanted.backup_to is not None:
        found["backup"] = [*manage, "backup", "--to", str(wanted.backup_to)]
    return found


class KeptRunning:
    """Processes beside the server: the worker always, the backup once a day. One thread looks after them."""

    def __init__(self, commands: dict[str, list[str]]) -> None:
        self.commands, self.running = commands, {}
        self.over, self.pause, self.not_before = threading.Event(), AGAIN_SECONDS, {}
        self.thread = threading.Thread(target=self._look_after, name="kept running", daemon=True)

    def start(self) -> None:
        """Begin what is to run."""
        if self.commands:
            self.thread.start()

    def end(self) -> None:
        """End all of it, and wait until it has ended. What a worker was making is begun again by the next one."""
        self.over.set()
        if self.thread.is_alive():
            self.thread.join()
        for process in self.running.values():
            process.terminate()
        for process in self.running.values():
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _look_after(self) -> None:
        while not self.over.is_set():
            for name, words in self.commands.items():
                process = self.running.get(name)
                if process is not None and process.poll() is None:
                    continue
                if process is not None:
                    self._ended(name, process.returncode)
                if time.monotonic() >= self.not_before.get(name, 0) and self._is_due(name):
                    self.running[name] = subprocess.Popen(words, stdin=subprocess.DEVNULL, env=os.environ)
            self.over.wait(AGAIN_SECONDS)

    def _ended(self, name: str, status: int) -> None:
        del self.running[name]
        if name == "backup":
            if status != 0:
                LOG.error("The backup ended with status %s; what it said stands above.", status)
            # One that failed is tried again in an hour, not at once and for ever.
            self.not_before[name] = time.monotonic() + 3600
            return
        told_to_end = status in (-signal.SIGTERM, -signal.SIGINT)
        LOG.log(
            logging.INFO if told_to_end else logging.ERROR,
            "The %s ended with status %s, to be begun again.",
            name,
            status,
        )
        self.not_before[name] = time.monotonic() + self.pause
        self.pause = min(LONGEST_PAUSE, self.pause * 2)

    def _is_due(self, name: str) -> bool:
        if name != "backup":
            return True
        noted = p.noted(p.own().data / p.LAST_BACKUP)
        return noted is None or clock.real() - datetime.fromisoformat(noted["made_at"]) >= EVERY
