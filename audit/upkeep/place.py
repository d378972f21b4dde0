"""Where one installation keeps things: database, stored files, seal. And standing in another one for a while."""

from __future__ import annotations

import copy
import json
import os
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import connections
from django.db.utils import load_backend

RESTORING = "restoring.json"  # there while a set is being put back; gone when all of it stands
LAST_BACKUP = "last-backup.json"


@dataclass(frozen=True, slots=True)
class Place:
    """`database` is what Django's settings say of it."""

    data: Path
    blobs: Path
    seal: Path
    database: dict

    @property
    def vendor(self) -> str:
        """“sqlite” or “postgresql”."""
        return "postgresql" if self.database["ENGINE"].endswith("postgresql") else "sqlite"


def own() -> Place:
    """The place that the settings name."""
    default = connections["default"].settings_dict
    return Place(Path(settings.DATA_DIR), Path(settings.BLOBS_DIR), Path(settings.SEAL_DIR), default)


def wrapper(database: dict):
    """A connection of its own to that database, not opened yet."""
    whole = copy.deepcopy(connections.settings["default"]) | copy.deepcopy(database)
    return load_backend(whole["ENGINE"]).DatabaseWrapper(whole, "default")


@contextmanager
def standing_in(place: Place, connection=None):
    """All that reads the record reads this place for a while, in this thread; gives its connection.

    `connection` is one that is open already; it is left open.
    """
    usual, before = connections["default"], (settings.BLOBS_DIR, settings.SEAL_DIR)
    connections["default"] = there = connection or wrapper(place.database)
    settings.BLOBS_DIR, settings.SEAL_DIR = place.blobs, place.seal
    ContentType.objects.clear_cache()
    try:
        yield there
    finally:
        if connection is None:
            there.close()
        connections["default"] = usual
        settings.BLOBS_DIR, settings.SEAL_DIR = before
        ContentType.objects.clear_cache()


def note(path: Path, content: dict) -> None:
    """Write a small file whole or not at all."""
    beside = path.with_suffix(".part")
    with beside.open("w", encoding="utf-8") as file:
        json.dump(content, file, indent=1)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
    sync_folder(path.parent)


def noted(path: Path) -> dict | None:
    """What such a file says; None when it is not there or says nothing that can be read."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def sync_folder(folder: Path) -> None:
    """Have the disk keep the names in it."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def unfinished(place: Place | None = None) -> bool:
    """Whether a set was begun to be put back here and is not whole yet."""
    return ((place.data if place else Path(settings.DATA_DIR)) / RESTORING).exists()
