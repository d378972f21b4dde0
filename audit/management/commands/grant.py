"""PostgreSQL: let a role add to the record and read it, and change no table. Run it as the owner of the tables.

Once after `begin`, and again after every `migrate`, which may make new tables.
"""

from __future__ import annotations

from django.db import DatabaseError, connection, transaction

from audit.management import options as o
from audit.upkeep import role


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--to", required=True, metavar="ROLE", help="the role that the pages use")

    def handle(self, *args, **options):
        name = options["to"]
        try:
            _refuse(name)
            with transaction.atomic(), connection.cursor() as cursor:
                for statement in role.statements(connection, name):
                    cursor.execute(statement)
        except o.BadInput as error:
            o.refuse(self, error)
        except DatabaseError as error:
            said = str(error).strip().splitlines()[0]
            o.refuse(
                self, o.BadInput(f"Nothing was changed: {said}. Run it as the role that owns the tables (PGUSER).")
            )
        self.stdout.write(f"{name} may read and add to the record, and change no table and no record.")
        o.end(self, 0)


def _refuse(name: str) -> None:
    if connection.vendor != "postgresql":
        raise o.BadInput("Roles are for PostgreSQL. The embedded database is protected by who may write its file.")
    if not role.exists(connection, name):
        raise o.BadInput(f"There is no role “{name}”. Make it first: CREATE ROLE {name} LOGIN PASSWORD '…'.")
    if why := role.may_too_much(connection, name):
        raise o.BadInput(f"{name} {why}, so nothing could be kept from it. Let the pages use a role of their own.")
