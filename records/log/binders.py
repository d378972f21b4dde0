"""What the program itself writes of binders: that one was issued, and the links by which an inspector reads it."""

from __future__ import annotations

import hashlib
import uuid
from datetime import date, timedelta

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.db.models import F

from records import clock
from records.files import blobs
from records.models import (
    Account,
    BinderIssue,
    InspectorLink,
    InspectorLinkCount,
    InspectorLinkEnd,
    InspectorLinkOpening,
    Ledger,
    Person,
)

from . import may_be_logged, row_rules
from .errors import Problem
from .submission import answered, locked_ledger, submission

LONGEST_LINK_DAYS = 90
AGENT_LENGTH = 200
READER = "through-an-inspectors-link"


def log_binder_issue(
    *, by, request_key, clinic, from_on, to_on, as_of, page, pages, body_sha256, content: bytes, certificate,
    ledger_number, known_at=None, company_ledger_number=None,
) -> BinderIssue:  # fmt: skip
    """A binder was made and signed now; `content` is the signed file, which is kept.

    The same request once more gives the issue that stands, whatever file comes with it: a signature has a time and a
    random part, so a repeated making never gives the same bytes. Raises Refused, NotYours.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone, now = may_be_logged.zone_of(clinic), clock.now()
    asked = {"from_on": from_on, "to_on": to_on, "as_of": as_of, "known_at": known_at, "page": page}
    problems = [
        *row_rules.binder_issue(asked.get),
        *may_be_logged.not_in_future("as_of", as_of, known_at, zone),
        *_read_numbers(clinic, ledger_number),
    ]
    if not content or pages < 1:
        problems.append(Problem("content", "The file is empty. Make the binder again."))
    may_be_logged.stop_on(problems)
    file_sha256 = blobs.store(clinic, content)
    with submission(clinic, by, request_key, "binder issued", asked, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(BinderIssue)
        return s.add(
            BinderIssue(
                clinic=clinic, happened_on=clock.local_day(now, zone), happened_at=now, zone=zone, pages=pages,
                size=len(content), body_sha256=body_sha256, file_sha256=file_sha256, certificate=certificate,
                ledger_number=ledger_number, company_ledger_number=company_ledger_number, issued_by=by.signed(),
                **asked,
            )
        )  # fmt: skip


def _read_numbers(clinic, ledger_number: int):
    head = Ledger.objects.filter(organisation_id=clinic.pk).values_list("number", flat=True).first() or 0
    if not 0 < ledger_number <= head:
        yield Problem(
            "ledger_number",
            f"The binder says it read entry {ledger_number}, but the clinic's last entry is {head}. Make it again.",
        )


def digest_of(token: str) -> str:
    """What is kept of the secret part of a link's address: its SHA-256, in hexadecimal."""
    return hashlib.sha256(token.encode()).hexdigest()


