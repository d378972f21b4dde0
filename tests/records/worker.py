"""One process among several on a test's database: `python -m tests.records.worker JOB DATABASE ARGUMENT…`.

It prints one JSON value. Tests use `start` and `answer`.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from datetime import timedelta
from uuid import UUID

from tests import started


def start(job: str, *args) -> started.Process:
    """Start a process on the database of the running test."""
    from django.db import connection

    command = ["-m", "tests.records.worker", job, str(connection.settings_dict["NAME"])]
    return started.Process([*command, *args], env={**os.environ, "DJANGO_SETTINGS_MODULE": "audit.site.settings"})


def answer(process: started.Process):
    """What the process printed. Fails with its error output when it did not end well."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    return json.loads(out)


# ------------------------------------------------------------------------------------------- inside the process


def _open(database: str) -> None:
    import django
    from django.conf import settings

    settings.DATABASES["default"]["NAME"] = database
    django.setup()

    from records import clock
    from tests import world

    clock.stand_at(world.NOW + timedelta(hours=1))


def _world():
    from records import models as m
    from tests.world import World

    return World(
        clinic=m.Clinic.objects.get(slug="first"),
        other_clinic=m.Clinic.objects.get(slug="other"),
        company=m.ServiceCompany.objects.get(slug="keepers"),
        other_company=m.ServiceCompany.objects.get(slug="strangers"),
        people={a.username: a for a in m.Account.objects.all()},
        units=list(m.Unit.objects.filter(label__startswith="Unit").order_by("label")),
        lot=m.IndicatorLot.objects.get(),
    )


def many(role: str, count: str) -> list[int]:
    """Log so many chemical results; the numbers of their entries."""
    from records import log
    from tests.world import TODAY, key

    w = _world()
    rows = [
        log.log_chemical(
            by=w.people[role], request_key=key(), clinic=w.clinic, unit=w.unit, on=TODAY, type=5, result="pass"
        )
        for _ in range(int(count))
    ]
    return [r.entry.number for r in rows]


def same(request_key: str) -> str:
    """Log one chemical result under that request key; its ref."""
    from records import log
    from tests.world import TODAY

    w = _world()
    row = log.log_chemical(
        by=w.people["operator"], request_key=UUID(request_key), clinic=w.clinic, unit=w.unit, on=TODAY, type=5,
        result="pass",
    )  # fmt: skip
    return str(row.ref)


def correct(ref: str, role: str, value: str) -> str:
    """Correct a spore test's cycle number: "ok", or why it was refused."""
    from records import log
    from records import models as m
    from tests.world import key

    row = m.BioTest.objects.select_related("entry__logged_for", "entry__ledger__organisation").get(ref=ref)
    try:
        log.correct(
            by=_world().people[role], request_key=key(), row=row, changes={"cycle_number": value}, reason="misread"
        )
    except log.Refused as error:
        return str(error)
    return "ok"


def killed_visit(request_key: str, after: str) -> None:
    """Log a visit and die without warning after so many rows, or ("end") after all rows, just before the commit."""
    from records.models import Fact, Ledger

    saved = 0
    plain = Fact.save

    def save(self, *args, **kwargs):
        nonlocal saved
        if str(saved) == after:
            os.kill(os.getpid(), signal.SIGKILL)
        saved += 1
        plain(self, *args, **kwargs)

    def save_head(self, *args, **kwargs):
        super(Ledger, self).save(*args, **kwargs)
        if saved:
            os.kill(os.getpid(), signal.SIGKILL)

    Fact.save = save
    if after == "end":
        Ledger.save = save_head
    visit(_world(), request_key)


def visit(w, request_key):
    """The visit that the killed process was logging."""
    from tests import world

    return world.seal_replaced(w, world.TODAY, request_key=UUID(str(request_key)))


if __name__ == "__main__":
    job, database, *rest = sys.argv[1:]
    _open(database)
    print(json.dumps({"many": many, "same": same, "correct": correct, "killed": killed_visit}[job](*rest)))
