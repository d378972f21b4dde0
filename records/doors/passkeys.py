"""Passkeys (W3C Web Authentication Level 2): a second factor at signing in, and proof at signing.

The device keeps a private key for this site alone, so a code cannot be handed to somebody else's page. What is asked
of it (the challenge) is kept in the sitting, opens once, and for a few minutes; the library does steps 5 to 21 of
section 7.1 and 7 to 20 of section 7.2 (numbers from memory), here stands what is ours: whose challenge, whose key,
whether a check of the person was asked for, and what the key has counted.
"""

from __future__ import annotations

import ipaddress
import json
from urllib.parse import urlsplit

from django.conf import settings
from django.db import DatabaseError, IntegrityError, transaction

from records import clock
from records.models import Account, Passkey

from . import events, second, throttle
from .where import address_of

SECONDS = 300  # how long a challenge may be answered
MOST = 10  # of one account; common practice, no source
LARGEST = 16 * 1024  # characters of an answer: those of real devices have under two thousand
LONGEST_NAME = 60
_ASKED = "passkey"
ADD, SIGN_IN, SIGN = "add", "sign in", "sign"
AGAIN = "Press the button once more."


class NotTaken(Exception):
    """What a device answered is not taken: the message says why, and the way out."""


def origin() -> str:
    """Where pages of this site come from, as browsers state it: scheme, host, and any port but the usual one."""
    parts = urlsplit(settings.SITE_ADDRESS)
    usual = {"https": 443, "http": 80}.get(parts.scheme)
    port = f":{parts.port}" if parts.port not in (None, usual) else ""
    return f"{parts.scheme}://{host()}{port}"


def host() -> str:
    """For what name the keys are (the RP ID): the host of this site's address, as browsers write it."""
    found = urlsplit(settings.SITE_ADDRESS).hostname or ""
    try:
        return found.encode("idna").decode()
    except UnicodeError:
        return found


def why_not() -> str:
    """Why no passkey can be used at this site's address, with the way out; "" when they can.

    Web Authentication, 5 (secure contexts) and 5.1.3, step 8 (a domain, no number), both from memory.
    """
    name, scheme = host(), urlsplit(settings.SITE_ADDRESS).scheme
    local = name == "localhost" or name.endswith(".localhost")
    try:
        ipaddress.ip_address(name)
        return (
            f"Passkeys need a name: the address of this site is {origin()}, which is a number. Whoever runs the site "
            "gives it a name, with HTTPS (STANDING_ADDRESS)."
        )
    except ValueError:
        pass
    if scheme != "https" and not local:
        return (
            f"Passkeys need HTTPS: the address of this site is {origin()}. Whoever runs the site sets up HTTPS "
            "(STANDING_ADDRESS)."
        )
    return ""


def of_account(account: Account) -> list[Passkey]:
    """Those of the account, the oldest first."""
    return list(Passkey.objects.filter(account=account).order_by("pk"))


# ------------------------------------------------------------------------------------------------- what is asked


def to_add(request, account: Account) -> str:
    """What a browser is asked to make a passkey with, as JSON. Devices that hold one of the account are left out."""
    from webauthn import generate_registration_options, options_to_json
    from webauthn.helpers import structs as s

    options = generate_registration_options(
        rp_id=host(), rp_name="Unit standing", user_id=account.ref.bytes, user_name=account.username,
        user_display_name=account.full_name, timeout=SECONDS * 1000,
        authenticator_selection=s.AuthenticatorSelectionCriteria(
            resident_key=s.ResidentKeyRequirement.PREFERRED,
            user_verification=s.UserVerificationRequirement.PREFERRED,
        ),
        exclude_credentials=_described(of_account(account)),
    )  # fmt: skip
    _remember(request, account, ADD, options.challenge)
    return options_to_json(options)


def to_give(request, account: Account, purpose: str) -> str:
    """What a browser is asked to answer with a passkey of the account, as JSON. `purpose`: SIGN_IN or SIGN.

    Signing asks that the device checks who holds it (PIN, finger, face): there it stands for the pass phrase. At
    signing in the pass phrase was given before.
    """
    from webauthn import generate_authentication_options, options_to_json
    from webauthn.helpers.structs import UserVerificationRequirement as Verification

    wanted = Verification.REQUIRED if purpose == SIGN else Verification.PREFERRED
    options = generate_authentication_options(
        rp_id=host(), timeout=SECONDS * 1000, allow_credentials=_described(of_account(account)),
        user_verification=wanted,
    )  # fmt: skip
    _remember(request, account, purpose, options.challenge)
    return options_to_json(options)


