"""Checks the file “everything of a clinic” without the program that made it. Python 3.10 or later, nothing else.

    python3 -I check.py everything.zip        the file as it was handed over
    python3 check.py                          beside it, in the folder into which it was unpacked

It says what it checked, and what is missing, altered or added. Exit status: 0 all is as it was written, 1 something
is not, 2 this is no such file. What it cannot know: whether all of it was made up. For that the head of the ledger,
which it prints, stands in every sealed binder and in every statement of heads; compare it with one.
"""

import csv
import hashlib
import io
import json
import os
import sys
import zipfile

ABOUT, ABOUT_SUM = "about.json", "about.sha256"
OWN, OTHERS, REGISTER, HISTORY = "ledger/entries.jsonl", "ledger/others/", "ledger/register.json", "history.json"
TABLES, DICTIONARY, FILES = "tables/", "tables/dictionary.csv", "files.csv"
KIND, FORMAT = "everything of a clinic", 1
BEGIN = "0" * 64
# Columns that every table begins with; the rest are those of its kind.
FIRST = (
    "entry",
    "line",
    "logged_at",
    "logged_by",
    "account",
    "ref",
    "origin",
    "amends",
    "amend_reason",
    "happened_on",
)
SUM_OF_FILE = {"document": "sha256", "photo": "sha256", "cyclerecording": "sha256", "binderissue": "file_sha256"}
FOLDERS = ("papers", "photos", "cycles", "binders")
LONGEST_LINE = 64 * 1024 * 1024
PIECE = 1 << 20
MOST_SAID = 200
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


class NoSuchFile(Exception):
    """This is not such a file, or not one that can be opened: the message says what and the way out."""


# ------------------------------------------------------------------------------------------ how things are written


def canonical(value):
    """JSON with sorted keys and no spare space, in UTF-8: what the ledger hashes."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def hash_of(entry, rows):
    """SHA-256, in hexadecimal, of an entry and its rows."""
    return hashlib.sha256(canonical([entry, rows])).hexdigest()


def digest_of_name(salt, value, person=None):
    """SHA-256, in hexadecimal, by which facts name a person."""
    parts = (salt, value) if person is None else (salt, value, person)
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def plain(text):
    """As text that a table program takes for text: what would begin a formula there gets an apostrophe.

    A negative number stays a number.
    """
    if text[:1] not in _FORMULA or (text[:1] in "+-" and text[1:].replace(".", "", 1).isdigit()):
        return text
    return "'" + text


def cell(value, names):
    """One value of a row as a cell: names of people in words, lists as JSON."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, dict)):
        return plain(json.dumps(value, ensure_ascii=False, sort_keys=True))
    text = str(value)
    return plain(names.get(text, text))


def cells(entry, line, row, columns, names):
    """A row of the ledger as a row of the table of its kind."""
    first = [entry["number"], line, entry["logged_at"], entry["logged_by"], entry["account"]]
    return [cell(value, names) for value in first] + [cell(row.get(name), names) for name in columns[5:]]


def name_in_words(said):
    """A name of the register as it is shown."""
    return said["value"] if said["erased_on"] is None else f"(name erased on {said['erased_on']})"


# ------------------------------------------------------------------------------------------------- what is opened


class Zip:
    """The file as one."""

    def __init__(self, path):
        try:
            self.zip = zipfile.ZipFile(path)  # a path, or an open file
        except (OSError, zipfile.BadZipFile) as error:
            raise NoSuchFile(f"{path} cannot be opened as a ZIP: {error}.") from None
        self.names = [info.filename for info in self.zip.infolist() if not info.is_dir()]

    def open(self, name):
        return self.zip.open(name)


class Folder:
    """The file unpacked."""

    def __init__(self, path):
        self.path, self.names = path, []
        for folder, _, files in os.walk(path):
            under = os.path.relpath(folder, path).replace(os.sep, "/")
            self.names += [file if under == "." else f"{under}/{file}" for file in files]

    def open(self, name):
        return open(os.path.join(self.path, *name.split("/")), "rb")


