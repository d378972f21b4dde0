"""The file is read by somebody with Python alone: `check.py` finds every single change, and says in words what."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from audit.issue.whole import check
from audit.issue.whole.write import write
from audit.issue.whole.zipped import safe_name
from records.files import blobs
from records.models import Document

from .conftest import AT

pytestmark = pytest.mark.django_db

# Runs the check of the file itself, as it stands in the first of the files, over each of them.
OVER_EACH = """
import contextlib, io, json, sys, types, zipfile
own = types.ModuleType("own")
exec(compile(zipfile.ZipFile(sys.argv[1]).read("check.py"), "check.py", "exec"), own.__dict__)
for path in sys.argv[1:]:
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        status = own.main([path])
    print(json.dumps([status, said.getvalue()]))
"""


def checked(*paths: Path) -> list[tuple[int, str]]:
    """Exit status and words of the check of each file, by a plain Python that knows nothing of this program."""
    words = [sys.executable, "-I", "-c", OVER_EACH, *map(str, paths)]
    run = subprocess.run(words, capture_output=True, text=True, cwd=paths[0].parent, check=True)
    return [tuple(json.loads(line)) for line in run.stdout.splitlines()]


def members_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as file:
        return {name: file.read(name) for name in file.namelist()}


def packed(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as file:
        for name, body in members.items():
            file.writestr(name, body)
    return path


def summed_again(members: dict[str, bytes]) -> None:
    """As somebody who alters the file would: its list of contents says what it holds now."""
    about = json.loads(members[check.ABOUT])
    about["members"] = {
        name: {"size": len(body), "sha256": hashlib.sha256(body).hexdigest()}
        for name, body in members.items()
        if name not in (check.ABOUT, check.ABOUT_SUM)
    }
    members[check.ABOUT] = json.dumps(about, indent=1, ensure_ascii=False).encode() + b"\n"
    members[check.ABOUT_SUM] = hashlib.sha256(members[check.ABOUT]).hexdigest().encode() + b"  about.json\n"


def _line(members, name, n, change) -> None:
    lines = members[name].splitlines()
    line = json.loads(lines[n])
    change(line)
    lines[n] = check.canonical(line)
    members[name] = b"\n".join(lines) + b"\n"


def _hashed(change):
    """A change of an entry whose hash is made to fit."""

    def made(line):
        change(line)
        line["hash"] = check.hash_of(line["entry"], line["rows"])

    return made


def _ledger(n, change):
    return lambda members: _line(members, check.OWN, n, change)


def _without(name, n):
    def made(members):
        lines = members[name].splitlines()
        del lines[n]
        members[name] = b"\n".join(lines) + b"\n"

    return made


def _swapped(members):
    lines = members[check.OWN].splitlines()
    lines[3], lines[4] = lines[4], lines[3]
    members[check.OWN] = b"\n".join(lines) + b"\n"


def _json(name, change):
    def made(members):
        value = json.loads(members[name])
        change(value)
        members[name] = json.dumps(value, ensure_ascii=False).encode()

    return made


def _first(members, beginning):
    return next(name for name in members if name.startswith(beginning))


def _replaced(beginning, old, new):
    def made(members):
        name = _first(members, beginning)
        assert old in members[name]
        members[name] = members[name].replace(old, new, 1)

    return made


# What is done to the file, whoever did it also making its list of contents fit; and a part of what the check says.
FORGED = {
    "a value of a row": (_ledger(5, lambda e: e["rows"][0].update(zone="UTC")), "its hash is another one"),
    "a row and its hash": (_ledger(5, _hashed(lambda e: e["rows"][0].update(zone="UTC"))), "does not follow from"),
    "the last entry": (_ledger(-1, _hashed(lambda e: e["entry"].update(what="x"))), "it ends at entry"),
    "a row more": (_ledger(5, lambda e: e["rows"].append(e["rows"][0])), "its hash is another one"),
    "the kind of a row": (_ledger(5, lambda e: e.update(kinds=["unit"] * len(e["kinds"]))), "is not what the ledger"),
    "an entry taken out": (_without(check.OWN, 4), "entry 5 is missing"),
    "the last entry taken out": (_without(check.OWN, -1), "it ends at entry"),
    "the first entry taken out": (_without(check.OWN, 0), "entry 1 is missing"),
    "two entries exchanged": (_swapped, "not in its place"),
    "a line that is none": (_replaced(check.OWN, b'{"at"', b'{"at'), "is no entry"),
    "an entry of another book": (
        lambda members: _line(members, _first(members, check.OTHERS), 0, lambda e: e["entry"].update(what="x")),
        "its hash is another one",
    ),
    "an entry of another book taken out": (
        lambda members: _without(_first(members, check.OTHERS), 0)(members), "does not hold the entries",
    ),
    "a name": (_json(check.REGISTER, lambda r: r["names"][0].update(value="Nia")), "not the one that was signed"),
    "a name taken out": (_json(check.REGISTER, lambda r: r["names"].clear()), "is not in ledger/register.json"),
    "a cell of a table": (_replaced("tables/biotest.csv", b"wrapped", b"unwrapped"), "is not what the ledger says"),
    "a row of a table": (_without("tables/biotest.csv", -1), "is not what the ledger says"),
    "a row more in a table": (
        lambda members: members.update({"tables/unit.csv": members["tables/unit.csv"] * 2}),
        "rows that the ledger does not",
    ),
    "a paper": (
        lambda members: members.update({_first(members, "papers/"): b"%PDF-1.7 another"}),
        "not the file that the ledger",
    ),
    "a paper taken out": (lambda members: members.pop(_first(members, "papers/")), "not the file that the"),
    "a paper nobody filed": (lambda members: members.update({"papers/x.pdf": b"x"}), "no row of the ledger names it"),
    "a file off the list": (_without(check.FILES, -1), "is not in the list"),
    "a row of the history": (
        _json(check.HISTORY, lambda h: h["clinic"]["units"][0]["row"].update(ref="made-up")), "no ledger here holds",
    ),
    "another state of the history": (
        _json(check.HISTORY, lambda h: h["clinic"]["heads"][0].update(number=2)), "another state of the ledger",
    ),
}  # fmt: skip


def test_as_it_was_written_it_says_so_and_what_it_looked_at(file):
    [(status, said)] = checked(file)
    assert (status, said.splitlines()[-1]) == (0, "Everything is as it was written.")
    head = json.loads(members_of(file)[check.ABOUT])["ledger"]
    assert f"The ledger ends with entry {head['entries']}. Its head: {head['head']}" in said
    assert "First Clinic: everything on record as of 2026-03-16T14:00:00+00:00" in said
    assert "Taken out by Ana Coordinator." in said


def test_every_byte_of_every_member_counts(file, tmp_path):
    """One byte of each member changed, and each member taken out: the list of contents knows all but itself."""
    members, paths = members_of(file), []
    for n, (name, body) in enumerate(members.items()):
        middle = len(body) // 2
        other = bytes([body[middle] ^ 1])
        paths.append(packed(tmp_path / f"{n}-byte.zip", members | {name: body[:middle] + other + body[middle + 1 :]}))
        if name != check.ABOUT:
            paths.append(packed(tmp_path / f"{n}-out.zip", {k: v for k, v in members.items() if k != name}))
    paths.append(packed(tmp_path / "added.zip", members | {"more.txt": b"more"}))
    whole = packed(tmp_path / "same.zip", members)
    first, *told = checked(whole, *paths)
    assert first[0] == 0
    assert [(path.name, said) for path, (status, said) in zip(paths, told, strict=True) if status == 0] == []


def test_a_forgery_that_makes_the_list_fit_is_told_by_what_it_breaks(file, tmp_path):
    paths = []
    for n, (change, _) in enumerate(FORGED.values()):
        members = members_of(file)
        change(members)
        summed_again(members)
        paths.append(packed(tmp_path / f"{n}.zip", members))
    told = checked(file, *paths)[1:]
    unfound = {
        name: told[n] for n, (name, (_, words)) in enumerate(FORGED.items())
        if told[n][0] != 1 or words not in told[n][1]
    }  # fmt: skip
    assert unfound == {}


def test_what_is_no_such_file_is_refused_with_the_way_out(file, tmp_path):
    text, other = tmp_path / "text.zip", packed(tmp_path / "other.zip", {"a.txt": b"a"})
    text.write_text("no zip")
    half = tmp_path / "half.zip"
    half.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    told = checked(file, text, other, half, tmp_path / "gone.zip")[1:]
    assert [status for status, _ in told] == [2, 2, 2, 2]
    assert "cannot be opened as a ZIP" in told[0][1] and "Take another file." in told[1][1]


def test_unpacked_it_is_checked_in_its_folder(file, tmp_path):
    folder = tmp_path / "unpacked"
    with zipfile.ZipFile(file) as packed_file:
        packed_file.extractall(folder)
    run = subprocess.run([sys.executable, "-I", folder / "check.py"], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stdout.splitlines()[-1]) == (0, "Everything is as it was written.")


def test_the_same_record_moment_and_person_make_the_same_bytes(world, file, tmp_path):
    again = tmp_path / "again.zip"
    write(world.clinic, again, by="Ana Coordinator", at=AT)
    assert again.read_bytes() == file.read_bytes()


def test_no_cell_begins_a_formula_and_no_name_leads_out_of_the_folder(file):
    members = members_of(file)
    [row] = csv.DictReader(io.StringIO(members["tables/document.csv"].decode("utf-8-sig")))
    assert row["title"] == "'=1+1 “Füße”, ../../paper" and row["logged_by"] == "Ana Coordinator"
    for name in members:
        assert ".." not in name and not name.startswith("/") and "\\" not in name and name.isascii()
    for name in (n for n in members if n.endswith(".csv")):
        for cells in csv.reader(io.StringIO(members[name].decode("utf-8-sig"))):
            assert not [cell for cell in cells if cell[:1] in ("=", "@", "\t", "\r", "\n")], name


def test_every_column_of_every_table_stands_in_the_dictionary(file):
    members = members_of(file)
    told = list(csv.DictReader(io.StringIO(members[check.DICTIONARY].decode("utf-8-sig"))))
    said = {(row["table"], row["column"]) for row in told}
    heads = {
        (name.removeprefix(check.TABLES), column)
        for name, body in members.items() if name.startswith(check.TABLES) and name != check.DICTIONARY
        for column in body.decode("utf-8-sig").splitlines()[0].split(",")
    }  # fmt: skip
    assert said == heads and all(row["what it means"] and row["how it is written"] for row in told)


def test_a_paper_that_is_lost_is_said_in_the_file_and_by_the_check(world, tmp_path):
    sha256 = Document.objects.get().sha256
    blobs._path(world.clinic, sha256).unlink()
    path = tmp_path / "lost.zip"
    assert write(world.clinic, path, by="Ana", at=AT).lost == (sha256,)
    [(status, said)] = checked(path)
    assert status == 1 and "was missing or damaged already when this was made" in said


def test_names_of_members_are_safe_whatever_a_file_was_called():
    safe = [
        safe_name("ab" * 32, name) for name in ("../Füße & Co.pdf", "CON", "", "..", "a/b\\c.PDF", "x" * 300 + ".jpg")
    ]
    assert safe == [
        "abababababab-Fue-Co.pdf", "abababababab-CON", "abababababab-file", "abababababab-file",
        "abababababab-a-b-c.PDF", f"abababababab-{'x' * 60}.jpg",
    ]  # fmt: skip


def test_nobody_s_pass_phrase_or_mail_address_is_in_it(world, tmp_path):
    account = world.people["coordinator"]
    account.email = "ana@invented.example"
    account.set_password("four quiet lamps walking")
    account.save()
    path = tmp_path / "secret.zip"
    write(world.clinic, path, by="Ana", at=AT)
    whole = b"".join(members_of(path).values())
    assert b"ana@invented.example" not in whole and account.password.encode() not in whole
