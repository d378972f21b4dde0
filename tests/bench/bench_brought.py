"""Rows of a table a second, on one core: looked through, recorded, and what a plain insert of the same rows takes.

STANDING_DATA=somewhere-empty python -m tests.bench.bench_brought [--rows 5000] [--kind loads] [--profile]

Times are processor time, which other work on the machine disturbs least. “Looked through” reads each row, fills in
the form and asks its writer; “recorded” does that again in one transaction and writes rows and entries. The plain
insert writes the same rows by Django's `bulk_create` in packs of 500 and is rolled back: no form, no rule, no hash.
Loads are not judged for their units here: a page judges each unit once for each day that a table has loads on.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import resource
import time
import uuid
from datetime import date, timedelta

import django

_MADE = {
    "spore-tests": (
        "Sterilizer,Date,Time,Lot,Control lot,Program,Cycle no,Read on,Result,Control,Operator",
        lambda n, day: (
            f"Unit {n % 3 + 1},{day},{n % 10 + 8:02}:{n % 60:02},B-100,B-100,wrapped,{n},{day},negative,"
            "positive,Ann Old"
        ),
    ),
    "loads": (
        "Sterilizer,Date,Time,Cycle no,Program,Pouches,Temp,Exposure,Gauges,Strip,Released,Operator",
        lambda n, day: (
            f"Unit {n % 3 + 1},{day},{n % 10 + 8:02}:{n % 60:02},{n},wrapped,4,134.2,4,pass,pass,released,Ann Old"
        ),
    ),
    "checks": (
        "Sterilizer,Date,Time,Check,Result,Signed by",
        lambda n, day: f"Unit {n % 3 + 1},{day},{n % 10 + 8:02}:{n % 60:02},automatic control,pass,Ann Old",
    ),
}


def table_of(kind: str, count: int) -> str:
    """Invented rows of one year and a half, as a file of commas."""
    heads, row = _MADE[kind]
    first = date(2024, 9, 1)
    return "\n".join([heads, *(row(n, first + timedelta(days=n * 540 // count)) for n in range(count))])


def _timed(work, profile: bool = False):
    profiler = cProfile.Profile() if profile else None
    before = time.process_time()
    made = profiler.runcall(work) if profiler else work()
    took = time.process_time() - before
    if profiler:
        pstats.Stats(profiler).sort_stats("tottime").print_stats(30)
    return took, made


def _plain_insert(model, entry) -> float:
    """Processor time of writing the rows of that kind once more, which are then rolled back."""
    from django.db import models, transaction

    rows = list(model.objects.filter(entry__in=entry))
    for row in rows:
        row.pk, row.ref = None, uuid.uuid4()
    before = time.process_time()
    with transaction.atomic():
        models.QuerySet(model).bulk_create(rows, batch_size=500)
        took = time.process_time() - before
        transaction.set_rollback(True)
    return took


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=5000)
    parser.add_argument("--kind", choices=sorted(_MADE), action="append")
    parser.add_argument("--profile", action="store_true")
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "audit.site.settings")
    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    from records import clock
    from tests import world as build

    with clock.at(build.NOW):
        world = build.make(units=3)
        for kind in asked.kind or sorted(_MADE):
            _one(world, kind, asked)
    print(f"most memory in use: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MiB")


def _one(world, kind: str, asked) -> None:
    from records import access
    from records.brought import mapping, record
    from records.brought.kinds import KINDS
    from records.brought.rows import RowReader
    from records.files import table_file
    from records.forms import EntryContext
    from records.log import may_be_logged

    by = world.people["coordinator"]
    ground = EntryContext(world.clinic, by, access.rights(by, world.clinic), may_be_logged.zone_of(world.clinic))
    read, (sheet,) = _timed(lambda: table_file.read(table_of(kind, asked.rows).encode(), "rows.csv"))
    chosen = mapping.propose(KINDS[kind], sheet)
    assert not mapping.missing(chosen) and not mapping.unclear(chosen, sheet)

    def judge():
        reader = RowReader(ground, chosen, "Old Hand")
        return record.Judge(ground, reader, confirmed=("before-register",), paper="table “rows.csv”")

    look, verdict = _timed(lambda: record.judged(judge(), mapping.body(sheet, chosen)), asked.profile)
    assert (verdict.right, verdict.wrong) == (asked.rows, []), verdict.faults[:3]
    took, entries = _timed(
        lambda: record.record(judge(), mapping.body(sheet, chosen), key=uuid.uuid4()), asked.profile
    )
    plain = _plain_insert(KINDS[kind].model, entries)
    rate = {"read": read, "looked through": look, "recorded": took, "plain insert": plain}
    said = ", ".join(f"{what} {asked.rows / max(seconds, 1e-6):,.0f}" for what, seconds in rate.items())
    print(f"{kind}: {asked.rows} rows in {len(entries)} entries; rows a second of processor time: {said}")


if __name__ == "__main__":
    main()
