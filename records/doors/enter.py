"""Signing in, once everything that is asked for was given; and the way there while a second factor is missing."""

from __future__ import annotations

from django.contrib.auth import login
from django.db.models import Q

from records import clock
from records.models import Account, Sitting

from . import events, second
from .backend import Door
from .where import address_of, device_of

HALF_SECONDS = 600  # how long a right pass phrase waits for its code
_HALF = "half"


def enter(request, account: Account) -> None:
    """The account is signed in on this browser; a sitting begins."""
    request.session.pop(_HALF, None)
    Sitting.objects.filter(Q(account=account) | Q(account=None), expire_date__lte=clock.real()).delete()
    login(request, account, backend="records.doors.backend.Door")
    request.session["device"], request.session["address"] = device_of(request), address_of(request)
    events.note("signed in", request, account=account)


def step_after_phrase(request, account: Account, to: str) -> str:
    """After a right pass phrase: "" when the account is signed in by that, else "code" or "second factor".

    Then nobody is signed in yet: the sitting only knows for whom a code is awaited, and where it goes on.
    """
    factor = second.is_set_up(account)
    if not factor and not second.is_asked_of(account):
        enter(request, account)
        return ""
    request.session.cycle_key()
    request.session[_HALF] = {
        "account": account.pk, "at": clock.real().timestamp(), "to": to, "hash": account.get_session_auth_hash(),
    }  # fmt: skip
    return "code" if factor else "second factor"


def half_in(request) -> tuple[Account, str] | None:
    """Whose code is awaited on this browser, and where it goes on; None when nobody's, or no longer."""
    half = request.session.get(_HALF)
    if not half or clock.real().timestamp() - half["at"] > HALF_SECONDS:
        return None
    account = Account.objects.filter(pk=half["account"]).first()
    if account is None or half["hash"] != account.get_session_auth_hash():
        return None
    return (account, half["to"]) if Door().user_can_authenticate(account) else None
