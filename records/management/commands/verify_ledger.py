"""Recompute the chain of entries of one clinic, or of every organisation, and name the first that is broken."""

import sys

from django.core.management.base import BaseCommand

from records.ledger import tamper_check
from records.models import Organisation


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", nargs="?", help="short name of a clinic or company; all when left out")

    def handle(self, *args, **options):
        organisations = Organisation.objects.order_by("slug")
        if options["clinic"]:
            organisations = organisations.filter(slug=options["clinic"])
            if not organisations:
                known = ", ".join(Organisation.objects.order_by("slug").values_list("slug", flat=True))
                self.stderr.write(f"There is no clinic or company “{options['clinic']}”. Known: {known}.")
                sys.exit(2)
        broken = False
        for organisation in organisations:
            result = tamper_check.verify(organisation)
            broken = broken or not result.whole
            self.stdout.write(result.sentence)
        sys.exit(1 if broken else 0)
