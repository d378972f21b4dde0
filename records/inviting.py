"""Invitations: a link by which somebody takes a role, or the other side an agreement.

An invitation is working state. What it leads to is a membership or an agreement, which are facts, logged in the name
of who may say so: the member who invited, or the clinic's manager who accepted. The secret of the link is kept
nowhere; its SHA-256 is.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import date, timedelta

from django.db import transaction

from records import access, clock, log
from records.log import may_be_logged
from records.log.errors import Problem
from records.models import Account, Clinic, MembershipEnd, Organisation, ServiceCompany
from records.models.invitations import Invitation

DAYS = 14  # a link opens on the day it was made and on so many days after it
TOKEN_BYTES = 32
AGREEMENT = "agreement"
FIRST = "coordinator"  # who takes over a clinic that a company opened
ROLES_OF = {
    "clinic": ("coordinator", "operator", "viewer"),
    "company": ("technician", "dispatcher", "stores"),
}


def digest_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def invite(*, by: Account, ref, organisation, role: str, name: str, email: str = "") -> tuple[Invitation, str]:
    """A new invitation and the secret of its link; the secret is "" when this request was answered before.

    Raises NotYours unless `by` manages the organisation, or hands it over to its first coordinator.
    """
    _refuse_unless_may_invite(by, organisation, role)
    made = Invitation.objects.filter(ref=ref).first()
    if made is not None:
        if (made.made_by_id, made.organisation_id) != (by.pk, organisation.pk):
            raise log.Refused([Problem("", "The form lost its key. Open it again from its page.")])
        return made, ""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    made = Invitation.objects.create(
        ref=ref,
        organisation=organisation_row(organisation),
        role=role,
        name=name,
        email=email,
        digest=digest_of(token),
        made_by=by,
        made_at=clock.now(),
        expires_on=clock.today() + timedelta(days=DAYS),
    )
    return made, token


def organisation_row(organisation) -> Organisation:
    return getattr(organisation, "organisation_ptr", organisation)


def may_invite(by, organisation, role: str) -> bool:
    """Who manages it invites to every role; the company that opened a clinic, its first coordinator."""
    if access.manages(by, organisation):
        return True
    return role == FIRST and access.handing_over(by, organisation) is not None


def _refuse_unless_may_invite(by, organisation, role: str) -> None:
    if not may_invite(by, organisation, role):
        raise log.NotYours(f"Only the coordinator or dispatcher of {organisation.name} may invite to it. Ask them.")


def open_invitations(organisation):
    """Those of the organisation that can still be taken, newest first."""
    rows = Invitation.objects.filter(organisation=organisation, taken_at=None, withdrawn_at=None)
    return rows.filter(expires_on__gte=clock.today()).select_related("made_by").order_by("-made_at")


def find(token: str) -> Invitation | None:
    """The invitation that the link names and that can still be taken; None for every other, whatever the reason."""
    found = Invitation.objects.filter(digest=digest_of(token)).select_related("organisation", "made_by").first()
    return found if found is not None and _stands(found) else None


def _stands(invitation: Invitation) -> bool:
    """Whoever may no longer invite has no invitation standing."""
    if invitation.taken_at or invitation.withdrawn_at or invitation.expires_on < clock.today():
        return False
    return may_invite(invitation.made_by, invitation.organisation, invitation.role)


def withdraw(invitation: Invitation) -> None:
    """The link opens no more. One that was taken stays taken."""
    Invitation.objects.filter(pk=invitation.pk, taken_at=None, withdrawn_at=None).update(withdrawn_at=clock.now())


def kind_of(organisation: Organisation) -> str:
    """ "clinic" or "company"."""
    return "clinic" if Clinic.objects.filter(pk=organisation.pk).exists() else "company"


def _locked(invitation: Invitation) -> Invitation:
    held = Invitation.objects.select_for_update().select_related("organisation", "made_by").get(pk=invitation.pk)
    if not _stands(held):
        raise log.Refused([Problem("", "This invitation does not open any more. Ask for a new one.")])
    return held


def _taken(invitation: Invitation) -> None:
    invitation.taken_at = clock.now()
    invitation.save(update_fields=["taken_at"])


def take_role(invitation: Invitation, account: Account, today: date):
    """The account belongs to the organisation in the role from `today` on. Raises Refused. Returns the membership."""
    with transaction.atomic():
        held = _locked(invitation)
        mine = access.memberships(account).filter(organisation=held.organisation, role=held.role)
        if mine.exists():
            words = f"{account.full_name} belongs to {held.organisation.name} as {held.role} already."
            raise log.Refused([Problem("", f"{words} Sign in with another account, or leave it as it is.")])
        row = log.log_membership(
            by=held.made_by,
            request_key=held.ref,
            organisation=held.organisation,
            account=account,
            role=held.role,
            effective_on=today,
        )
        _taken(held)
        return row


def other_side(invitation: Invitation, account: Account) -> list:
    """The organisations of the account that can accept the agreement: those it manages that have none with it yet."""
    managed = access.memberships(account).filter(role__in=access.MANAGING_ROLES).values("organisation_id")
    if kind_of(invitation.organisation) == "clinic":
        has = access.agreements().filter(clinic=invitation.organisation_id).values("company_id")
        return list(ServiceCompany.objects.filter(pk__in=managed).exclude(pk__in=has).order_by("name"))
    has = access.agreements().filter(company=invitation.organisation_id).values("clinic_id")
    return list(Clinic.objects.filter(pk__in=managed).exclude(pk__in=has).order_by("name"))


def take_agreement(invitation: Invitation, account: Account, side, effective_on: date):
    """Accept for `side`, one of `other_side`. Raises Refused. Returns the agreement, in the clinic's ledger.

    It is logged by the clinic's manager: who accepts, or who invited.
    """
    with transaction.atomic():
        held = _locked(invitation)
        if side.pk not in {each.pk for each in other_side(held, account)}:
            raise log.NotYours("You cannot accept this agreement for that place. Ask whoever manages it.")
        if isinstance(side, Clinic):
            by, clinic, company = account, side, ServiceCompany.objects.get(pk=held.organisation_id)
        else:
            by, clinic, company = held.made_by, Clinic.objects.get(pk=held.organisation_id), side
        row = log.log_agreement(
            by=by, request_key=held.ref, clinic=clinic, company=company, effective_on=effective_on, scope=held.name
        )
        _taken(held)
        return row


def last_manager(membership) -> bool:
    """Whether nobody else may say who belongs to the organisation once the membership has ended.

    Somebody whose end is on record already does not stay, though the day may lie ahead.
    """
    if membership.role not in access.MANAGING_ROLES:
        return False
    others = access.members(membership.organisation).filter(role__in=access.MANAGING_ROLES)
    ended = MembershipEnd.objects.in_force().filter(membership__organisation=membership.organisation)
    ended = ended.values("membership__origin")
    return not others.exclude(origin=membership.origin).exclude(origin__in=ended).exists()


def end_problems(membership, effective_on: date):
    """Why a membership cannot end on that day: what it says, and the way out."""
    if effective_on < membership.effective_on:
        words = f"It began on {membership.effective_on}. Choose that day or a later one, or have the entry corrected."
        yield Problem("effective_on", words)
    if last_manager(membership):
        words = "Nobody else may say who belongs here. Invite another coordinator or dispatcher first."
        yield Problem("", words)


def end_membership(*, by, request_key, membership, effective_on, reason):
    """As `log.end_membership`, but the last who manages the organisation stays. Raises Refused."""
    from records.log.submission import answered

    if not answered(by, request_key):
        may_be_logged.stop_on(end_problems(membership, effective_on))
    return log.end_membership(
        by=by, request_key=request_key, membership=membership, effective_on=effective_on, reason=reason
    )