class WholeCheck:
    """One look at one file. `faults` is all that is wrong, in words; `done` what was looked at.

    `lost` are those of the faults that the file says of itself: files that were gone before it was made.
    """

    def __init__(self, source):
        self.source, self.faults, self.done, self.lost = source, [], [], []
        self.about, self.names, self.refs, self.files = {}, {}, set(), {}
        self.own_head = (0, BEGIN)

    def run(self):
        """Look at everything. Raises NoSuchFile."""
        self._about()
        for look in (self._members, self._register, self._ledgers, self._tables, self._files, self._history):
            try:
                look()
            except KeyError as missing:
                self._say(f"{missing.args[0]}: it is not there, or lacks a part that must be there")
            except (
                ValueError,
                TypeError,
                AttributeError,
                LookupError,
                OSError,
                EOFError,
                zipfile.BadZipFile,
            ) as error:
                self._say(f"It cannot be read on ({look.__name__.strip('_')}): {error}")
        return self

    def _say(self, fault):
        if fault not in self.faults:
            self.faults.append(fault)

    # ------------------------------------------------------------------------------------------ the list of it

    def _about(self):
        if ABOUT not in self.source.names:
            raise NoSuchFile(f"There is no {ABOUT} in it, so this is not everything of a clinic. Take another file.")
        try:
            with self.source.open(ABOUT) as file:
                body = file.read(LONGEST_LINE)
            self.about = json.loads(body)
            known = self.about["kind"] == KIND and isinstance(self.about["members"], dict)
        except (ValueError, KeyError, TypeError, OSError, EOFError, zipfile.BadZipFile):
            known = False
        if not known:
            raise NoSuchFile(f"{ABOUT} cannot be read as that of everything of a clinic. Take another file.")
        if self.about.get("format") != FORMAT:
            raise NoSuchFile(f"Its form is {self.about.get('format')!r}; this check reads form {FORMAT}.")
        try:
            with self.source.open(ABOUT_SUM) as file:
                said = file.read(200).decode("ascii", "replace").split()
        except (OSError, KeyError, EOFError, zipfile.BadZipFile):
            said = []
        if said[:1] != [hashlib.sha256(body).hexdigest()]:
            self._say(f"{ABOUT}: it is not what was written ({ABOUT_SUM} says another sum, or is missing)")

    def _members(self):
        members, seen = self.about["members"], set()
        for name in self.source.names:
            if name in seen:
                self._say(f"{name}: it stands in the file twice")
            seen.add(name)
            if name not in members and name not in (ABOUT, ABOUT_SUM):
                self._say(f"{name}: it was added; {ABOUT} does not know of it")
        for name in sorted(members):
            if name not in seen:
                self._say(f"{name}: it is missing")
            elif (why := self._altered(name, members[name])) != "":
                self._say(f"{name}: {why}")
        self.done.append(f"{len(members)} files by their sums")

    def _altered(self, name, said):
        summed, size = hashlib.sha256(), 0
        try:
            with self.source.open(name) as file:
                while piece := file.read(PIECE):
                    summed.update(piece)
                    size += len(piece)
        except (OSError, EOFError, ValueError, zipfile.BadZipFile) as error:
            return f"it cannot be read: {error}"
        return "" if said == {"size": size, "sha256": summed.hexdigest()} else "it was altered"

    # --------------------------------------------------------------------------------------------- the ledgers

    def _register(self):
        with self.source.open(REGISTER) as file:
            register = json.loads(file.read())
        for said in register["names"]:
            self.names[said["digest"]] = name_in_words(said)
            if said["erased_on"] is None and said["digest"] not in (
                digest_of_name(said["salt"], said["value"], said["person"]),
                digest_of_name(said["salt"], said["value"]),
            ):
                self._say(f"{REGISTER}: the name “{said['value']}” is not the one that was signed")
        self.accounts = {said["ref"] for said in register["accounts"]}
        self.done.append(f"{len(register['names'])} names of people against what was signed")

    def _ledgers(self):
        own = self.about["ledger"]
        number, head = self._ledger(OWN, whole=True)
        self.own_head = (number, head)
        if (number, head) != (own["entries"], own["head"]):
            self._say(f"{OWN}: it ends at entry {number} ({head[:16]}…), {ABOUT} says {own['entries']}")
        self.done.append(
            f"{number} entries of the ledger of {self.about['clinic']['name']}, from the first to the last"
        )
        for said in self.about["others"]:
            name = f"{OTHERS}{said['ref']}.jsonl"
            hashes = {}
            self._ledger(name, whole=False, hashes=hashes)
            if hashes != said["entries"]:
                self._say(f"{name}: it does not hold the entries that {ABOUT} names")
            self.done.append(f"{len(hashes)} entries of other books on which the record rests, each for itself")

    def lines(self, name):
        """Each entry of a ledger: its line as JSON."""
        with self.source.open(name) as file:
            at = 0
            while text := file.readline(LONGEST_LINE):
                at += 1
                try:
                    line = json.loads(text)
                    yield line["entry"], line["rows"], line["kinds"], line["hash"], line["at"]
                except (ValueError, KeyError, TypeError):
                    self._say(f"{name}: line {at} is no entry")

    def _ledger(self, name, *, whole, hashes=None):
        number, head, at = 0, BEGIN, 0
        for entry, rows, kinds, said, place in self.lines(name):
            here = entry["number"]
            if whole and here != number + 1:
                self._say(f"{name}: entry {number + 1} is missing, or not in its place")
            if here <= number or place <= at:
                self._say(f"{name}: entry {here} is not in its place")
            if entry["previous"] != head and (whole or here == number + 1):
                self._say(f"{name}: entry {here} does not follow from the entry before")
            if hash_of(entry, rows) != said:
                self._say(f"{name}: entry {here} is not what was recorded: its hash is another one")
            self._of_rows(name, entry, rows, kinds)
            number, head, at = here, said, place
            if hashes is not None:
                hashes[str(here)] = said
        return number, head

    def _of_rows(self, name, entry, rows, kinds):
        if entry["logged_by"] not in self.names or entry["account"] not in self.accounts:
            self._say(f"{name}: who logged entry {entry['number']} is not in {REGISTER}")
        if len(kinds) != len(rows):
            self._say(f"{name}: entry {entry['number']} does not name the kinds of its rows")
        for kind, row in zip(kinds, rows, strict=False):
            self.refs.add(row["ref"])
            column = SUM_OF_FILE.get(kind)
            if column and name == OWN:
                self.files.setdefault(row[column], f"{kind} {row['ref'][:8]}, entry {entry['number']}")

    # ------------------------------------------------------------------------------------- tables, files, history

    def _tables(self):
        columns = self.about["tables"]
        open_tables = {}
        for kind in sorted(columns):
            text = io.TextIOWrapper(self.source.open(f"{TABLES}{kind}.csv"), "utf-8-sig", newline="")
            open_tables[kind] = csv.reader(text)
            if next(open_tables[kind], None) != columns[kind]:
                self._say(f"{TABLES}{kind}.csv: its heads are not those that {ABOUT} names")
        count = 0
        for entry, rows, kinds, _, _ in self.lines(OWN):
            for line, (kind, row) in enumerate(zip(kinds, rows, strict=False), 1):
                count += 1
                if kind not in open_tables:
                    self._say(f"{TABLES}{kind}.csv: it is missing")
                elif next(open_tables[kind], None) != cells(entry, line, row, columns[kind], self.names):
                    self._say(f"{TABLES}{kind}.csv: its row of entry {entry['number']} is not what the ledger says")
        for kind, table in open_tables.items():
            if next(table, None) is not None:
                self._say(f"{TABLES}{kind}.csv: it holds rows that the ledger does not")
        self.done.append(f"{count} rows of {len(columns)} tables against the ledger")

    def _files(self):
        members, listed, lost = self.about["members"], set(), set(self.about["lost"])
        with self.source.open(FILES) as file:
            rows = list(csv.DictReader(io.TextIOWrapper(file, "utf-8-sig", newline="")))
        for row in rows:
            listed.add(row["sha256"])
            if row["file"] and members.get(row["file"], {}).get("sha256") != row["sha256"]:
                self._say(f"{row['file']}: it is not the file that the ledger names")
            if not row["file"] and row["sha256"] not in lost:
                self._say(f"{FILES}: {row['sha256'][:16]}… has no file, and nothing says that it was lost")
        for digest, where in sorted(self.files.items()):
            if digest not in listed:
                self._say(f"{FILES}: the file of {where} is not in the list")
            elif digest in lost:
                self.lost.append(f"The file of {where} was missing or damaged already when this was made")
                self._say(self.lost[-1])
        named = {row["file"] for row in rows}
        for name in sorted(members):
            if name.split("/")[0] in FOLDERS and name not in named:
                self._say(f"{name}: no row of the ledger names it")
        self.done.append(
            f"{len(self.files)} papers, photos, recorded cycles and binders against what the ledger names"
        )

    def _history(self):
        with self.source.open(HISTORY) as file:
            history = json.loads(file.read())
        if history["clinic"]["ref"] != self.about["clinic"]["ref"]:
            self._say(f"{HISTORY}: it is of another clinic")
        strange = [ref for ref in _refs_in(history["clinic"]) if ref not in self.refs]
        if strange:
            self._say(f"{HISTORY}: it names {len(strange)} rows that no ledger here holds, such as {strange[0]}")
        said = [(head["number"], head["hash"]) for head in history["clinic"].get("heads", ())]
        if said and tuple(said[0]) != self.own_head:
            self._say(f"{HISTORY}: it was made from another state of the ledger")
        self.done.append("the history in the open format: every row that it names stands in a ledger here")

    # ------------------------------------------------------------------------------------------------ in words

    def words(self):
        """What is to be said, line by line."""
        about = self.about
        yield f"{about['clinic']['name']}: everything on record as of {about['made_at']}"
        yield f"Taken out by {about['made_by']}."
        yield "Checked:"
        yield from (f"  {each}" for each in self.done)
        number, head = self.own_head
        yield f"The ledger ends with entry {number}. Its head: {head}"
        yield "Compare it with a sealed binder or a statement of heads: this check can’t know whether all is made up."
        if not self.faults:
            yield "Everything is as it was written."
            return
        yield f"NOT as it was written, {len(self.faults)} thing{'' if len(self.faults) == 1 else 's'}:"
        yield from (f"  {fault}" for fault in self.faults[:MOST_SAID])
        if len(self.faults) > MOST_SAID:
            yield f"  and {len(self.faults) - MOST_SAID} more"


def _refs_in(value):
    """The ref of every row that a history holds."""
    held = [value]
    while held:
        each = held.pop()
        if isinstance(each, list):
            held += each
        elif isinstance(each, dict):
            if isinstance(each.get("row"), dict) and "ref" in each["row"]:
                yield each["row"]["ref"]
            held += each.values()


def main(words):
    """The command."""
    path = words[0] if words else os.path.dirname(os.path.abspath(__file__))
    try:
        if not os.path.exists(path):
            raise NoSuchFile(f"{path} is not there.")
        check = WholeCheck(Folder(path) if os.path.isdir(path) else Zip(path)).run()
    except NoSuchFile as error:
        print(error, file=sys.stderr)
        return 2
    for line in check.words():
        print(line)
    return 1 if check.faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
