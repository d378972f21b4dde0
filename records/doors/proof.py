"""Proof at signing: the pass phrase of whoever signs, once a sitting for who is signed in, each time for another.

21 CFR 11.200(a)(1): a signature that is not based on biometrics has two components, such as a name and a pass phrase;
the first signing of a continuous period uses all of them, the next ones at least one. Who is signed in gave the name;
the sitting is the continuous period.
"""

from __future__ import annotations

from records.models import Account

from . import events, throttle
from .where import address_of

_PROVED = "proved"


class NotProven(Exception):
    """The pass phrase is not that of the person: the message says so, and the way out."""


def is_proven(request) -> bool:
    """Whether who is signed in has given the pass phrase at a signature of this sitting."""
    return request.session.get(_PROVED) == request.user.pk


def prove(request, phrase: str) -> None:
    """Who is signed in signs with the pass phrase. Raises NotProven."""
    if is_proven(request) and not phrase:
        return
    of_person(request, request.user.username, phrase)
    request.session[_PROVED] = request.user.pk


def of_person(request, name: str, phrase: str) -> Account:
    """The account whose log-in name and pass phrase these are, signed in or not. Raises NotProven."""
    until = throttle.held_until(name, address_of(request))
    if until is not None:
        raise NotProven(f"Too many tries. Wait {throttle.in_words(until)}, then sign. What you typed is kept here.")
    account = Account.objects.filter(username=name).first()
    if account is None:
        Account().set_password(phrase)  # takes as long as looking at one that is there
    elif phrase and account.check_password(phrase) and account.is_active and not events.is_left(account):
        events.note("signed with pass phrase", request, account=account)
        return account
    events.note("signature refused", request, account=account, name=name)
    raise NotProven("The name and the pass phrase do not fit together. Type the pass phrase with which you sign in.")
