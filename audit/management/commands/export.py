"""Write everything recorded of one clinic to a file in the open format, as facts with their refs."""

import json
from pathlib import Path

from audit.exchange import codec
from audit.gather.read import clinic_facts
from audit.issue.files import NotWritten, write_whole
from audit.management import options as o


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic")
        parser.add_argument("--out", required=True, help="the file to write; replaced if it exists")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")

    def handle(self, *args, **options):
        path = Path(options["out"])
        try:
            clinic = o.clinic_by_slug(options["clinic"])
            known_at = o.parse_moment(options["known_at"], "--known-at")
            facts = clinic_facts(clinic, known_at=known_at)
            write_whole(
                path, json.dumps(codec.export_of(facts), indent=1, ensure_ascii=False).encode(), o.OUT_NOT_WRITTEN
            )
        except (o.BadInput, NotWritten) as error:
            o.refuse(self, error)
        self.stdout.write(f"{clinic.name}: {len(facts.units)} units written to {path}.")
