"""A set is made while others may write, read back, and put back into an empty place: the same record, proved.

These run on SQLite and, by tests/site/test_postgresql.py, on PostgreSQL.
"""

from __future__ import annotations

import json
import os

import pytest
from django.db import connection

from audit.upkeep import archive, backup, cipher, proof, restore
from audit.upkeep import place as p
from records import clock, log
from records import models as m
from tests import world as build

PHRASE = "an invented long pass phrase"
# One of the issued binders of this world was never a real file.
NEVER_THERE: list[str] = []


def rows_at(place: p.Place) -> dict[str, int]:
    with p.standing_in(place):
        return {k.__name__: k._base_manager.count() for k in (*m.fact_models(), m.Entry, m.PersonText, m.Account)}


def files_at(place: p.Place) -> dict[str, bytes]:
    found = [f for folder in (place.blobs, place.seal) for f in folder.rglob("*") if f.is_file()]
    return {str(f.relative_to(place.data)): f.read_bytes() for f in found}


@pytest.mark.parametrize("phrase", ["", PHRASE], ids=["plain", "encrypted"])
def test_what_is_put_back_is_the_same_record_to_the_last_byte(place, the_set, empty, tmp_path, phrase):
    path = the_set(phrase, own=True)
    stated = archive.read(path, phrase)["proof"]
    assert stated["chains"] == {} and stated["lost"] == sorted(NEVER_THERE)
    assert stated["heads"]["first"]["entries"] == m.Ledger.objects.get(organisation__slug="first").number
    assert stated["answers"]["first"]["units"] == 4 and stated["binder"]["clinic"] == "first"

    back = empty()
    found = restore.restore(path, back, phrase)
    assert found.proved and found.same_program and (found.record, found.meaning) == ((), ())
    assert rows_at(back) == rows_at(place) and sum(rows_at(back).values()) > 100
    assert files_at(back) == files_at(place) and "seal/seal.pem" in files_at(back)
    assert not p.unfinished(back)


def test_nothing_can_be_read_of_an_encrypted_set_without_its_pass_phrase(place, the_set, empty, tmp_path):
    path = the_set(PHRASE)
    content = path.read_bytes()
    assert b"PRIVATE KEY" not in content and b"standing" not in content[len(cipher.MAGIC) :]
    back = empty()
    for wrong in ("", "another long pass phrase"):
        with pytest.raises(cipher.WrongPassPhrase):
            restore.restore(path, back, wrong)
    assert not back.data.exists() or not any(back.data.iterdir())


def test_a_plain_set_holds_the_key_and_nobody_else_may_read_it(place, tmp_path, monkeypatch):
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)
    path = backup.make(place, tmp_path / "sets").path
    assert path.stat().st_mode & 0o077 == 0 and path.parent.stat().st_mode & 0o077 == 0
    assert b"PRIVATE KEY" in path.read_bytes()


def test_a_place_with_anything_in_it_is_left_as_it_is(place, the_set, tmp_path):
    path = the_set()
    before = (rows_at(place), files_at(place))
    with pytest.raises(restore.NotRestored, match="There is something already"):
        restore.restore(path, place)
    assert (rows_at(place), files_at(place)) == before


def test_what_was_logged_after_the_backup_is_not_in_it_and_told_by_the_heads(place, the_set, empty, tmp_path):
    path = the_set()
    with clock.at(build.NOW):
        log.log_chemical(
            by=m.Account.objects.get(username="coordinator"), request_key=build.key(), on=build.TODAY, type=5,
            clinic=m.Clinic.objects.get(slug="first"), unit=m.Unit.objects.get(label="Unit 2"), result="pass",
        )  # fmt: skip
    back = empty()
    assert restore.restore(path, back).proved
    with p.standing_in(back):
        there = proof.heads()
    assert there["first"]["entries"] == proof.heads()["first"]["entries"] - 1
    assert {k: v for k, v in there.items() if k != "first"} == {
        k: v for k, v in proof.heads().items() if k != "first"
    }


def altered(path, tmp_path, change) -> None:
    """The set written again with another manifest: what somebody could do who takes an older or another record."""
    folder = tmp_path / "unpacked"
    manifest = archive.read(path, "", lambda name: folder / name)
    change(manifest)
    names = list(manifest.pop("members"))
    with path.open("wb") as out:
        archive.write(out, [(name, folder / name) for name in names], manifest)


def head(manifest):
    manifest["proof"]["heads"]["first"]["head"] = "0" * 64


def answer(manifest):
    manifest["proof"]["answers"]["first"]["sha256"] = "0" * 64


def binder(manifest):
    manifest["proof"]["binder"]["sha256"] = "0" * 64


def another_program(manifest):
    manifest["program"]["digest"] = "0" * 64
    answer(manifest)


@pytest.mark.parametrize(
    ("change", "proved", "record", "meaning"),
    [
        (head, False, "the ledger of first stands at entry", ""),
        (answer, False, "", "answers of first differ"),
        (binder, False, "", "the binder of first has other bytes"),
        (another_program, True, "", "answers of first differ"),
    ],
)
def test_whatever_is_not_as_the_set_says_is_told(place, the_set, empty, tmp_path, change, proved, record, meaning):
    path = the_set()
    altered(path, tmp_path, change)
    back = empty()
    found = restore.restore(path, back)
    assert found.proved is proved
    assert "".join(found.record).startswith(record) and bool(found.record) is bool(record)
    assert "".join(found.meaning) == meaning
    assert p.unfinished(back) is bool(record), "a record that is another one is not called put back"


def test_a_stored_file_that_is_gone_or_altered_is_told_when_the_set_is_made(place, tmp_path, monkeypatch):
    paper = m.Document.objects.first()
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)
    kept = next(place.blobs.glob(f"*/{paper.sha256}"))
    kept.write_bytes(b"something else")
    found = " ".join(backup.make(place, tmp_path / "one").findings)
    assert f"{paper.sha256} is not what was filed" in found
    kept.unlink()
    found = " ".join(backup.make(place, tmp_path / "two").findings)
    assert "stored files that the record names are not there" in found and paper.sha256 in found


def test_a_second_backup_at_the_same_time_is_refused_and_what_a_dead_one_left_goes(place, tmp_path, monkeypatch):
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)
    sets = tmp_path / "sets"
    left = sets / ".begun-left"
    left.mkdir(parents=True)
    (left / "standing-2026-01-01T000000Z.tar").write_bytes(b"half")
    with backup._alone(sets):
        with pytest.raises(backup.NoBackup, match="Another backup is being written"):
            backup.make(place, sets)
    made = backup.make(place, sets)
    assert sorted(os.listdir(sets)) == [".lock", made.path.name]
    noted = json.loads((place.data / p.LAST_BACKUP).read_text())
    assert noted["file"] == str(made.path) and noted["sha256"] == made.sha256


def test_a_set_of_the_other_database_is_refused_before_anything_is_written(place, the_set, empty, tmp_path):
    path = the_set()
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    altered(path, tmp_path, lambda manifest: manifest.update(database=other))
    back = empty()
    with pytest.raises(restore.NotRestored, match=f"Set STANDING_DATABASE={other}"):
        restore.restore(path, back)
    assert not back.data.exists()
