"""How commands end, as README says: 0 well, 1 a finding, 2 bad input, 3 a fault; and what is said then."""

from __future__ import annotations

import os
import runpy
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db import OperationalError, connection

TOP = Path(__file__).resolve().parents[2]


@pytest.fixture
def manage(monkeypatch, capsys):
    """`manage.py` in this process: its exit status and what it said on standard error."""

    def run(*words, raises=None):
        monkeypatch.setattr(sys, "argv", ["manage.py", *map(str, words)])
        # What it sets for its own process alone: `serve` of a machine of one's own, and who may read new files.
        monkeypatch.setattr(os, "environ", dict(os.environ))
        monkeypatch.setattr(os, "umask", lambda mask: mask)
        if raises is not None:

            def broken(argv):
                raise raises

            monkeypatch.setattr("django.core.management.execute_from_command_line", broken)
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            runpy.run_path(str(TOP / "manage.py"), run_name="__main__")
        return end.value.code or 0, capsys.readouterr().err

    return run


@pytest.fixture
def command(capsys):
    """Run a command: its exit status, output and error output."""

    def run(name, *args):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            call_command(name, *(str(arg) for arg in args))
        return end.value.code, *capsys.readouterr()

    return run


def test_a_fault_of_the_program_is_3_with_where_it_is(manage):
    status, said = manage("status", raises=ArithmeticError("an invented fault"))
    assert status == 3 and "Traceback" in said and "ArithmeticError: an invented fault" in said
    assert "A fault of the program" in said


def test_a_database_that_cannot_do_it_is_3_and_says_where_to_look(manage):
    status, said = manage("status", raises=OperationalError("no such table: records_clinic"))
    assert status == 3 and "Traceback" not in said
    assert "no such table: records_clinic" in said and "manage.py doctor" in said


def test_a_setting_that_is_none_is_bad_input(manage):
    status, said = manage("status", raises=ImproperlyConfigured("STANDING_LOG_LEVEL is “loud”."))
    assert (status, said) == (2, "STANDING_LOG_LEVEL is “loud”.\n")


@pytest.mark.parametrize("words", [["backup"], ["restore"], ["status", "--as-of"], ["serve", "--port", "many"]])
def test_words_that_are_missing_or_wrong_are_bad_input(manage, words):
    status, said = manage(*words)
    assert status == 2 and "usage:" in said


@pytest.mark.parametrize("word", ["no-such-command", "backups"])
def test_a_command_that_there_is_not_is_bad_input(manage, word):
    status, said = manage(word)
    assert status == 2 and f"Unknown command: '{word}'" in said


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["backup", "--to", __file__], "is no folder"),
        (["backup", "--to", "{here}/to", "--encrypt"], "Set STANDING_BACKUP_PASSPHRASE"),
        (["restore", "--from", "{here}/none.tar"], "is not there"),
        (["restore", "--from", __file__], "There is something already"),
        (["grant", "--to", "somebody"], "Roles are for PostgreSQL"),
        (["serve"], "STANDING_DEBUG"),
        (["verify_ledger", "nobody"], "There is no clinic or company"),
    ],
)
def test_bad_input_writes_nothing_and_says_the_way_out(command, tmp_path, words, says, monkeypatch, settings):
    if connection.vendor != "sqlite":
        pytest.skip("the words are of the embedded database")
    monkeypatch.delenv("STANDING_BACKUP_PASSPHRASE", raising=False)
    settings.DEBUG = words[0] == "serve"
    status, out, err = command(*(word.replace("{here}", str(tmp_path)) for word in words))
    assert (status, out) == (2, "") and says in err
    assert list(tmp_path.iterdir()) == []


def test_a_backup_without_a_database_is_a_fault_that_leaves_nothing(command, tmp_path, settings, monkeypatch):
    from audit.upkeep import databases

    def full(*args):
        raise databases.NotCopied("The database x cannot be copied: database or disk is full.")

    monkeypatch.setattr(databases, "copy_sqlite", full)
    monkeypatch.setattr(databases, "one_moment", full)
    settings.DATA_DIR = tmp_path / "data"
    status, out, err = command("backup", "--to", tmp_path / "sets")
    assert (status, out) == (3, "") and "disk is full" in err and "No backup was made" in err
    assert [p.name for p in (tmp_path / "sets").iterdir()] == [".lock"]
