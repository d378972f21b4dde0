"""What `manage.py check --deploy` says of the files of the record: who else on the machine may read them."""

from __future__ import annotations

import stat
from pathlib import Path

from django.conf import settings
from django.core.checks import Warning as Said
from django.db import connection

OTHERS = stat.S_IRWXG | stat.S_IRWXO


def check_modes(app_configs, **kwargs):
    """Folder, database and what lies beside it are for nobody but the account that runs the program."""
    found = [path for path in _of_the_record() if path.exists() and path.stat().st_mode & OTHERS]
    if not found:
        return []
    named = ", ".join(str(path) for path in found)
    return [
        Said(
            f"Others on this machine may read or write {named}.",
            hint=f"chmod -R go= {settings.DATA_DIR}",
            id="records.W002",
        )
    ]


def _of_the_record() -> list[Path]:
    folder = Path(settings.DATA_DIR)
    found = [folder, Path(settings.BLOBS_DIR), Path(settings.SEAL_DIR)]
    if connection.vendor == "sqlite":
        name = str(connection.settings_dict["NAME"])
        found += [Path(name + more) for more in ("", "-wal", "-shm")]
    return found
