"""Send the reports of visits that wait or failed in the last seven days to the clinics' people, to each of them once.
The pages send them by themselves; run this beside `mail_digest`, for when the mail server was down."""

from audit.issue import report_mail
from audit.management import options as o
from audit.models import ReportMail


class Command(o.Command):
    help = __doc__

    def handle(self, *args, **options):
        sent, failed = report_mail.send_waiting()
        for each in ReportMail.objects.filter(state=report_mail.FAILED).select_related("account").order_by("pk"):
            self.stderr.write(f"{each.account.username}: the mail was not sent: {each.problem}")
        self.stdout.write(f"{sent} mails sent, {failed} failed.")
        if failed:
            o.end(self, 1)
