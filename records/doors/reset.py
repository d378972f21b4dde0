"""A forgotten pass phrase: a link that lets its person choose a new one, by mail or made by an administrator."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import EmailMessage
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from records import clock
from records.models import Account, DoorEvent

from . import events, mailing, sessions
from .backend import Door

# An address of mail that was changed on somebody's open page must not open the account at once.
ADDRESS_RESTS = timedelta(days=1)
TEXT = """For {name}.

Somebody asked to choose a new pass phrase for your log-in at {site}. If that was you, open this address within
{hours} hours; it opens once:

{address}

If it was not you, do nothing: your pass phrase stays as it is. On the page "My log-in" you see when this was asked
for, and from where.
"""


def address_for(account: Account) -> str:
    """The address under which the account's person chooses a new pass phrase, once, for `PASSWORD_RESET_TIMEOUT`."""
    named = urlsafe_base64_encode(force_bytes(account.pk))
    path = reverse("reset-pass-phrase", args=[named, default_token_generator.make_token(account)])
    return settings.SITE_ADDRESS.rstrip("/") + path


def account_of(named: str, token: str) -> Account | None:
    """Whose address it is, None when it opens nothing, whatever the reason."""
    try:
        account = Account.objects.filter(pk=int(urlsafe_base64_decode(named).decode())).first()
    except (ValueError, OverflowError):
        return None
    if account is None or not default_token_generator.check_token(account, token):
        return None
    return account if Door().user_can_authenticate(account) else None


def send(request, name: str) -> None:
    """Mail the link to whoever has that log-in name and an address of mail. Says nothing of whether anybody has.

    Sent apart from the answer, so that how long it takes says nothing either.
    """
    account = Account.objects.filter(username=name).first()
    events.note("reset asked for", request, account=account, name=name)
    if account is None or not account.email or not Door().user_can_authenticate(account) or _changed(account):
        return
    text = TEXT.format(
        name=account.full_name, site=settings.SITE_ADDRESS, address=address_for(account),
        hours=settings.PASSWORD_RESET_TIMEOUT // 3600,
    )  # fmt: skip
    mailing.send_apart(EmailMessage("Choose a new pass phrase", text, to=[account.email]))


def _changed(account: Account) -> bool:
    since = clock.real() - ADDRESS_RESTS
    return DoorEvent.objects.filter(account=account, what="mail address changed", at__gt=since).exists()


def choose(request, account: Account, phrase: str) -> None:
    """The new pass phrase holds, and every sitting under the old one ends. A second factor is asked for as before."""
    account.set_password(phrase)
    account.save(update_fields=["password"])
    sessions.end_all(account)
    events.note("pass phrase reset", request, account=account)