def _described(keys: list[Passkey]) -> list:
    from webauthn import base64url_to_bytes
    from webauthn.helpers import structs as s

    known = {each.value: each for each in s.AuthenticatorTransport}
    return [
        s.PublicKeyCredentialDescriptor(
            id=base64url_to_bytes(key.credential),
            transports=[known[way] for way in key.ways.split() if way in known] or None,
        )
        for key in keys
    ]  # fmt: skip


def _remember(request, account: Account, purpose: str, challenge: bytes) -> None:
    from webauthn.helpers import bytes_to_base64url

    asked = {"for": purpose, "account": account.pk, "at": clock.real().timestamp()}
    request.session[_ASKED] = asked | {"challenge": bytes_to_base64url(challenge)}


def _challenge(request, account: Account, purpose: str) -> bytes:
    """What was asked; it is used up by that, whatever comes of it. Raises NotTaken."""
    from webauthn import base64url_to_bytes

    asked = request.session.pop(_ASKED, None)
    request.session.save()  # at once: a fault further on must not give it back
    if not asked or (asked["for"], asked["account"]) != (purpose, account.pk):
        raise NotTaken(f"This answer was used already, or nothing was asked of a passkey here. {AGAIN}")
    if not 0 <= clock.real().timestamp() - asked["at"] <= SECONDS:
        raise NotTaken(f"The answer took longer than {SECONDS // 60} minutes. {AGAIN}")
    return base64url_to_bytes(asked["challenge"])


# ------------------------------------------------------------------------------------------------- what is answered


def add(request, account: Account, answer: str, name: str) -> list[str]:
    """Keep the passkey that was made. The recovery codes when it is the first second factor, else [].

    Raises NotTaken, which is noted at the door.
    """
    made = _looked_at(request, account, lambda: _registered(request, account, answer, name))
    try:
        with transaction.atomic():
            Account.objects.select_for_update().get(pk=account.pk)
            first = not second.is_set_up(account)
            made.save()
            codes = second.new_recovery_codes(account) if first else []
    except IntegrityError:
        _refuse(request, account, "This passkey is registered already. Choose another device for the new one.")
    events.note("passkey added", request, account=account)
    return codes


def _registered(request, account: Account, answer: str, name: str) -> Passkey:
    from webauthn import verify_registration_response
    from webauthn.helpers import bytes_to_base64url as text

    challenge = _challenge(request, account, ADD)
    if Passkey.objects.filter(account=account).count() >= MOST:
        raise NotTaken(f"{MOST} passkeys are the most. Remove one that you no longer use, then add this one.")
    said = _read(answer)
    _refuse_attestation(said)
    found = verify_registration_response(
        credential=said, expected_challenge=challenge, expected_rp_id=host(), expected_origin=origin()
    )
    named = text(found.credential_id)
    if named != said["id"]:
        raise NotTaken(f"What the browser sent contradicts itself. {AGAIN}")
    ways = said["response"].get("transports")
    ways = [w for w in ways if isinstance(w, str) and w.isascii()] if isinstance(ways, list) else []
    return Passkey(
        account=account, name=name.strip()[:LONGEST_NAME] or "passkey", credential=named,
        public_key=text(found.credential_public_key), sign_count=found.sign_count, ways=" ".join(ways)[:100],
        made_at=clock.real(),
    )  # fmt: skip


def _refuse_attestation(said: dict) -> None:
    """A statement of who made the device is not asked for, and one that comes is not read. Raises NotTaken."""
    from webauthn import base64url_to_bytes
    from webauthn.helpers import parse_attestation_object

    stated = parse_attestation_object(base64url_to_bytes(said["response"]["attestationObject"]))
    if stated.fmt != "none" and not (stated.fmt == "packed" and not stated.att_stmt.x5c):
        raise NotTaken(
            "The browser sent a statement of who made the device, which is not asked for. Use another one."
        )


def check(request, account: Account, purpose: str, answer: str) -> Passkey:
    """The passkey of the account that answered what was asked for `purpose`. It is noted as used.

    Raises NotTaken, which is noted at the door and counts like a wrong code.
    """
    return _looked_at(request, account, lambda: _answered(request, account, purpose, answer))


