"""Django's `migrate`, which also mends a database whose append-only triggers are gone.

Missing triggers fail the check of the database, and `migrate` is what brings them back: so it must not be stopped by
that check. A migration that failed half way leaves the same state behind.
"""

from django.core.management.base import BaseCommand
from django.core.management.commands import migrate


class Command(migrate.Command):
    def get_check_kwargs(self, options):
        return BaseCommand.get_check_kwargs(self, options)  # without `databases`: none of theirs is checked
