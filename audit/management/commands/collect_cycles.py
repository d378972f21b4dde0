"""Bring in the files of recorded cycles that lie in a folder, each to its load by serial, cycle number and day.

A file that stands on record, now or before, is moved into the folder “recorded” in it; one that cannot be taken stays
where it is, and is named with the reason. Run it as often as wanted: nothing is written twice. A cycle that nobody
logged makes its load, as the file says that it ran; that it leaves out or falls behind a number on record is flagged.

Exit status: 0 every file is on record, 1 some stay, 2 the folder cannot be read or who it is for may not record.
"""

from __future__ import annotations

import os
import uuid
from pathlib import Path

from audit.issue.cycle_files import FileNotTaken, take_in
from audit.management import options as o
from records import access
from records.log.recordings import LARGEST
from records.models import Account

DONE = "recorded"
# What a recorder's file says happened whoever reads the question: recorded and flagged.
CONFIRMED = ("cycle-leap", "cycle-back")


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("folder", type=Path, help="where the recorder's computer puts its files")
        parser.add_argument("--clinic", required=True, help="the short name of the clinic")
        parser.add_argument("--by", required=True, help="log-in name of the account that brings them in")

    def handle(self, *args, **options):
        folder = options["folder"]
        try:
            clinic, by = self._who(options)
            files = _files(folder)
        except o.BadInput as error:
            o.refuse(self, error)
        stay = 0
        for path in files:
            problem = self._taken(clinic, by, path)
            if problem:
                stay += 1
                self.stderr.write(f"{path.name} stays: {problem}")
        self.stdout.write(f"{len(files)} files: {len(files) - stay} on record, {stay} stay.")
        o.end(self, 1 if stay else 0)

    def _who(self, options):
        clinic = o.clinic_by_slug(options["clinic"])
        by = Account.objects.filter(username=options["by"], is_active=True).first()
        rights = access.rights(by, clinic) if by else None
        if rights is None or not rights.may_log:
            raise o.BadInput(f"“{options['by']}” may not record at {clinic.name}. Name somebody of it with --by.")
        return clinic, by

    def _taken(self, clinic, by, path: Path) -> str:
        """Why a file stays; "" for one that is on record and was moved."""
        try:
            with path.open("rb") as file:
                content = file.read(LARGEST + 1)
        except OSError as error:
            return f"it cannot be read: {error.strerror}"
        try:
            taken = take_in(
                by=by, request_key=uuid.uuid4(), clinic=clinic, content=content, filename=path.name, how="collected",
                confirmed=CONFIRMED,
            )  # fmt: skip
        except FileNotTaken as refused:
            return refused.message
        said = f": {taken.verdict}" if taken.verdict else ""
        self.stdout.write(f"{path.name}: {taken.word} as entry {taken.row.entry.number}{said}")
        return _moved(path)


def _files(folder: Path) -> list[Path]:
    """The files of the folder by name; what begins with a dot, links and folders are none. Raises BadInput."""
    try:
        found = [
            Path(entry.path)
            for entry in os.scandir(folder)
            if entry.is_file(follow_symlinks=False) and entry.name[0] != "."
        ]
    except OSError as error:
        raise o.BadInput(f"{folder} cannot be read: {error.strerror}. Name a folder that is there.") from None
    return sorted(found)


def _moved(path: Path) -> str:
    """Put a file that is on record aside, under a name that is free; why it could not be, "" where it was."""
    done = path.parent / DONE
    try:
        done.mkdir(exist_ok=True)
        to, n = done / path.name, 1
        while to.exists():
            to, n = done / f"{path.stem}-{n}{path.suffix}", n + 1
        path.rename(to)
    except OSError as error:
        return f"it is on record, but could not be moved into {done}: {error.strerror}"
    return ""
