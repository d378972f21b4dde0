"""Random single changes to a record, one at a time: whatever changes anything that is read must be found.

    python -m tests.faults.changes 5000 [--seed 1]

A small record is made through the writers. Then, as often as asked, one thing is changed as somebody with full rights
over the machine could: a byte of the database file, a value or a row of a table (triggers dropped before, put back
after), a trigger, a file of a paper or photo. What `verify_ledger` looks at is looked at, every fifth time by the
command itself to its end, else until something is found. When nothing is found, everything is read again and compared
with what it was. A change that is read and was not found must be of a column in `KNOWN`, with its reason.

Exit status: 0 when nothing else was missed and the command never fell over, else 1.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults import single

# What is read and not found, and why it cannot be. `*` stands for every column of the table.
KNOWN = {
    "records_organisation.name": "the register's name may change; what is judged and printed is in the terms",
    "records_organisation.phone": "contact data may change",
    "records_organisation.slug": "how the address of a page names it; no entry is bound to it",
    "records_clinic.written": "how a clinic writes days and units: a preference",
    "records_servicecompany.time_zone": "by which zone a company reckons its day; each fact keeps its own zone",
    "records_account.*": "log-ins change: pass phrase, name, whether they are open. Entries name them by "
    "reference, and keep the name as it was signed; of one that no entry names the reference is nowhere else",
    "records_person.organisation_id": "where somebody without a log-in belongs: tells people of one name apart when "
    "the name is typed again",
    "records_person.rows": "a person more, whom no row names",
    "records_invitation.*": "working state; what an invitation led to is a fact",
    "records_inspectorlinkcount.*": "working state of the day, until an entry says the number",
    "records_ledger.clock_at": "working state: what the clock said last",
    "records_ledger.boot": "working state of the look at the clock",
    "records_ledger.steady": "working state of the look at the clock",
    "records_ledger.clock_accepted": "working state of the look at the clock",
    "audit_binderjob.*": "working state; the evidence is the issued binder",
    "audit_visitdraft.*": "working state: what is typed before it is recorded",
    "audit_calendarfeed.*": "working state: who has a calendar address",
    "audit_maildigest.*": "working state: who wants mail",
    "audit_reportmail.*": "working state: to whom the report of a visit was mailed",
    "audit_standing.*": "a cache; no page shows a row whose digest does not match, see tests/audit/gather",
    "audit_factscache.*": "a cache; damaged facts are read again from the tables, see tests/audit/gather",
    "auth_group.*": "not used", "auth_permission.*": "Django's own list of rights on /admin/",
    "auth_group_permissions.*": "not used", "records_account_groups.*": "not used",
    "records_account_user_permissions.*": "rights on /admin/, where records can only be looked at",
    "django_content_type.*": "Django's own list of tables", "django_session.*": "who is signed in",
    "django_admin_log.*": "Django's own log of /admin/",
}  # fmt: skip


READ_BY = {"PersonText": ("person",)}


@dataclass
class Tally:
    """`missed` are changes that were read, not found and not known; `fell` those at which the command fell over."""

    by_kind: Counter = field(default_factory=Counter)
    known: Counter = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)
    fell: list[str] = field(default_factory=list)


# ------------------------------------------------------------------------------------------------ the record


def file_of(folder) -> Path:
    return Path(folder) / "standing.sqlite3"


def set_up(folder: Path) -> None:
    """Django on a database file of its own in that folder."""
    os.environ |= {"STANDING_DATA": str(folder), "STANDING_DATABASE": "sqlite", "STANDING_LOG_LEVEL": "CRITICAL"}
    os.environ["DJANGO_SETTINGS_MODULE"] = "audit.site.settings"
    import django
    from django.conf import settings

    django.setup()
    settings.DATABASES["default"]["OPTIONS"] = {"init_command": "PRAGMA synchronous = OFF"}


def make_record() -> None:
    from django.core.management import call_command

    from audit.gather import standings
    from records import clock
    from tests import world as build
    from tests.records.one_of_each import log_one_of_each

    if not file_of(os.environ["STANDING_DATA"]).exists():
        call_command("migrate", verbosity=0)
    with clock.at(build.NOW):
        world = build.make(units=2)
        log_one_of_each(world, Path(os.environ["STANDING_DATA"]) / "blobs")
        build.seal_replaced(world, build.TODAY.replace(day=12), unit=world.units[1])
        for day in (2, 9):
            build.spore_test(world, build.TODAY.replace(day=day), unit=world.units[1])
        standings.refresh([world.clinic, world.other_clinic], build.TODAY)


def read_all() -> dict[str, list]:
    """Every row of every table as Django reads it, by table, in the order of its keys, as pages read them.

    The key itself is left out: it is shown nowhere, and what points to it is in the rows that do. Names are read by
    person, the newest last: of two people whose places were exchanged each reads as before.
    """
    from django.apps import apps

    models = [m for m in apps.get_models(include_auto_created=True) if m._meta.managed]
    found = {}
    for model in models:
        fields = [f for f in model._meta.local_concrete_fields if f.column != "id"]
        names = [f.attname for f in fields]
        try:
            rows = list(model._base_manager.order_by(*READ_BY.get(model.__name__, ()), "pk").values_list(*names))
        except Exception as error:  # whatever breaks here is a change that is read
            rows = [(f"{type(error).__name__}",) * len(names)]
        found[model._meta.db_table] = [[f.column for f in fields], *rows]
    return found


def differs(before: dict[str, list], now: dict[str, list]) -> set[str]:
    """Which columns read otherwise, as table.column; table.rows where rows came or went."""
    found = set()
    for table, was in before.items():
        there = now[table]
        if was == there:
            continue
        columns = was[0]
        if len(was) != len(there):
            found.add(f"{table}.rows")
            continue
        for old, new in zip(was[1:], there[1:], strict=True):
            found |= {f"{table}.{c}" for c, a, b in zip(columns, old, new, strict=True) if repr(a) != repr(b)}
    return found


def is_known(change: str) -> bool:
    table = change.partition(".")[0]
    return change in KNOWN or f"{table}.*" in KNOWN


# ------------------------------------------------------------------------------------------------ is it found


def same_bytes_read(file: Path, before: tuple) -> bool:
    """Whether the file holds the same text of tables, indexes, triggers and rows, and fits together."""
    try:
        return raw_content(file) == before
    except (sqlite3.Error, UnicodeError, MemoryError, OverflowError):
        return False


def raw_content(file: Path) -> tuple:
    with closing(sqlite3.connect(file)) as db:
        made = db.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY 1, 2").fetchall()
        rows = {n: db.execute(f'SELECT rowid, * FROM "{n}"').fetchall() for t, n, _, _ in made if t == "table"}
        return made, repr(rows), db.execute("PRAGMA integrity_check").fetchall()


def found_at_all(kind: str) -> int:
    """As the command does, until something is found; what the command catches counts as found here too."""
    from django.db import DatabaseError

    from audit.management.commands.verify_ledger import organisations
    from records.ledger import database, on_disk, tamper_check

    try:
        asked = list(organisations())
        disk = [lambda o=o: list(on_disk.faults(o)) for o in asked]
        looks = [*(lambda o=o: tamper_check.verify(o).faults for o in asked), database.faults]
        looks = [database.faults] if kind == "trigger" else disk + looks if kind == "stored file" else looks + disk
        return 1 if any(look() for look in looks) else 0
    except (DatabaseError, ValueError, TypeError):
        return 3


def verified() -> int:
    """The exit status of the command; whatever else it raises is handed on."""
    from django.core.management import call_command

    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        try:
            call_command("verify_ledger", stdout=io.StringIO(), stderr=io.StringIO())
        except SystemExit as end:
            return int(end.code or 0)
    raise AssertionError("the command ended without an exit status")


NOT_READ = "changes nothing that is read"
KINDS = {"byte of the file": 40, "value or row": 45, "stored file": 10, "trigger": 5}


def run(count: int, seed: int, folder: Path, say=print) -> Tally:
    """Make so many changes, each to a fresh copy of the record."""
    from django.db import connection

    rng, tally = random.Random(seed), Tally()
    file, stored = file_of(folder), folder / "blobs"
    connection.close()
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        tables = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    tables = [t for t in tables if t.startswith("records_")]
    kept, papers = file.read_bytes(), {p: p.read_bytes() for p in stored.rglob("*") if p.is_file()}
    before, raw = read_all(), raw_content(file)
    connection.close()
    assert verified() == 0, "the record must be whole before anything is changed"
    for what, change in single.ONCE_MISSED.items():
        connection.close()
        _put_back(file, kept, papers)
        change(file)
        tally.by_kind["once missed", _outcome(before, tally, what, "once missed", to_the_end=True)] += 1
    for n in range(count):
        connection.close()
        _put_back(file, kept, papers)
        kind = rng.choices(list(KINDS), list(KINDS.values()))[0]
        said = {
            "byte of the file": lambda: single.change_byte(rng, file),
            "value or row": lambda: single.change_table(rng, file, tables),
            "stored file": lambda: single.change_stored(rng, stored),
            "trigger": lambda: single.change_trigger(rng, file),
        }[kind]()
        if kind == "byte of the file" and same_bytes_read(file, raw):
            outcome = NOT_READ
        else:
            outcome = _outcome(before, tally, said, kind, to_the_end=n % 5 == 0)
        tally.by_kind[kind, outcome] += 1
        if outcome in ("missed", "fell over"):
            say(f"{outcome}: {(tally.missed if outcome == 'missed' else tally.fell)[-1]}")
        if (n + 1) % 500 == 0:
            say(f"{n + 1} changes: {len(tally.missed)} missed, {len(tally.fell)} fell over")
    connection.close()
    _put_back(file, kept, papers)
    return tally


def _put_back(file: Path, kept: bytes, papers: dict[Path, bytes]) -> None:
    for beside in file.parent.glob(f"{file.name}-*"):
        beside.unlink()
    file.write_bytes(kept)
    for path, content in papers.items():
        if not path.exists() or path.read_bytes() != content:
            path.write_bytes(content)


def _outcome(before: dict, tally: Tally, said: str, kind: str, to_the_end: bool) -> str:
    from django.db import connection

    try:
        status = verified() if to_the_end else found_at_all(kind)
    except Exception as error:
        tally.fell.append(f"{said}: {type(error).__name__}: {error}")
        return "fell over"
    if status:
        return "found"
    try:
        changed = differs(before, read_all())
    except Exception as error:
        changed = {f"reading.{type(error).__name__}"}
    finally:
        connection.close()
    if not changed:
        return NOT_READ
    if all(is_known(each) for each in changed):
        tally.known.update(changed)
        return "known"
    tally.missed.append(f"{said}: read otherwise: {', '.join(sorted(changed))[:300]}")
    return "missed"


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("count", type=int, nargs="?", default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--migrated", type=Path, help="a database as `migrate` makes it, to begin with a copy of it")
    asked = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        if asked.migrated:
            shutil.copy(asked.migrated, file_of(folder))
        set_up(Path(folder))
        make_record()
        tally = run(asked.count, asked.seed, Path(folder), say=lambda text: print(text, flush=True))
    told = Counter()
    for (kind, outcome), times in sorted(tally.by_kind.items()):
        print(f"{kind}: {times} {outcome}")
        told[outcome] += times
    print(f"{asked.count} changes, seed {asked.seed}: " + ", ".join(f"{n} {o}" for o, n in told.most_common()))
    for change, times in sorted(tally.known.items()):
        why = KNOWN.get(change) or KNOWN[f"{change.partition('.')[0]}.*"]
        print(f"  known: {change} ({times}): {why}")
    for each in tally.missed:
        print(f"  MISSED {each}")
    for each in tally.fell:
        print(f"  FELL OVER {each}")
    return 1 if tally.missed or tally.fell else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
