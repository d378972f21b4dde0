"""What happened at the door: noted, and read by its person and by who manages the people of a place."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import Q
from django.utils.crypto import salted_hmac

from records import access, clock
from records.models import Account, DoorEvent, Membership

from . import mailing
from .where import address_of, device_of

KEPT = timedelta(days=400)  # of an account: over a year, so that a yearly review sees all of it
KEPT_OF_NOBODY = timedelta(days=30)  # of a name that is none


def digest_of_name(name: str) -> str:
    """What a typed log-in name is counted under. Never the name: people type their pass phrase there by mistake."""
    return salted_hmac("records.doors.name", name.strip().casefold(), algorithm="sha256").hexdigest()


def note(what: str, request, *, account: Account | None = None, name: str = "", to: str = "") -> DoorEvent:
    """Note one event, and forget what is too old to be kept.

    Its person is told by mail where it changes how one gets in: at `to`, at the address of the account without it.
    """
    now = clock.real()
    old = Q(account=account, at__lt=now - KEPT) if account else Q(account=None, at__lt=now - KEPT_OF_NOBODY)
    DoorEvent.objects.filter(old).delete()
    made = DoorEvent.objects.create(
        account=account,
        name=digest_of_name(account.username if account else name),
        what=what,
        at=now,
        address=address_of(request),
        device=device_of(request),
    )
    mailing.tell(made, to or (account.email if account else ""))
    return made


def of_account(account: Account):
    """The events of an account, newest first."""
    return DoorEvent.objects.filter(account=account).order_by("-at", "-pk")


def of_people(organisation):
    """The events of those who belong to the organisation today, newest first, each with its account."""
    people = access.members(organisation).values("person_id")
    return DoorEvent.objects.filter(account__person_id__in=people).select_related("account").order_by("-at", "-pk")


def is_left(account: Account) -> bool:
    """Whether the account belonged somewhere, belongs nowhere now or later, and has nothing left to open.

    What somebody logged at a clinic stays open to them. Whoever never belonged anywhere waits for an invitation, and
    an administrator belongs nowhere.
    """
    if account.is_staff or account.is_superuser or account.person_id is None:
        return False
    held = Membership.objects.in_force().filter(person_id=account.person_id)
    if not held.exists() or access.memberships(account).exists():
        return False
    if held.filter(effective_on__gt=clock.today()).exists():
        return False
    return not access.logged_at_a_clinic(account)
