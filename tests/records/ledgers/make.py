"""Write a small ledger as the code of one day wrote it: run in a checkout of that commit, not with today's code.

    git worktree add --detach OLD COMMIT; cd OLD
    python TESTS/records/ledgers/make.py FORM TESTS/records/ledgers

The tables come from that day's `migrate`, the entries through that day's writers, and what `form_N.json` says of them
(how many, the head, which kinds) from that day's tamper check. Keys and salts are random, so a ledger made again has
other hashes: a file that lies here already is never written over.
"""

from __future__ import annotations

import json
import lzma
import os
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from datetime import timedelta
from pathlib import Path


def main(form: int, folder: Path) -> None:
    dump, said = folder / f"form_{form}.sql.xz", folder / f"form_{form}.json"
    if dump.exists() or said.exists():
        sys.exit(f"{dump.name} is here already. It holds real hashes of its day: keep it.")
    with tempfile.TemporaryDirectory() as data:
        os.environ |= {
            "STANDING_DATA": data,
            "STANDING_DATABASE": "sqlite",
            "DJANGO_SETTINGS_MODULE": "audit.site.settings",
        }
        sys.path.insert(0, os.getcwd())
        account = _logged(form, Path(data))
        said.write_text(json.dumps(account, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        with closing(sqlite3.connect(Path(data) / "standing.sqlite3")) as database:
            text = "\n".join(database.iterdump()) + "\n"
    dump.write_bytes(lzma.compress(text.encode(), preset=9))


def _logged(form: int, folder: Path) -> dict:
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connections

    from records import clock
    from records.ledger import canon
    from tests import world as build
    from tests.records.one_of_each import log_one_of_each

    if canon.newest_form() != form:
        sys.exit(f"The code here writes form {canon.newest_form()}, not {form}.")
    call_command("migrate", verbosity=0)
    with clock.at(build.NOW):
        world = build.make(units=2)
        log_one_of_each(world, folder / "blobs")
        build.seal_replaced(world, build.TODAY - timedelta(days=5), unit=world.units[1], paper="page 7")
    account = {"commit": _commit(), "stands_at": build.NOW.isoformat(), "ledgers": _verified(), "kinds": _kinds()}
    connections.close_all()
    return account


def _commit() -> str:
    return subprocess.run(["git", "rev-parse", "HEAD"], check=True, capture_output=True, text=True).stdout.strip()


def _verified() -> dict:
    from records.ledger import tamper_check
    from records.models import Organisation

    verdicts = {each.slug: tamper_check.verify(each) for each in Organisation.objects.order_by("slug")}
    assert all(v.whole for v in verdicts.values())
    return {slug: {"entries": v.entries, "head": v.head} for slug, v in verdicts.items()}


def _kinds() -> dict:
    """How many rows of each kind of fact there are."""
    from records.models import fact_models

    return {model._meta.model_name: model._base_manager.count() for model in fact_models()}


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]))