def log_inspector_link(*, by, request_key, issue, for_whom, expires_on, token: str) -> InspectorLink:
    """Let somebody without an account read the issued binder, up to `expires_on` (inclusive) at the clinic.

    `token` is the secret part of the address; only its digest is kept, so show it now. The same request once more
    gives the link that stands, whose token is then not known. At most 90 days ahead. Raises Refused, NotYours.
    """
    clinic = issue.clinic
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone, now = may_be_logged.zone_of(clinic), clock.now()
    today = clock.local_day(now, zone)
    problems = []
    if not (for_whom or "").strip():
        problems.append(Problem("for_whom", "Who is it for? Enter the person or the office: the record names them."))
    if not answered(by, request_key):
        problems += _expiry(expires_on, today)
    may_be_logged.stop_on(problems)
    fields = {"issue": issue, "for_whom": for_whom, "expires_on": expires_on}
    with submission(clinic, by, request_key, "link for an inspector", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(InspectorLink)
        row = InspectorLink(
            clinic=clinic, happened_on=today, happened_at=now, zone=zone, digest=digest_of(token), **fields
        )
        return s.add(row)


def _expiry(expires_on: date | None, today: date):
    last = today + timedelta(days=LONGEST_LINK_DAYS)
    if expires_on is None:
        yield Problem("expires_on", "Until which day does it open? Enter the last day.")
    elif expires_on < today:
        yield Problem("expires_on", f"{expires_on} is past: the link would open nothing. Choose {today} or later.")
    elif expires_on > last:
        yield Problem(
            "expires_on",
            f"{expires_on} is more than {LONGEST_LINK_DAYS} days ahead. Choose {last} or earlier; "
            "a new link can be made when this one has expired.",
        )


def end_inspector_link(*, by, request_key, link, reason) -> InspectorLinkEnd:
    """The link opens nothing any more, from now on. Raises Refused, NotYours."""
    rights = may_be_logged.rights_or_refuse(by, link.clinic)
    zone, now = may_be_logged.zone_of(link.clinic), clock.now()
    problems = []
    if not (reason or "").strip():
        problems.append(Problem("reason", "Say why it is ended: the record keeps the reason."))
    if ended(link) and not answered(by, request_key):
        problems.append(Problem("", "This link was ended already. It opens nothing any more."))
    may_be_logged.stop_on(problems)
    fields = {"link": link, "reason": reason}
    entry = {"logged_for": rights.company}
    with submission(link.clinic, by, request_key, "end of a link for an inspector", fields, **entry) as s:
        if s.repeated:
            return s.first(InspectorLinkEnd)
        day = clock.local_day(now, zone)
        return s.add(InspectorLinkEnd(clinic=link.clinic, happened_on=day, happened_at=now, zone=zone, **fields))


def log_link_opening(*, request_key, link, what, agent="") -> InspectorLinkOpening:
    """The link was opened now. `what` is "answers" or "binder", `agent` what the browser called itself.

    The first opening of each on a day at the clinic is an entry, signed by the link; further ones are counted, and
    one more entry says, after that day, how many there were (`enter_openings`). So nobody who has the address can
    fill the ledger. Returns the row of that day's entry. Raises Refused when the link has expired or was ended.
    """
    zone, now = may_be_logged.zone_of(link.clinic), clock.now()
    day = clock.local_day(now, zone)
    closed = why_closed(link, day)
    may_be_logged.stop_on([Problem("", closed)] if closed else [])
    enter_openings(link)
    with transaction.atomic():
        locked_ledger(link.clinic)
        first = link.openings.filter(happened_on=day, what=what, times=None).first()
        if first is not None:
            if answered(_reader(), request_key):
                return first
            again, new = InspectorLinkCount.objects.get_or_create(
                link=link, day=day, what=what, defaults={"times": 2}
            )
            if not new:
                InspectorLinkCount.objects.filter(pk=again.pk).update(times=F("times") + 1)
            return first
        # A browser may call itself anything: what cannot be seen is left out, and it is cut.
        shown = "".join(c for c in agent if c.isprintable())[:AGENT_LENGTH]
        fields = {"link": link, "what": what, "agent": shown}
        with _signed_by(link, request_key, fields) as s:
            if s.repeated:
                return s.first(InspectorLinkOpening)
            row = InspectorLinkOpening(clinic=link.clinic, happened_on=day, happened_at=now, zone=zone, **fields)
            return s.add(row)


def enter_openings(link) -> list[InspectorLinkOpening]:
    """Enter how often the link was opened on each day that is over at the clinic and had more than one opening."""
    zone = may_be_logged.zone_of(link.clinic)
    over = InspectorLinkCount.objects.filter(link=link, day__lt=clock.today(zone)).order_by("day", "what")
    return [_enter_count(link, zone, count) for count in over]


def _enter_count(link, zone: str, count: InspectorLinkCount) -> InspectorLinkOpening:
    fields = {"link": link, "what": count.what, "times": count.times}
    key = uuid.uuid5(link.ref, f"{count.day} {count.what} in all")
    with transaction.atomic():
        with _signed_by(link, key, fields) as s:
            if s.repeated:
                row = s.first(InspectorLinkOpening)
            else:
                row = s.add(InspectorLinkOpening(clinic=link.clinic, happened_on=count.day, zone=zone, **fields))
        count.delete()
    return row


def _signed_by(link, request_key, fields: dict):
    name = f"inspector's link, for {link.for_whom}"[:200]
    what = "opened through the inspector's link"
    return submission(link.clinic, _reader(), request_key, what, fields, signed_as=name)


def _reader() -> Account:
    """The account under which entries of links stand: nobody's, and nobody can sign in with it."""
    with transaction.atomic():
        account, new = Account.objects.get_or_create(
            username=READER, defaults={"is_active": False, "password": make_password(None)}
        )
        if account.person is None:
            account.person = Person.objects.create()
            account.save(update_fields=["person"])
    return account


def ended(link) -> bool:
    """Whether somebody ended the link."""
    return InspectorLinkEnd.objects.in_force().filter(link=link).exists()


def why_closed(link, day: date) -> str:
    """Why the link opens nothing on that day at the clinic; "" when it opens."""
    if ended(link):
        return "This link was ended by the clinic. Ask the clinic for a new one."
    if day > link.expires_on:
        return f"This link expired on {link.expires_on}. Ask the clinic for a new one."
    return ""
