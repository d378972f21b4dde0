"""Many writers at once on one ledger: each waits for its turn, and none is refused."""

from __future__ import annotations

import os
import threading
import time
import uuid

import pytest
from django.db import connection

from records import clock
from records import models as m
from records.ledger import tamper_check
from tests import world as build

from .apart import Apart, listening, serving
from .pages import Browser
from .test_kills import log_one

WRITERS, ENTRIES = int(os.environ.get("STANDING_WRITERS", "8")), int(os.environ.get("STANDING_ENTRIES", "4"))
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make()


def said(what: str, seconds: list[float], whole: float) -> None:
    ordered = sorted(seconds)
    p95 = ordered[int(len(ordered) * 0.95) - 1]
    print(
        f"\n{connection.vendor}, {what}: {WRITERS} writers × {ENTRIES} entries in {whole:.1f} s, none refused; "
        f"an entry took {ordered[len(ordered) // 2]:.2f} s, p95 {p95:.2f} s, longest {ordered[-1]:.2f} s"
    )


def all_there(before: int) -> None:
    assert m.Entry.objects.count() == before + WRITERS * ENTRIES
    assert tamper_check.verify(m.Organisation.objects.get(slug="first")).whole


def test_processes_write_at_once(world):
    before, began = m.Entry.objects.count(), time.monotonic()

    def work() -> list[float]:
        return [timed(lambda: log_one(world, uuid.uuid4())) for _ in range(ENTRIES)]

    running = [Apart(work) for _ in range(WRITERS)]
    took = [seconds for each in running for seconds in each.ended()]
    all_there(before)
    said("processes", took, time.monotonic() - began)


def timed(work) -> float:
    began = time.monotonic()
    work()
    return time.monotonic() - began


def test_browsers_send_at_once(world):
    before, began, there = m.Entry.objects.count(), time.monotonic(), listening()
    browser = Browser(world, there.getsockname()[1])
    server, statuses, took = serving(there), [], []

    def work() -> None:
        for _ in range(ENTRIES):
            took.append(timed(lambda: statuses.append(browser.send(uuid.uuid4()))))

    threads = [threading.Thread(target=work) for _ in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    server.kill()
    server.ended()
    there.close()
    assert statuses == [302] * WRITERS * ENTRIES
    all_there(before)
    said("browsers", took, time.monotonic() - began)
