"""After a return to use was recorded: its person signs it, at once where pass phrase or passkey was given before.

One way for every form that records a return: of a unit by hand, of a step after a failure, on the page of the day and
on their own. What was recorded without a signal waits, and is shown as not signed.
"""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.urls import reverse

from records import log
from records.doors import proof
from records.log import signatures
from records.models import Fact, FollowUp, FollowUpDone, UnitEvent

from .base import safe_next


def sign_return(request, ground, row: Fact) -> str:
    """Where whoever recorded the return signs it; "" where `row` is none, waits for nobody, or was signed at once."""
    waiting = _return_in(row)
    if waiting is None or signatures.given(waiting) != "entered" or signatures.problems(request.user, waiting):
        return ""
    if not signatures.may_sign(request.user, waiting):
        return ""
    how = proof.proven_with(request)
    if how:
        key = signatures.key_of_signature(row.entry.request_key)
        signed = log.sign(by=request.user, request_key=key, row=waiting, passkey=how == proof.PASSKEY)
        messages.success(request, f"Signed by {request.user.full_name}, as entry {signed.entry.number}.")
        return ""
    address = reverse("sign", args=[ground.clinic.slug, waiting._meta.model_name, waiting.origin])
    to = safe_next(request)
    return f"{address}?{urlencode({'next': to})}" if to else address


def _return_in(row: Fact) -> UnitEvent | FollowUpDone | None:
    """The return that was recorded with the row, in its newest version; None where it tells of none."""
    if isinstance(row, UnitEvent) and row.kind == "returned":
        found = UnitEvent.objects.in_force().filter(origin=row.origin)
        return found.select_related("entry__logged_by", "entry__ledger", "by", "amends").first()
    if isinstance(row, FollowUp) and row.action == signatures.RETURN:
        found = FollowUpDone.objects.in_force().filter(followup__origin=row.origin)
    elif isinstance(row, FollowUpDone) and row.followup.action == signatures.RETURN:
        found = FollowUpDone.objects.in_force().filter(origin=row.origin)
    else:
        return None
    return found.select_related("entry__logged_by", "entry__ledger", "followup").first()
