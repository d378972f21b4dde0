"""Recompute the ledger of one clinic, or of every organisation, and name everything that is not as it was recorded.

Looked at: every entry with its rows, names and place; the head of each ledger; papers, photos and issued binders on
disk; the triggers that make the record append-only; rows that belong to no entry; on SQLite the file itself. With
--against also what left the record earlier: statements of `state_heads`, and signed binders. Only with such a file is
it found that the last entries were cut off together with their head, or that a whole chain was computed anew.

Exit status: 0 nothing wrong, 1 something was altered, 2 bad input, 3 the check itself could not be made to its end.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from django.db import DatabaseError

from audit.issue.seal import against
from audit.issue.seal.heads import statements_in
from audit.issue.seal.keys import NoKey
from audit.issue.whole.brought import excerpt_of
from audit.management import options as o
from records.ledger import database, on_disk, stored, tamper_check
from records.models import Organisation


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", nargs="?", help="short name of a clinic or company; all when left out")
        parser.add_argument(
            "--against", type=Path, action="append", default=[], metavar="FILE_OR_DIR",
            help="a statement of heads, a signed binder, or a folder of them; may be given several times",
        )  # fmt: skip

    def handle(self, *args, **options):
        try:
            files = _files(options["against"])
            asked = _asked(options["clinic"])
        except o.BadInput as error:
            o.refuse(self, error)
        except (DatabaseError, ValueError) as error:  # what SQLite says of broken text can itself be broken text
            self.stderr.write(f"The database cannot be read, so nothing was checked: {error}")
            o.end(self, 3)
        status = max([0, *(self._one(each) for each in asked)])
        status = max(status, self._whole(), self._against(files, options["clinic"], asked))
        o.end(self, status)

    def _one(self, organisation: Organisation) -> int:
        """The exit status of one ledger; whatever happens there, the next one is checked too."""
        try:
            verdict = tamper_check.verify(organisation, excerpt_of(organisation))
            found = [*verdict.faults, *on_disk.faults(organisation)]
        except Exception as error:  # a damaged database breaks its readers in more ways than can be listed
            self.stdout.write(f"{organisation.name}: could not be checked to its end: {_said(error)}")
            return 3
        if verdict.whole:
            self.stdout.write(verdict.sentence)
        else:
            self.stdout.write(f"{verdict.sentence} ({len(verdict.faults)} found)")
        for fault in found:
            self.stdout.write(f"  {fault.sentence}")
        return 1 if found else 0

    def _whole(self) -> int:
        found = database.faults()
        for fault in found:
            self.stdout.write(fault.sentence)
        return 1 if found else 0

    def _against(self, files: list[Path], clinic: str | None, asked: list[Organisation]) -> int:
        """What was stated earlier and is not so any more; a file that proves nothing is a failed check too."""
        try:
            anchors = [against.read(file) for file in files]
            found = against.faults(anchors, frozenset(str(each.ref) for each in asked) if clinic else None)
        except (NoKey, OSError, DatabaseError) as error:
            self.stdout.write(f"Nothing was compared with {len(files)} files: {error}")
            return 3
        for anchor in anchors:
            self.stdout.write(f"{anchor.name}: {_told(anchor)}")
        for fault in found:
            self.stdout.write(fault.sentence)
        return 1 if found or any(anchor.problem for anchor in anchors) else 0


def _told(anchor: against.Anchor) -> str:
    if anchor.problem:
        return f"nothing was compared with it: {anchor.problem}"
    at = f" at {anchor.at:%Y-%m-%d %H:%M} UTC" if anchor.at else ""
    stamp = anchor.stamp
    by = f", stamped {stamp.at:%Y-%m-%d %H:%M} UTC by {stamp.by} (certificate {stamp.fingerprint})" if stamp else ""
    return f"signed here{at}{by}, heads of {len(anchor.heads)} ledgers compared"


def _files(paths: list[Path]) -> list[Path]:
    for path in paths:
        if not path.exists():
            raise o.BadInput(f"--against {path} is not there. Name a statement, a signed binder or a folder of them.")
    files = statements_in(paths)
    if paths and not files:
        raise o.BadInput("--against: no statement (heads-….json) and no binder (.pdf) is in that folder.")
    return files


def _said(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"


def _asked(slug: str | None) -> list[Organisation]:
    found = sorted(organisations(), key=lambda each: each.slug)
    if not slug:
        return found
    known = ", ".join(each.slug for each in found)
    found = [each for each in found if each.slug == slug]
    if not found:
        raise o.BadInput(f"There is no clinic or company “{slug}”. Known: {known}.")
    return found


def organisations() -> Iterator[Organisation]:
    """Every organisation, also one whose name cannot be read."""
    table = Organisation._meta.db_table
    for row, _ in stored.rows_of(
        Organisation, stored.raw_rows(f'SELECT {stored.columns_of(Organisation)} FROM "{table}"')
    ):
        row.name, row.slug = row.name or f"organisation {row.pk}", row.slug or ""
        yield row
