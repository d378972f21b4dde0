"""Proof at signing: pass phrase or passkey of who is signed in, once a sitting; another's pass phrase each time.

21 CFR 11.200(a)(1): a signature that is not based on biometrics has two components, such as a name and a pass phrase;
the first signing of a continuous period uses all of them, the next ones at least one. Who is signed in gave the name;
the sitting is the continuous period. A passkey counts only where the device checked who holds it.
"""

from __future__ import annotations

from records.models import Account

from . import events, passkeys, throttle
from .where import address_of

PASS_PHRASE, PASSKEY = "pass phrase", "passkey"
_PROVED = "proved by"  # whose, and with what


class NotProven(Exception):
    """The pass phrase or passkey is not that of the person: the message says so, and the way out."""


def proven_with(request) -> str:
    """With what who is signed in signed before in this sitting: PASS_PHRASE or PASSKEY, "" when not yet."""
    whose, how = request.session.get(_PROVED) or (None, "")
    return how if whose == request.user.pk else ""


def prove(request, phrase: str, passkey: str = "") -> str:
    """Who is signed in signs with the pass phrase, or what a passkey answered; with what. Raises NotProven."""
    if passkey:
        try:
            passkeys.check(request, request.user, passkeys.SIGN, passkey)
        except passkeys.NotTaken as problem:
            raise NotProven(str(problem)) from None
        events.note("signed with passkey", request, account=request.user)
        request.session[_PROVED] = [request.user.pk, PASSKEY]
        return PASSKEY
    if not phrase and (before := proven_with(request)):
        return before
    of_person(request, request.user.username, phrase)
    request.session[_PROVED] = [request.user.pk, PASS_PHRASE]
    return PASS_PHRASE


def of_person(request, name: str, phrase: str, *, signing: bool = True) -> Account:
    """The account whose log-in name and pass phrase these are, signed in or not. Raises NotProven.

    Without `signing` it is asked before something of one's own log-in is changed, which is noted by itself.
    """
    until = throttle.held_until(name, address_of(request))
    if until is not None:
        raise NotProven(f"Too many tries. Wait {throttle.in_words(until)}, then try again.")
    account = Account.objects.filter(username=name).first()
    if account is None:
        Account().set_password(phrase)  # takes as long as looking at one that is there
    elif phrase and account.check_password(phrase) and account.is_active and not events.is_left(account):
        if signing:
            events.note("signed with pass phrase", request, account=account)
        return account
    events.note("signature refused" if signing else "pass phrase refused", request, account=account, name=name)
    if not signing:
        raise NotProven("Your log-in and this pass phrase do not fit together. Type the one of now; capitals count.")
    raise NotProven("The name and the pass phrase do not fit together. Type the pass phrase with which you sign in.")
