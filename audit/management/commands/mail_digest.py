"""Send everybody who wants it a mail of what is due and which units may not be used. Run it once a day or more often:
nobody is sent two mails on one day."""

from datetime import date

from django.conf import settings
from django.core.mail import EmailMessage
from django.urls import reverse

from audit.management import options as o
from audit.models import MailDigest
from audit.planning import digest
from audit.planning.reach import ClinicToday, reached
from records import clock


def address_of(place: str) -> str:
    """An address of this site as the mail names it, out of "", "mail" or the slug of a clinic."""
    path = {"": reverse("home"), "mail": reverse("my-mail")}.get(place) or reverse("clinic", args=[place])
    return settings.SITE_ADDRESS.rstrip("/") + path


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--dry-run", action="store_true", help="send nothing and note nothing; print each mail")

    def handle(self, *args, **options):
        self.dry, self.sent, self.quiet, self.failed = options["dry_run"], 0, 0, 0
        wishes = MailDigest.objects.select_related("account").exclude(every=digest.NEVER)
        for wish in wishes.filter(account__is_active=True).order_by("account__username"):
            try:
                self._one(wish)
            except Exception as fault:  # noqa: BLE001 (what is wrong with one person's mail must not cost the others)
                self._failed(wish, f"no mail could be made: {fault}")
        verb = "would be sent" if self.dry else "sent"
        self.stdout.write(f"{self.sent} mails {verb}, {self.quiet} not sent: nothing is due. {self.failed} failed.")
        if self.failed:
            o.end(self, 1)

    def _one(self, wish: MailDigest) -> None:
        account = wish.account
        if not account.email:
            self._failed(wish, "no mail address is on file. It is entered on the page “Mail”.")
            return
        clinics = list(reached(account))
        today = _today(clinics)
        if not digest.is_wanted(wish.every, wish.sent_on, today):
            return
        parts = [digest.part_of(at, wish.every) for at in clinics]
        if wish.every == digest.DAY and all(part.is_quiet for part in parts):
            self.quiet += 1
            return
        mail = EmailMessage(
            subject=digest.subject_of(parts),
            body=digest.text_of(account.full_name, parts, address_of),
            to=[account.email],
            headers={"Auto-Submitted": "auto-generated"},
        )
        if self.dry:
            self.stdout.write(f"To: {account.email}\nSubject: {mail.subject}\n\n{mail.body}")
            self.sent += 1
        elif _claim(wish, today):
            self._send(wish, mail)

    def _send(self, wish: MailDigest, mail: EmailMessage) -> None:
        try:
            mail.send()
        except Exception as fault:  # noqa: BLE001 (whatever it was, this mail is tried again at the next run)
            MailDigest.objects.filter(pk=wish.pk).update(sent_on=wish.sent_on)
            self._failed(wish, f"the mail was not sent: {fault}")
        else:
            self.sent += 1

    def _failed(self, wish: MailDigest, why: str) -> None:
        self.stderr.write(f"{wish.account.username}: {why}")
        self.failed += 1


def _today(clinics: list[ClinicToday]) -> date:
    """The day at the person's clinics, the latest where they differ; UTC without any."""
    return max((at.today for at in clinics), default=clock.today())


def _claim(wish: MailDigest, today: date) -> bool:
    """Note the day before sending, in one step: of two commands running at once only one may send."""
    mine = MailDigest.objects.filter(pk=wish.pk, every=wish.every)
    unchanged = mine.filter(sent_on__isnull=True) if wish.sent_on is None else mine.filter(sent_on=wish.sent_on)
    return unchanged.update(sent_on=today) == 1
