"""A set is whole or none: what is cut off, altered, put in or left out is found, and so is a wrong pass phrase."""

from __future__ import annotations

import io
import random
import tarfile

import pytest

from audit.upkeep import archive, cipher

PHRASE = "an invented long pass phrase"
CONTENT = random.Random(7).randbytes(3 * cipher.PIECE + 5)
NAMES = ("database.sqlite3", "seal/seal.pem")


@pytest.fixture
def files(tmp_path):
    for name, content in zip(NAMES, (CONTENT, b"a key"), strict=True):
        path = tmp_path / "from" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return [(name, tmp_path / "from" / name) for name in NAMES]


@pytest.fixture(params=["", PHRASE], ids=["plain", "encrypted"])
def written(request, files, tmp_path):
    """(the file of a set, its pass phrase)"""
    path = tmp_path / "a.tar"
    with path.open("wb") as out:
        archive.write(out, files, {"made_at": "2026-03-16T14:00:00+00:00"}, request.param)
    return path, request.param


FAULTS = (archive.NotASet, cipher.WrongPassPhrase)


def test_it_comes_back_as_it_was(written, tmp_path):
    path, phrase = written
    said = archive.read(path, phrase, lambda name: tmp_path / "to" / name)
    assert [(tmp_path / "to" / name).read_bytes() for name in NAMES] == [CONTENT, b"a key"]
    assert said["members"][NAMES[0]]["size"] == len(CONTENT) and said["kind"] == archive.KIND
    assert (tmp_path / "to" / NAMES[1]).stat().st_mode & 0o077 == 0


def test_wherever_it_is_cut_off_it_is_no_set(written):
    path, phrase = written
    whole = path.read_bytes()
    # A tar ends with empty blocks, so a plain one may lose some of those and nothing else.
    spare = 0 if phrase else 2 * tarfile.BLOCKSIZE + tarfile.RECORDSIZE
    pick = random.Random(11)
    for length in [0, 1, 600, cipher.PIECE, *(pick.randrange(len(whole) - spare) for _ in range(20))]:
        path.write_bytes(whole[:length])
        with pytest.raises(FAULTS):
            archive.read(path, phrase)


def test_whichever_byte_is_another_it_is_found(written):
    path, phrase = written
    whole = path.read_bytes()
    read = len(whole) if phrase else whole.rindex(b"\n}") + 2
    pick, found = random.Random(13), 0
    for _ in range(14 if phrase else 40):
        at = pick.randrange(read)
        if not phrase and not _is_content(whole, at):
            continue  # padding, and owners and times of a member, which are not read
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x20]) + whole[at + 1 :])
        with pytest.raises(FAULTS):
            archive.read(path, phrase)
        found += 1
    assert found > 12


def _is_content(whole: bytes, at: int) -> bool:
    with tarfile.open(fileobj=io.BytesIO(whole)) as tar:
        return any(m.offset_data <= at < m.offset_data + m.size for m in tar if m.name != archive.MANIFEST)


def test_pieces_of_an_encrypted_set_cannot_change_places(files, tmp_path):
    path = tmp_path / "a.tar"
    with path.open("wb") as out:
        archive.write(out, files, {"made_at": ""}, PHRASE)
    whole, size = path.read_bytes(), cipher.PIECE + 16
    start = len(cipher.MAGIC) + 23
    first, second = whole[start : start + size], whole[start + size : start + 2 * size]
    for swapped in (second + first, first + first, first):
        path.write_bytes(whole[:start] + swapped + whole[start + 2 * size :])
        with pytest.raises(FAULTS):
            archive.read(path, PHRASE)


@pytest.mark.parametrize("name", ["../out", "seal/../../out", "/etc/out", "blobs/out", "other"])
def test_nothing_is_put_anywhere_else(files, tmp_path, name):
    path = tmp_path / "a.tar"
    with path.open("wb") as out:
        archive.write(out, [*files, (name, files[1][1])], {"made_at": ""})
    with pytest.raises(archive.NotASet, match="which no backup set holds"):
        archive.read(path, "", lambda member: tmp_path / "to" / member)
    assert not (tmp_path / "out").exists()


def test_a_file_that_is_something_else_and_a_form_of_tomorrow_are_told_apart(files, tmp_path, monkeypatch):
    path = tmp_path / "a.tar"
    path.write_bytes(b"a letter")
    with pytest.raises(archive.NotASet, match="is no backup set"):
        archive.read(path, "")
    monkeypatch.setattr(archive, "FORMAT", 2)
    with path.open("wb") as out:
        archive.write(out, files, {"made_at": ""})
    monkeypatch.undo()
    with pytest.raises(archive.NotASet, match="Use the version of the program that made it"):
        archive.read(path, "")
