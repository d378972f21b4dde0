"""Put a backup set back into an empty place, bring it up to this program, and prove that it is the same record.

Where: the data folder and the database that the settings name (STANDING_DATA, and with PostgreSQL PGDATABASE), which
must be empty. What was ended in the middle says so, and the same command begins it again.

Exit status: 0 all of it stands and is proved; 1 it stands, but is not what the set says; 2 bad input, nothing was
written; 3 a fault.
"""

from __future__ import annotations

import os
from pathlib import Path

from django.db import DatabaseError

from audit.management import options as o
from audit.upkeep import archive, cipher, databases, restore
from audit.upkeep import place as p
from audit.upkeep.backup import PASS_PHRASE as VARIABLE


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument(
            "--from", dest="set", type=Path, required=True, metavar="SET", help="the file that backup wrote"
        )

    def handle(self, *args, **options):
        place = p.own()
        os.umask(0o077)
        try:
            found = restore.restore(options["set"], place, os.environ.get(VARIABLE, ""))
        except cipher.WrongPassPhrase as error:
            o.refuse(self, o.BadInput(f"{error} Set {VARIABLE} to the pass phrase under which it was written."))
        except (restore.NotRestored, archive.NotASet) as error:
            o.refuse(self, error)
        except FileNotFoundError as error:
            o.refuse(self, o.BadInput(f"{error.filename} is not there. Name the file that backup wrote."))
        except (databases.NotCopied, DatabaseError, OSError) as error:
            self.stderr.write(f"{str(error).strip().rstrip('.')}. Not all of it stands; mend that and begin again.")
            o.end(self, 3)
        self._say(found, place)
        o.end(self, 0 if found.proved and not found.manifest["proof"]["chains"] else 1)

    def _say(self, found: restore.Restored, place: p.Place) -> None:
        made = found.manifest
        self.stdout.write(f"Put back into {place.data}: a set of {made['made_at']}, {len(made['members'])} files.")
        if found.migrated:
            self.stdout.write(f"It is of an older program: {found.migrated} migrations were applied.")
        for fault in found.record:
            self.stderr.write(f"NOT THE SAME RECORD: {fault}.")
        if found.record:
            self.stderr.write(f"Do not work with it: {place.data / p.RESTORING} stays there. Take another set.")
            return
        if made["proof"] is None:
            self.stderr.write("The set says nothing of its record, so nothing could be compared. The chains add up.")
            return
        self._say_proof(found)

    def _say_proof(self, found: restore.Restored) -> None:
        stated = found.manifest["proof"]
        for slug, head in stated["heads"].items():
            self.stdout.write(f"  {slug}: {head['entries']} entries, head {head['head'][:16]}…, as in the set")
        for sentence in stated["chains"].values():
            self.stderr.write(f"It was so when the set was made: {sentence}")
        if not found.meaning and stated.get("binder"):
            binder = stated["binder"]
            self.stdout.write(
                f"Every answer is the same, and so are the bytes of the binder of {binder['clinic']}, "
                f"{binder['from']} to {binder['to']}."
            )
        for difference in found.meaning:
            out = self.stderr if found.same_program else self.stdout
            out.write(f"{difference}{'' if found.same_program else ': this is another program than made the set'}.")