def _answered(request, account: Account, purpose: str, answer: str) -> Passkey:
    from webauthn import base64url_to_bytes, verify_authentication_response

    challenge = _challenge(request, account, purpose)
    said = _read(answer)
    key = Passkey.objects.filter(account=account, credential=str(said["id"])).first()
    if key is None:
        raise NotTaken(
            "This passkey does not belong to this log-in, or was removed. Use one of its own, or another way below."
        )
    if (whose := said["response"].get("userHandle")) and base64url_to_bytes(whose) != account.ref.bytes:
        raise NotTaken("This passkey was made for somebody else’s log-in. Use one of your own.")
    found = verify_authentication_response(
        credential=said, expected_challenge=challenge, expected_rp_id=host(), expected_origin=origin(),
        credential_public_key=base64url_to_bytes(key.public_key),
        credential_current_sign_count=0,  # compared below, once the signature is known to be the key's own
    )  # fmt: skip
    if purpose == SIGN and not found.user_verified:
        raise NotTaken(
            "This device did not check that it is you, so it does not sign. Set a PIN, a finger or a face on it, or "
            "sign with the pass phrase."
        )
    _count(request, account, key, found.new_sign_count)
    return key


def _count(request, account: Account, key: Passkey, now: int) -> None:
    """Keep what the key has counted. Raises NotTaken when that is no more than it was: it may have been copied.

    Web Authentication, 7.2, step 21 (from memory), leaves it to the site; here it permits less.
    """
    was = Passkey.objects.filter(pk=key.pk, sign_count=key.sign_count)
    goes_on = now > key.sign_count or now == key.sign_count == 0
    if goes_on and was.update(sign_count=now, used_at=clock.real()):
        return
    events.note("passkey counter went back", request, account=account)
    raise _Noted(
        f"The passkey “{key.name}” has not counted on ({now}, before {key.sign_count}): there may be a copy of it. "
        "It opens nothing now. Use another way, then remove this passkey on the page “My log-in”."
    )


class _Noted(NotTaken):
    """Refused, and noted at the door already under a word of its own."""


def _looked_at(request, account: Account, look):
    """What `look` finds, unless too much was tried before; each refusal is noted. Raises NotTaken."""
    until = throttle.held_until(account.username, address_of(request))
    if until is not None:
        raise NotTaken(f"Too many tries that did not fit. Wait {throttle.in_words(until)}, then try again.")
    try:
        return look()
    except (_Noted, DatabaseError):
        raise
    except NotTaken as problem:
        _refuse(request, account, str(problem))
    except Exception:  # whatever a foreign answer makes of the readers inside the library is a refusal, never a fault
        _refuse(
            request, account,
            "The answer does not fit what was asked: it is for another address or another moment, or it is damaged. "
            f"Open this site at {origin()}. {AGAIN}",
        )  # fmt: skip


def _refuse(request, account: Account, why: str):
    events.note("passkey refused", request, account=account)
    raise NotTaken(why) from None


def _read(answer: str) -> dict:
    """What a browser sent, as far as its form is known. Raises NotTaken."""
    from webauthn import base64url_to_bytes

    if len(answer) > LARGEST:
        raise NotTaken(f"The answer is far larger than that of any passkey. {AGAIN}")
    said = json.loads(answer)
    if not isinstance(said, dict) or not isinstance(said.get("response"), dict):
        raise NotTaken(f"What the browser sent is no answer of a passkey. {AGAIN}")
    if json.loads(base64url_to_bytes(said["response"]["clientDataJSON"])).get("crossOrigin"):
        raise NotTaken(f"It was asked within a page of another site. Open this site itself, at {origin()}.")
    return said


# ------------------------------------------------------------------------------------------------- afterwards


def rename(request, key: Passkey, name: str) -> None:
    """Its person calls it by another name."""
    Passkey.objects.filter(pk=key.pk).update(name=name.strip()[:LONGEST_NAME])
    events.note("passkey renamed", request, account=key.account)


def remove(request, key: Passkey) -> None:
    """It opens nothing any more. Raises second.LastOne where the site asks for one and no other is left."""
    with transaction.atomic():
        account = Account.objects.select_for_update().get(pk=key.account_id)
        second.refuse_last(account)
        Passkey.objects.filter(pk=key.pk).delete()
        second.tidy(account)
    events.note("passkey removed", request, account=account)
