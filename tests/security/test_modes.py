"""Database, papers and folders are for nobody but the account that runs the program, whatever its umask was."""

from __future__ import annotations

import os
import stat

import pytest

from records.files import blobs
from tests.site.test_project import PRODUCTION, manage, manage_from_the_start


def others(folder) -> dict[str, str]:
    """Everything in the folder that anybody else may do anything with."""
    every = [folder, *folder.rglob("*")]
    modes = {str(path): stat.S_IMODE(path.lstat().st_mode) for path in every}
    return {path: oct(mode) for path, mode in modes.items() if mode & 0o077}


@pytest.fixture
def careless():
    before = os.umask(0o000)
    yield
    os.umask(before)


def test_a_new_database_is_for_its_owner_alone(tmp_path, careless):
    folder = tmp_path / "data"
    done = manage_from_the_start("migrate", "--verbosity", "0", env={"STANDING_DATA": str(folder)})
    assert done.returncode == 0, done.stderr
    assert (folder / "standing.sqlite3").exists() and others(folder) == {}


def test_what_is_filed_is_for_its_owner_alone(tmp_path, careless, settings):
    settings.BLOBS_DIR = tmp_path / "blobs"

    class Place:
        ref = "place"

    blobs.store(Place, b"a paper")
    assert others(settings.BLOBS_DIR) == {}


def test_check_deploy_names_what_others_may_read(tmp_path, migrated_in):
    folder = tmp_path / "data"
    env = PRODUCTION | {"STANDING_DATA": str(folder)}
    migrated_in(folder)
    (folder / "standing.sqlite3").chmod(0o644)
    done = manage("check", "--deploy", "--fail-level", "WARNING", env=env)
    assert done.returncode != 0 and "standing.sqlite3" in done.stderr and "chmod -R go=" in done.stderr
    (folder / "standing.sqlite3").chmod(0o600)
    assert manage("check", "--deploy", "--fail-level", "WARNING", env=env).returncode == 0
