"""Make a backup set of database, stored files and seal, while the program runs, and read it back.

Exit status: 0 whole and proved; 1 whole, but something is wrong with the record in it, or it could not be proved;
2 bad input, no set was made; 3 a fault, no set was made.
"""

from __future__ import annotations

import os
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError

from audit.issue.seal import token_key
from audit.management import options as o
from audit.upkeep import archive, backup, databases
from audit.upkeep import place as p


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument(
            "--to", type=Path, required=True, metavar="DIR", help="folder for the set; made if needed"
        )
        parser.add_argument(
            "--encrypt", action="store_true",
            help=f"refuse to write it unencrypted: the pass phrase is the variable {backup.PASS_PHRASE}, and with it "
            "every set is encrypted",
        )  # fmt: skip

    def handle(self, *args, **options):
        phrase = os.environ.get(backup.PASS_PHRASE, "")
        os.umask(0o077)
        try:
            made = backup.make(p.own(), _folder(options, phrase), phrase)
        except (o.BadInput, backup.NoBackup) as error:
            o.refuse(self, error)
        except (databases.NotCopied, archive.NotASet, DatabaseError) as error:
            self._fault(str(error).strip())
        except OSError as error:
            where = error.filename or options["to"]
            self._fault(f"{where}: {error.strerror}. Look at the space there and who may write.")
        self._say(made, phrase)
        o.end(self, 1 if made.findings else 0)

    def _fault(self, why: str) -> None:
        self.stderr.write(f"No backup was made, and older ones are as they were. {why}")
        o.end(self, 3)

    def _say(self, made: backup.BackupSet, phrase: str) -> None:
        stated = made.manifest["proof"] or {"heads": {}}
        size = made.path.stat().st_size / 2**20
        self.stdout.write(f"{made.path}: {size:.1f} MiB, {len(made.manifest['members'])} files, read back whole")
        self.stdout.write(f"SHA-256 {made.sha256}")
        for slug, head in stated["heads"].items():
            self.stdout.write(f"  {slug}: {head['entries']} entries, head {head['head'][:16]}…")
        if token_key.is_set():
            self.stdout.write(
                "The key that signs binders is in a token and not in this set: keep a copy of it by the token's own "
                "means. Its certificate is here, so binders stay known without it."
            )
        if not phrase:
            holds = "" if token_key.is_set() else " and holds the key that signs binders"
            self.stdout.write(
                f"It is not encrypted{holds}: keep it where nobody else reads, or set {backup.PASS_PHRASE}."
            )
        for finding in made.findings:
            self.stderr.write(f"The set is whole, but {finding}.")


def _folder(options, phrase: str) -> Path:
    to = options["to"].resolve()
    if options["encrypt"] and not phrase:
        raise o.BadInput(f"--encrypt: there is no pass phrase. Set {backup.PASS_PHRASE} in the environment.")
    if phrase and len(phrase) < 12:
        raise o.BadInput(f"{backup.PASS_PHRASE} has under 12 characters: whoever holds a set may try any number.")
    if to.exists() and not to.is_dir():
        raise o.BadInput(f"--to {to} is no folder. Name a folder, best on another disk.")
    for folder in (settings.BLOBS_DIR, settings.SEAL_DIR):
        if to.is_relative_to(Path(folder).resolve()):
            raise o.BadInput(f"--to {to} lies inside {folder}, which is backed up itself. Name a folder elsewhere.")
    return to
