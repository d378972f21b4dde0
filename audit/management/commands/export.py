"""Write everything recorded of one clinic to a file in the open format, as facts with their refs; with --everything
a ZIP with the ledger, tables, papers, photos and binders as well; with --stock the parts in the books of a company or
of a clinic."""

import json
from pathlib import Path

from audit.exchange import codec, stock
from audit.gather.read import clinic_facts
from audit.gather.stock import stock_facts
from audit.issue.files import NotWritten, write_whole
from audit.issue.whole.write import NotTakenOut, write
from audit.management import options as o
from records import clock
from records.models import Organisation


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("clinic", help="the short name of the clinic; with --stock also that of a company")
        parser.add_argument("--stock", action="store_true", help="the stock of parts and all that became of it")
        whole = "a ZIP with the ledger, tables and files, which `load` brings into an empty place"
        parser.add_argument("--everything", action="store_true", help=whole)
        parser.add_argument("--by", default="", metavar="NAME", help="with --everything: who takes it out")
        parser.add_argument("--out", required=True, help="the file to write; replaced if it exists")
        parser.add_argument("--known-at", help="only what had been logged by that moment (with its UTC offset)")

    def handle(self, *args, **options):
        path = Path(options["out"])
        if options["everything"]:
            self._everything(options, path)
            return
        if options["stock"]:
            self._stock(options["clinic"], path, options["known_at"])
            return
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

    def _everything(self, options, path: Path) -> None:
        try:
            if options["stock"] or options["known_at"]:
                raise o.BadInput("--everything is all that is on record by now. Leave out --stock and --known-at.")
            clinic = o.clinic_by_slug(options["clinic"])
            by = options["by"].strip() or "whoever runs the commands of this site"
            made = write(clinic, path, by=by, at=clock.now())
        except OSError as error:
            o.refuse(self, o.BadInput(f"“{path}” cannot be written: {error.strerror}. {o.OUT_NOT_WRITTEN}"))
        except (o.BadInput, NotTakenOut) as error:
            o.refuse(self, error)
        lost = f"; {len(made.lost)} that the record names are lost" if made.lost else ""
        self.stdout.write(f"{clinic.name}: {made.entries} entries and {made.files} files written to {path}{lost}.")
        self.stdout.write(
            f"Head of the ledger {made.head}. Check it with Python alone: python3 -I check.py {path.name}"
        )

    def _stock(self, slug: str, path: Path, known_at: str | None) -> None:
        try:
            owner = Organisation.objects.filter(slug=slug).first()
            if owner is None:
                raise o.BadInput(f"There is no clinic and no company called “{slug}”.")
            if known_at:
                raise o.BadInput("--known-at is of a clinic's own record. Leave it out with --stock.")
            books = stock_facts(owner)
            body = json.dumps(stock.export_of(books), indent=1, ensure_ascii=False).encode()
            write_whole(path, body, o.OUT_NOT_WRITTEN)
        except (o.BadInput, NotWritten) as error:
            o.refuse(self, error)
        self.stdout.write(f"{owner.name}: {len(books.lots)} lots of parts written to {path}.")
