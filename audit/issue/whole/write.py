"""Everything of a clinic as one ZIP: the history in the open format, the ledger with its hashes, a table a kind of
row, papers, photos, recorded cycles and issued binders, and a small program that checks all of it without this one.

Written from beginning to end: a few hundred entries and one file at a time are held, and the history once. The same
record, moment and person make the same bytes.
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from audit.exchange import codec
from audit.facts import ClinicFacts
from audit.gather.read import clinic_facts
from audit.issue.seal.manifest import program
from audit.issue.whole import check
from audit.issue.whole.columns import columns_of, dictionary
from audit.issue.whole.zipped import Members, safe_name
from records.files import blobs
from records.ledger import register, rests_on, taken_out
from records.models import Account, Clinic, Person, PersonText

Told = Callable[[int, int, str], None]
CHECK = Path(check.__file__)
FOLDERS = {"document": "papers", "photo": "photos", "cyclerecording": "cycles", "binderissue": "binders"}
_FILE_HEADS = ("file", "kind", "entry", "row", "day", "title", "called", "sha256")
_TRIES = 10
_TOLD_EVERY = 100


class NotTakenOut(Exception):
    """The file cannot be made: the message says why and the way out."""


@dataclass(frozen=True, slots=True)
class TakenOut:
    """What was written: number and hash of the last entry, how many files, which of them were lost by then."""

    entries: int
    head: str
    files: int
    lost: tuple[str, ...]
    sha256: str
    size: int
    about_sha256: str

    def told(self) -> dict:
        """As a job keeps it."""
        return {name: getattr(self, name) for name in self.__slots__} | {"lost": len(self.lost)}


def write(clinic: Clinic, to: Path, *, by: str, at: datetime, told: Told = lambda *_: None) -> TakenOut:
    """Write the file beside `to` and rename it: it is there whole or not at all.

    `by` says who takes it out and `at` as of when, both as text of the file. Raises NotTakenOut and OSError.
    """
    with tempfile.TemporaryDirectory(dir=to.parent, prefix=".out-") as folder:
        facts, numbers = _at_rest(clinic)
        if not facts.heads:
            raise NotTakenOut(f"{clinic.name} has no entry yet, so there is nothing to take out.")
        part = Path(folder) / "whole.zip"
        try:
            with Members(part) as members:
                made = _WholeWritten(clinic, facts, numbers, members, Path(folder), told)
                about = made.everything(by, at)
        except taken_out.NotRendered as error:
            raise NotTakenOut(str(error)) from None
        sha256 = _sum(part)
        size = part.stat().st_size
        os.chmod(part, 0o600)
        os.replace(part, to)
    own = about["ledger"]
    lost = tuple(about["lost"])
    return TakenOut(own["entries"], own["head"], made.files, lost, sha256, size, made.about_sum)


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _at_rest(clinic: Clinic) -> tuple[ClinicFacts, dict[int, int]]:
    """The facts and the last entry of each ledger, read while nothing was logged in any of them."""
    for _ in range(_TRIES):
        before = rests_on.last_numbers()
        facts = clinic_facts(clinic)
        if before == rests_on.last_numbers():
            return facts, before
    raise NotTakenOut("Somebody logs all the time, so the record did not come to rest. Try again in a moment.")


class _WholeWritten:
    """One file as it is written, member by member."""

    def __init__(self, clinic, facts, numbers, members: Members, folder: Path, told: Told):
        self.clinic, self.facts, self.numbers, self.members = clinic, facts, numbers, members
        self.folder, self.told = folder, told
        self.rests = rests_on.RestsOn(clinic, numbers)
        self.names: dict[str, str] = {}
        self.known_names: set[int] = set()
        self.tables: dict[str, list[str]] = {}
        self.named: list[dict] = []  # rows that name a file
        self.lost: list[str] = []
        self.head, self.files, self.about_sum = check.BEGIN, 0, ""
        self.steps = numbers[clinic.pk] + 1
        self.done = 0

    def everything(self, by: str, at: datetime) -> dict:
        """Write every member; what the file says of itself."""
        put = self.members.put
        self.told(0, self.steps, "writing the history")
        put("README.txt", [_readme(self.clinic.name).encode()])
        put("check.py", [CHECK.read_bytes()])
        put(check.HISTORY, _as_json(codec.export_of(self.facts)))
        with ExitStack() as stack:
            put(check.OWN, self._own(_TablesBeside(self.folder, stack)))
        others = self._others()
        pointed = self.rests.pointed
        organisations = set().union(*(keys for model, keys in pointed.items() if _is_organisation(model)))
        told = register.register(self.clinic, self._people(), pointed[Account], organisations)
        put(check.REGISTER, _as_json(told))
        for kind in sorted(self.tables):
            self.members.put_file(f"{check.TABLES}{kind}.csv", self.folder / f"{kind}.csv")
        put(check.DICTIONARY, [dictionary(sorted(self.tables))])
        self._files()
        about = {
            "kind": check.KIND,
            "format": check.FORMAT,
            "clinic": {"ref": str(self.clinic.ref), "slug": self.clinic.slug, "name": self.clinic.name},
            "made_at": at.isoformat(timespec="seconds"),
            "made_by": by,
            "program": program(),
            "ledger": {"entries": self.numbers[self.clinic.pk], "head": self.head},
            "others": others,
            "tables": self.tables,
            "lost": sorted(self.lost),
        }
        about["members"] = dict(self.members.sums)
        body = b"".join(_as_json(about))
        self.about_sum = hashlib.sha256(body).hexdigest()
        put(check.ABOUT, [body])
        put(check.ABOUT_SUM, [f"{self.about_sum}  {check.ABOUT}\n".encode()])
        return about

    def _step(self, what: str) -> None:
        self.done += 1
        if self.done % _TOLD_EVERY == 0:
            self.told(self.done, self.steps, what)

    # -------------------------------------------------------------------------------------------- ledgers, tables

    def _own(self, tables: _TablesBeside) -> Iterator[bytes]:
        for each in taken_out.of_ledger(self.clinic, self.numbers[self.clinic.pk]):
            self.rests.learn(each)
            self._learn_names(each.points_to.get(PersonText, set()))
            for line, (kind, row) in enumerate(zip(each.kinds, each.rows, strict=True), 1):
                if kind not in self.tables:
                    self.tables[kind] = columns_of(kind)
                tables.of(kind, self.tables[kind]).writerow(
                    check.cells(each.entry, line, row, self.tables[kind], self.names)
                )
                if kind in FOLDERS:
                    self.named.append(_named(each.number, kind, row))
            self.head = each.hash
            self._step("writing the ledger and its tables")
            yield _line(each)

    def _learn_names(self, keys: set[int]) -> None:
        if new := keys - self.known_names:
            self.known_names |= new
            for text in PersonText.objects.filter(pk__in=new):
                said = {"value": text.value, "erased_on": text.erased_on and text.erased_on.isoformat()}
                self.names[text.digest] = check.name_in_words(said)

    def _others(self) -> list[dict]:
        """Entries of other ledgers, a member a ledger; which they are."""
        of_each: dict[int, list[int]] = {}
        keys = self.rests.entries()
        refs: dict[int, str] = {}
        spooled: dict[int, dict[str, str]] = {}
        with ExitStack() as stack:
            files = {}
            for at in range(0, len(keys), taken_out.AT_A_TIME):
                for each in taken_out.of_keys(keys[at : at + taken_out.AT_A_TIME]):
                    whose = each.organisation
                    if whose not in files:
                        files[whose] = stack.enter_context((self.folder / f"{whose}.jsonl").open("wb"))
                        refs[whose], spooled[whose] = each.entry["ledger"], {}
                    files[whose].write(_line(each))
                    spooled[whose][str(each.number)] = each.hash
                    of_each.setdefault(whose, []).append(each.number)
        told = []
        for whose in sorted(refs, key=refs.get):
            self.members.put_file(f"{check.OTHERS}{refs[whose]}.jsonl", self.folder / f"{whose}.jsonl")
            told.append({"ref": refs[whose], "entries": spooled[whose]})
        return told

    def _people(self) -> set[int]:
        texts = self.rests.pointed[PersonText]
        found = set(PersonText.objects.filter(pk__in=texts).values_list("person_id", flat=True))
        return found | self.rests.pointed[Person]

    # -------------------------------------------------------------------------------------------------- files

    def _files(self) -> None:
        """Every file that a row names, once; then the list of them."""
        where: dict[str, str] = {}
        self.steps += len(self.named)
        for said in self.named:
            digest = said["sha256"]
            self._step("adding papers, photos and binders")
            if digest in where:
                continue
            where[digest] = ""
            try:
                content = blobs.read(self.clinic, digest)
            except (OSError, ValueError):
                self.lost.append(digest)
                continue
            where[digest] = f"{FOLDERS[said['kind']]}/{safe_name(digest, said['called'])}"
            self.members.put(where[digest], [content], packed=said["kind"] == "cyclerecording")
            self.files += 1
        path = self.folder / "files.csv"
        with path.open("w", encoding="utf-8-sig", newline="") as file:
            table = csv.writer(file)
            table.writerow(_FILE_HEADS)
            for said in self.named:
                named = said | {"file": where[said["sha256"]]}
                table.writerow([check.plain(str(named[head])) for head in _FILE_HEADS])
        self.members.put_file(check.FILES, path)


class _TablesBeside:
    """The tables while the ledger is read: a file of text each, beside the ZIP."""

    def __init__(self, folder: Path, stack: ExitStack):
        self.folder, self.stack, self.open = folder, stack, {}

    def of(self, kind: str, columns: list[str]):
        """The table of a kind, with its heads."""
        if kind not in self.open:
            path = self.folder / f"{kind}.csv"
            file = self.stack.enter_context(path.open("w", encoding="utf-8-sig", newline=""))
            self.open[kind] = csv.writer(file)
            self.open[kind].writerow(columns)
        return self.open[kind]


def _line(each: taken_out.EntryTaken) -> bytes:
    line = {"at": each.at, "entry": each.entry, "hash": each.hash, "kinds": each.kinds, "rows": each.rows}
    return check.canonical(line) + b"\n"


def _named(number: int, kind: str, row: dict) -> dict:
    if kind == "binderissue":
        called = f"binder-{row['from_on']}-to-{row['to_on']}-as-of-{row['as_of']}.pdf"
        title = "issued binder"
    elif kind == "photo":
        called, title = "photo.jpg", row["caption"]
    else:
        called, title = row["filename"], row.get("title", "recorded cycle")
    said = {"kind": kind, "entry": number, "row": row["ref"], "day": row["happened_on"], "title": title}
    return said | {"called": called, "sha256": row[check.SUM_OF_FILE[kind]]}


def _is_organisation(model: type) -> bool:
    from records.models import Organisation

    return issubclass(model, Organisation)


def _as_json(value) -> Iterator[bytes]:
    """As text that people can read, some pieces at a time."""
    pieces, size = [], 0
    for piece in json.JSONEncoder(indent=1, ensure_ascii=False).iterencode(value):
        pieces.append(piece)
        size += len(piece)
        if size > 1 << 16:
            yield "".join(pieces).encode()
            pieces, size = [], 0
    yield ("".join(pieces) + "\n").encode()


def _readme(name: str) -> str:
    return f"""EVERYTHING OF A CLINIC: {name}

about.json            as of when and by whom this was taken out, what it holds, with the sum of every file
check.py              checks all of it with Python alone:   python3 -I check.py THIS-FILE.zip
history.json          what happened, in the open format: units, tests, loads, visits, papers
tables/               the same as tables, one a kind of row, for any table program; dictionary.csv says what the
                      columns mean. Every version of a row is there: one that was corrected stands beside its
                      correction (column "amends"), and voiding.csv names the rows that were entered in error
ledger/entries.jsonl  the ledger: an entry a line, with its hash, which covers its rows and the entry before
ledger/others/        entries of other books on which this record rests, such as instruments, lots and calibrations
                      of a service company, and where a unit stood before. An entry is there whole, since its hash
                      covers all of it
ledger/register.json  who and what the ledger names: organisations, people, their names
papers/ photos/ cycles/ binders/   the files; files.csv says which row names each

The ledger: in each line, the SHA-256 of [entry, rows] as JSON with sorted keys and no spare space is the hash, and
the next entry names it as "previous". People are named by the SHA-256 of salt, name and person, with a zero byte
between them.

To bring it into an empty place:   manage.py load THIS-FILE.zip --by LOG-IN
It holds names of people: keep it as you keep the record itself.
"""
