"""Write a signed statement of every ledger's newest entry, for somebody else to keep. Run it every day.

Each file holds the moment and, by organisation, number and hash of the newest entry; beside it lies a signature of
the seal's key, and with --stamp a time stamp of somebody else (RFC 3161). Keep them where whoever looks after this
machine cannot change them: `verify_ledger --against` shows with them that nothing was cut off or rewritten since.

How often inspectors' links were opened on days that are over is entered first. A ledger that does not add up is
named, not stated. Exit status: 0 stated, 1 a ledger does not add up, 2 bad input, 3 a fault.
"""

from __future__ import annotations

from datetime import UTC
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage

from audit.facts.heads import LedgerHead
from audit.issue.seal import heads, stamps
from audit.issue.seal.keys import NoKey
from audit.issue.whole.brought import excerpt_of
from audit.management import options as o
from records import clock, log
from records.ledger import tamper_check
from records.models import InspectorLink, Organisation


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--to", type=Path, required=True, metavar="DIR", help="folder that the files go into")
        parser.add_argument("--mail", action="append", default=[], metavar="ADDRESS", help="mail them there as well")
        parser.add_argument("--stamp", metavar="URL", help="a time stamp server (RFC 3161) to ask for a stamp")

    def handle(self, *args, **options):
        for link in InspectorLink.objects.filter(counts__isnull=False).distinct().select_related("clinic"):
            log.enter_openings(link)
        stated, broken = self._heads()
        if not stated:
            o.refuse(self, o.BadInput("There is no ledger to state. `manage.py begin` makes the first entry."))
        at = clock.now().astimezone(UTC).replace(microsecond=0)
        try:
            file = heads.write(options["to"], heads.Stated(at, tuple(stated)))
        except NoKey as error:
            o.refuse(self, error)
        except OSError as error:
            o.refuse(self, o.BadInput(f"--to {options['to']} cannot be written: {error.strerror}. Name a folder."))
        self.stdout.write(f"{file}: heads of {len(stated)} ledgers, signed.")
        status = max(1 if broken else 0, self._stamped(options["stamp"], file))
        if options["mail"]:
            _mailed(file, options["mail"], at)
            self.stdout.write(f"Mailed to {', '.join(options['mail'])}.")
        o.end(self, status)

    def _heads(self) -> tuple[list[LedgerHead], bool]:
        stated, broken = [], False
        for organisation in Organisation.objects.order_by("slug"):
            if excerpt_of(organisation) is not None:
                self.stdout.write(f"Not stated: of the ledger of {organisation.name} only some entries stand here.")
                continue
            verdict = tamper_check.verify(organisation)
            if verdict.whole:
                head = LedgerHead(str(organisation.ref), organisation.name, verdict.entries, verdict.head)
                stated.append(head)
            else:
                broken = True
                self.stderr.write(f"Not stated: {verdict.sentence}")
        return stated, broken

    def _stamped(self, url: str | None, file: Path) -> int:
        """The exit status: the signed statement stands, stamped or not."""
        if not url:
            return 0
        try:
            heads.put(file.with_suffix(heads.STAMP), stamps.ask(url, file.read_bytes()))
        except stamps.NoStamp as error:
            self.stderr.write(f"The statement is signed, and has no time stamp: {error}")
            return 3
        stamp = stamps.look(file.with_suffix(heads.STAMP).read_bytes(), file.read_bytes())
        self.stdout.write(
            f"Stamped by {stamp.by} at {stamp.at:%Y-%m-%d %H:%M:%S} UTC, certificate {stamp.fingerprint}."
        )
        return 0


def _mailed(file: Path, to: list[str], at) -> None:
    mail = EmailMessage(
        f"Ledger heads of {at:%Y-%m-%d}",
        f"Attached: number and hash of the newest entry of every ledger of {settings.SITE_ADDRESS}, and the "
        "signature over them. Keep both as they are: they show later that nothing was cut off or rewritten.\n",
        to=to,
    )
    for each in (file, file.with_suffix(heads.SIGNATURE), file.with_suffix(heads.STAMP)):
        if each.exists():
            mail.attach(each.name, each.read_bytes(), "application/octet-stream")
    mail.send()
