"""Say that the clock of this server is right now, after it leapt ahead and entries wait.

Look at it first, and compare it with another one: an entry that is stamped ahead counts as known only from then on,
and nothing takes that back. The next entry of every ledger says by how much the clock had leapt.
"""

from __future__ import annotations

from audit.management import options as o
from records import clock
from records.models import Ledger


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--yes", action="store_true", help="it was compared, and it is right")

    def handle(self, *args, **options):
        now = f"The clock says {clock.now():%Y-%m-%d %H:%M:%S} UTC."
        if not options["yes"]:
            o.refuse(self, o.BadInput(f"{now} If that is right, say so with --yes; if not, set it right."))
        count = Ledger.objects.update(clock_accepted=True)
        self.stdout.write(f"{now} Taken as right for the next entry of {count} ledgers.")
        o.end(self, 0)
