"""Broken and hostile uploads to the pages, over HTTP: `python -m tests.faults.uploads_over_http 10000 --seed 1`.

A small record is made in a folder of its own and served as `serve` does, with eight threads. Each file
(`tests.faults.uploads`) goes either to the form of papers or to that of a visit's photos, some at the same time; a
browser of somebody else opens the clinic's page meanwhile, and says how long that took. An answer that is neither
taken nor refused in words, a page that does not come, and a server that is gone count as faults.
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import os
import random
import resource
import statistics
import tempfile
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field

MOST_SECONDS = 2.0  # p95 of the page of somebody else
AT_ONCE = 3
BEFORE_SECONDS = 15.0
BORDER = "border-of-the-parts"
LEFT_OUT_AFTER = 30  # photos: a visit holds so many and a few more


@dataclass
class Told:
    """What became of them. `others` are the seconds that the page of somebody else took, `before` without uploads."""

    what: Counter = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest: float = 0.0
    others: list[float] = field(default_factory=list)
    before: list[float] = field(default_factory=list)

    @property
    def p95(self) -> float:
        return statistics.quantiles(self.others, n=20)[-1] if len(self.others) > 1 else 0.0


@dataclass(frozen=True)
class Site:
    """Where it is served, who sends, and where to."""

    port: int
    sender: str
    reader: str
    paper: str
    photo: str
    page: str
    day: str

    def ask(self, method: str, address: str, cookies: str, body: bytes = b"", **headers) -> tuple[int, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            connection.request(method, address, body, {"Host": "localhost", "Cookie": cookies} | headers)
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()


def set_up(folder: str) -> None:
    """Django as on a server of a clinic, with its data in that folder."""
    os.environ |= {"STANDING_DATA": folder, "STANDING_DATABASE": "sqlite", "STANDING_LOG_LEVEL": "CRITICAL"}
    os.environ |= {"STANDING_UPLOADS_ACCOUNT_MIB": "1000000", "STANDING_UPLOADS_CLINIC_MIB": "1000000"}
    os.environ["DJANGO_SETTINGS_MODULE"] = "audit.site.settings"
    import django

    django.setup()


def made(port: int) -> Site:
    """The small record, in a database of its own."""
    from django.core.management import call_command
    from django.test.utils import setup_test_environment

    from records import clock
    from tests import world as build

    setup_test_environment()
    call_command("migrate", verbosity=0)
    with clock.at(build.NOW):
        return site_of(build.make(), port)


def site_of(world, port: int) -> Site:
    """The first clinic, with a visit that the technician begins to type."""
    from django.test import Client

    from audit.models import VisitDraft
    from tests import world as build
    from tests.faults.pages import cookies_of

    technician, client = world.people["technician"], Client()
    client.force_login(technician)
    client.post("/clinic/first/visit/", {"units": [str(world.unit.ref)]})
    visit = f"/clinic/first/visit/{VisitDraft.objects.get().ref}/1/identify/photo/"
    sender, reader = cookies_of(technician), cookies_of(world.people["coordinator"])
    return Site(port, sender, reader, "/clinic/first/papers/add/", visit, "/clinic/first/", str(build.TODAY))


def _parts(fields: dict[str, str], name: str, filename: str, content: bytes) -> tuple[bytes, str]:
    lines = [f'--{BORDER}\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n' for k, v in fields.items()]
    lines.append(f'--{BORDER}\r\nContent-Disposition: form-data; name="{name}"; filename="{filename}"\r\n')
    lines.append("Content-Type: application/octet-stream\r\n\r\n")
    return "".join(
        lines
    ).encode() + content + f"\r\n--{BORDER}--\r\n".encode(), f"multipart/form-data; boundary={BORDER}"


def _sent(site: Site, n: int, seed: int, every: list, told: Told) -> None:
    from tests.faults.pages import TOKEN
    from tests.faults.uploads import broken, hostile

    chance = random.Random(f"{seed} {n}")
    name, content = hostile(chance) if chance.random() < 0.02 else chance.choice(every)
    content = content if name in ("scans.jpg", "bomb.png") else broken(content, chance)
    as_paper, begun = n % 2 == 0, time.monotonic()
    if as_paper:
        fields = {"request_key": str(uuid.uuid4()), "kind": "other", "title": f"Paper {n}", "valid_from": site.day}
        body, kind = _parts(fields, "file", name, content)
        status, said = site.ask("POST", site.paper, site.sender, body, **{"Content-Type": kind, "X-CSRFToken": TOKEN})
        fine = status == 302 or (status == 422 and b'class="problems"' in said)
    else:
        body, kind = _parts({}, "photo", name, content)
        headers = {"Content-Type": kind, "X-CSRFToken": TOKEN, "Accept": "application/json"}
        status, said = site.ask("POST", site.photo, site.sender, body, **headers)
        fine = status == 200 or (status == 422 and json.loads(said).get("problem"))
    what = "paper" if as_paper else "photo"
    told.what[f"{what} {'taken' if status in (200, 302) else 'refused'}"] += 1
    told.slowest = max(told.slowest, time.monotonic() - begun)
    if not fine:
        told.faults.append(f"upload {n} of seed {seed}, {name} as {what}: {status} {said[:300]!r}")


def _opened(site: Site, told: Told, times: list[float], stop: threading.Event) -> None:
    while not stop.wait(0.2):
        begun = time.monotonic()
        try:
            status, _ = site.ask("GET", site.page, site.reader)
        except (OSError, http.client.HTTPException) as gone:
            status = repr(gone)
        if status != 200:
            told.faults.append(f"the page of somebody else: {status}")
        times.append(time.monotonic() - begun)


def run(site: Site, count: int, seed: int) -> Told:
    """Send so many to a site that is served."""
    from tests.faults.uploads import samples

    told, stop, numbers, every = Told(), threading.Event(), itertools.count(), list(samples().items())

    def send():
        while (n := next(numbers)) < count:
            try:
                _sent(site, n, seed, every, told)
            except Exception as fault:
                told.faults.append(f"upload {n} of seed {seed}: {fault!r}")
            if n % LEFT_OUT_AFTER == 0:
                _leave_photos_out()
            if n % 500 == 499:
                print(f"{n + 1}: {dict(told.what)}, {len(told.faults)} faults, p95 {told.p95:.2f} s", flush=True)

    alone = threading.Event()
    threading.Timer(BEFORE_SECONDS, alone.set).start()
    _opened(site, told, told.before, alone)
    reader = threading.Thread(target=_opened, args=(site, told, told.others, stop))
    senders = [threading.Thread(target=send) for _ in range(AT_ONCE)]
    for thread in (reader, *senders):
        thread.start()
    for thread in senders:
        thread.join()
    stop.set()
    reader.join()
    return told


def _leave_photos_out() -> None:
    from django.db import connection

    from audit.models import VisitDraft
    from audit.pages.visit.drafts import change

    change(VisitDraft.objects.get(), lambda content: content.update(photos=[]))
    connection.close()


def main() -> int:
    """0 when nothing went wrong and the page of somebody else came in time, else 1."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, nargs="?", default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        set_up(folder)
        from tests.faults.apart import listening, serving

        there, begun = listening(), time.monotonic()
        site = made(there.getsockname()[1])
        server = serving(there)
        try:
            told = run(site, asked.count, asked.seed)
            status, _ = site.ask("GET", site.page, site.reader)
        finally:
            server.kill()
            server.ended()
            there.close()
    used, whole = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic() - begun
    print(f"{asked.count} uploads of seed {asked.seed} in {whole:.0f} s: {dict(told.what)}")
    print(f"the server had the processor for {used.ru_utime + used.ru_stime:.0f} s of them")
    page = f"median {statistics.median(told.others):.2f} s, p95 {told.p95:.2f} s, longest {max(told.others):.2f} s"
    page += f"; without uploads, {len(told.before)} times: median {statistics.median(told.before):.2f} s"
    print(f"slowest upload {told.slowest:.2f} s; the page of somebody else, opened {len(told.others)} times: {page}")
    print("\n".join(told.faults) or "no fault")
    return 1 if told.faults or status != 200 or told.p95 >= MOST_SECONDS else 0


if __name__ == "__main__":
    raise SystemExit(main())
