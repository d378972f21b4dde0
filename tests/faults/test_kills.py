"""Whatever is killed when: what was said to be recorded is there once; what was not said is once it is sent again."""

from __future__ import annotations

import os
import random
import threading
import time
import uuid
from collections import Counter
from pathlib import Path

import pytest
from django.db import connection, transaction

from audit.gather import standings
from records import clock, log
from records import models as m
from records.ledger import tamper_check
from tests import world as build

from .apart import Apart, listening, serving
from .pages import Browser

KILLS, SEED = int(os.environ.get("STANDING_KILLS", "6")), int(os.environ.get("STANDING_SEED", "3"))
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make()


def log_one(world, key) -> int:
    row = log.log_chemical(
        by=world.people["coordinator"], request_key=key, clinic=world.clinic, unit=world.unit, on=build.TODAY, type=5,
        result="pass",
    )  # fmt: skip
    return row.entry.number


def entries() -> Counter:
    """How many entries each request has."""
    return Counter(m.Entry.objects.values_list("request_key", flat=True))


def judged_by(told: set[uuid.UUID], sent: set[uuid.UUID], before: int) -> None:
    """Nothing that was told is lost, nothing is there twice, nothing else is there, and every chain adds up."""
    found = entries()
    assert all(found[key] == 1 for key in sent), "each request that was sent to its end is one entry"
    assert told <= sent and sum(found.values()) == before + len(sent)
    rows = m.ChemicalResult.objects.count()
    assert rows == len(sent), "an entry has its row, and no row is without"
    for organisation in m.Organisation.objects.all():
        assert tamper_check.verify(organisation).whole


def test_a_writer_is_killed_anywhere(world, tmp_path):
    pick, before = random.Random(SEED), m.Entry.objects.count()
    told, sent, unsaid = set(), set(), 0
    for n in range(KILLS):
        said = tmp_path / f"said-{n}"
        keys = [uuid.uuid4() for _ in range(40)]
        process = Apart(lambda keys=keys, said=said: writing(world, keys, said))
        entry_takes = wait_for(said, done=pick.randrange(3))
        time.sleep(pick.uniform(0, 1.2 * entry_takes))
        process.kill()
        process.ended()
        begun, done = read(said)
        found = entries()
        assert all(found[key] == 1 for key in done), "what was said to be recorded is not there"
        assert not set(found) & (set(keys) - set(begun)), "what was never sent is there"
        unsaid += len(begun) - len(done)
        for key in begun:
            log_one(world, key)  # sent again by whoever heard nothing, and by whoever did
        told |= set(done)
        sent |= set(begun)
    judged_by(told, sent, before)
    print(
        f"\n{connection.vendor}: {KILLS} kills of a writer, {len(told)} told, {unsaid} in the middle, all there once"
    )
    assert unsaid > 0 or KILLS < 20


def writing(world, keys, said: Path) -> None:
    with said.open("ab", buffering=0) as out:
        for key in keys:
            out.write(f"begun {key}\n".encode())
            log_one(world, key)
            out.write(f"done {key}\n".encode())


def wait_for(said: Path, done: int) -> float:
    """Wait until it began and so many are done; about how long one takes."""
    begun = time.monotonic()
    while not said.exists() or said.read_bytes().count(b"done") < done:
        assert time.monotonic() < begun + 60, "the writer does not write"
        time.sleep(0.001)
    return (time.monotonic() - begun) / done if done else 0.05


def read(said: Path) -> tuple[list[uuid.UUID], list[uuid.UUID]]:
    lines = [line.split() for line in said.read_text().splitlines()]
    return tuple([uuid.UUID(key) for word, key in lines if word == wanted] for wanted in ("begun", "done"))


def read_before(world) -> None:
    """What a server reads and composes once is read here, so that each copy has it and answers at once."""
    with transaction.atomic():
        log_one(world, uuid.uuid4())
        standings.refresh([world.clinic, world.other_clinic], build.TODAY)
        transaction.set_rollback(True)


def test_a_web_server_is_killed_anywhere(world):
    read_before(world)
    pick, before, there = random.Random(SEED), m.Entry.objects.count(), listening()
    browser = Browser(world, there.getsockname()[1])
    told, sent, unheard = set(), set(), 0
    server = serving(there)
    for _ in range(KILLS):
        began = time.monotonic()
        assert browser.send(first := uuid.uuid4()) == 302  # it answers
        told.add(first)
        sent.add(first)
        killer = threading.Timer(pick.uniform(0, 1.2 * (time.monotonic() - began)), server.kill)
        killer.start()
        waiting = []
        while killer.is_alive() and not waiting:
            key = uuid.uuid4()
            sent.add(key)
            if browser.send(key) == 302:
                told.add(key)
            else:
                waiting.append(key)
        killer.join()
        server.ended()
        unheard += len(waiting)
        server = serving(there)
        assert [browser.send(key) for key in waiting] == [302] * len(waiting)
    server.kill()
    server.ended()
    there.close()
    judged_by(told, sent, before)
    print(
        f"\n{connection.vendor}: {KILLS} kills of the web server, {len(told)} told, {unheard} unheard, all there once"
    )
