"""The report of a visit goes to the clinic's people by mail, once to each, with a link that opens after signing in.

| state | meaning |
| --- | --- |
| waiting | to be sent |
| sending | a process took it; where it never says more, nobody knows whether it arrived |
| sent | the mail server took it |
| failed | the mail server did not; `problem` says why |
| no address | nobody can be written to: an address is entered by its person on the page “Mail” |
| ended | the person no longer belongs to the clinic, or the visit was entered in error |

Only `waiting`, `failed` and `no address` are tried again by themselves; what was cut off is sent anew when somebody
asks for it. Working state beside the record: that somebody was written to is no fact.
"""

from __future__ import annotations

import threading
from datetime import timedelta

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import close_old_connections, transaction
from django.urls import reverse

from audit.binder.written_on_paper import OUTRANKED, day, plain
from audit.models import ReportMail
from records import access, clock
from records.models import Account, JobConclusion, Visit

WAITING, SENDING, SENT, FAILED, NO_ADDRESS, ENDED = (
    "waiting", "sending", "sent", "failed", "no address", "ended",
)  # fmt: skip
CUT_OFF = timedelta(minutes=10)  # a mail takes 30 seconds at most (`EMAIL_TIMEOUT`)
TRIED_FOR = timedelta(days=7)  # by itself; a report that is older is sent when somebody asks for it
PROBLEM_LENGTH = ReportMail._meta.get_field("problem").max_length


def people_of(clinic) -> list[Account]:
    """Everybody with a log-in who belongs to the clinic today, by name; two queries."""
    people = access.members(clinic).values("person_id")
    accounts = Account.objects.filter(person_id__in=people, is_active=True)
    return sorted(accounts, key=lambda each: (each.full_name, each.pk))


def queue(visit: Visit) -> list[ReportMail]:
    """One mail for each of the clinic's people, those that are there left as they are; who did the visit gets none.

    `visit` is its first version.
    """
    for account in people_of(visit.clinic):
        if account.pk != visit.entry.account_id:
            state = WAITING if account.email else NO_ADDRESS
            ReportMail.objects.get_or_create(
                visit=visit.origin, account=account,
                defaults={"clinic": visit.clinic, "state": state, "queued_at": clock.now()},
            )  # fmt: skip
    return list(ReportMail.objects.filter(visit=visit.origin))


def after_entry(entry) -> None:
    """Queue and send the reports of what was just recorded: visits of a company's people, not copied from paper."""
    if entry.what != "visit" or entry.logged_for_id is None or entry.paper:
        return
    visit = Visit.objects.filter(entry=entry).select_related("clinic", "entry").first()
    if visit is not None and visit.company_id is not None:
        if any(mail.state == WAITING for mail in queue(visit)):
            in_the_background(visit.origin)


def in_the_background(visit) -> None:
    """Send by a thread of its own: a mail server that hangs keeps nobody waiting."""
    threading.Thread(target=_apart, args=[visit], name="report mail", daemon=True).start()


def _apart(visit) -> None:
    try:
        send(ReportMail.objects.filter(visit=visit))
    finally:
        close_old_connections()


def send(mails, *, anew: bool = False) -> tuple[int, int]:
    """Send those of the query that are not sent; (sent, failed). `anew`: what was cut off too."""
    states = [WAITING, FAILED, NO_ADDRESS]
    cut_off = mails.filter(state=SENDING, tried_at__lt=clock.now() - CUT_OFF) if anew else mails.none()
    done = [_one(each) for each in (mails.filter(state__in=states) | cut_off).select_related("account", "clinic")]
    return done.count(SENT), done.count(FAILED)


def send_waiting() -> tuple[int, int]:
    """Send what waits or failed of the last days; (sent, failed)."""
    return send(ReportMail.objects.filter(queued_at__gte=clock.now() - TRIED_FOR))


def _one(mail: ReportMail) -> str:
    """Send one; the state it is in afterwards. Of two processes only one sends it."""
    visit = Visit.objects.in_force().filter(origin=mail.visit).select_related("technician").first()
    belongs = mail.account.is_active and access.rights(mail.account, mail.clinic) is not None
    if visit is None or not belongs:
        return _note(mail, ENDED)
    if not mail.account.email:
        return _note(mail, NO_ADDRESS)
    # Claimed before it is sent, in one step.
    claimed = ReportMail.objects.filter(pk=mail.pk, state=mail.state, tried_at=mail.tried_at)
    if claimed.update(state=SENDING, tried_at=clock.now()) != 1:
        return SENDING
    try:
        message_of(mail, visit).send()
    except Exception as fault:  # noqa: BLE001 (whatever it was is said on the page, and the mail is tried again)
        return _note(mail, FAILED, str(fault) or type(fault).__name__)
    return _note(mail, SENT)


def _note(mail: ReportMail, state: str, problem: str = "") -> str:
    mail.state, mail.problem = state, " ".join(problem.split())[:PROBLEM_LENGTH]
    mail.sent_at = clock.now() if state == SENT else mail.sent_at
    mail.save(update_fields=["state", "problem", "sent_at"])
    return state


def message_of(mail: ReportMail, visit: Visit) -> EmailMessage:
    """What it says: when, who came, how each unit was left, and where the report is read."""
    address = settings.SITE_ADDRESS.rstrip("/") + reverse("visit", args=[mail.clinic.slug, mail.visit])
    ends = _ends(mail.visit)
    on = plain(day(visit.happened_on))
    told = [
        f"For {mail.account.full_name}.", "",
        f"{visit.servicer} ({visit.technician}) was at {mail.clinic.name} on {on}.", "",
        *(f"- {words}" for words in ends), "",
        f"The whole report, after signing in: {address}", "",
        "What was corrected since stands on that page.", "", OUTRANKED,
    ]  # fmt: skip
    left = sum("not released" in words for words in ends)
    subject = f"Visit of {on}: {mail.clinic.name}" + (f", {left} left out of use" if left else "")
    return EmailMessage(
        subject, "\n".join(told) + "\n", to=[mail.account.email], headers={"Auto-Submitted": "auto-generated"}
    )


def _ends(visit) -> list[str]:
    rows = JobConclusion.objects.in_force().filter(job__visit__origin=visit).select_related("job__unit")
    units = access.as_corrected([row.job.unit for row in rows])
    return [
        f"{unit.label}: {row.get_conclusion_display()}{f', {row.reason}' if row.reason else ''}"
        for row, unit in zip(rows, units, strict=True)
    ]


def told(visit) -> list[ReportMail]:
    """The mails of a visit by name of who gets them; one query."""
    mails = ReportMail.objects.filter(visit=visit).select_related("account")
    return sorted(mails, key=lambda each: (each.account.full_name, each.pk))


@transaction.atomic
def ask_for(visit: Visit) -> tuple[int, int]:
    """Somebody asks that the report be sent: to who has not got it; (waiting now, without an address)."""
    queue(visit)
    mails = ReportMail.objects.filter(visit=visit.origin).select_related("account")
    open_ = [each for each in mails if each.state not in (SENT, ENDED)]
    return sum(bool(each.account.email) for each in open_), sum(not each.account.email for each in open_)
