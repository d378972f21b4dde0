"""A second factor: time codes (RFC 6238, six digits of HMAC-SHA-1 every 30 seconds), passkeys, and recovery codes.

The library's own generator makes the codes. A code opens once, and the one before and after the present one are taken
too, for clocks that go wrong (RFC 6238, section 5.2). What a passkey is asked and answers stands in `passkeys`.
"""

from __future__ import annotations

import base64
import secrets
from hmac import compare_digest

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.conf import settings
from django.db import transaction
from django.utils.crypto import salted_hmac

from records import access, clock
from records.models import Account, Passkey, RecoveryCode, SecondFactor, ServiceCompany

STEP = 30  # seconds
DIGITS = 6
SECRET_BYTES = 20  # as long as the hash, RFC 4226, section 4, R6
AROUND = (0, -1, 1)
CODES = 10
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another


def is_asked_of(account: Account) -> bool:
    """Whether the policy of this site asks the account for a second factor. At most two queries."""
    if settings.SECOND_FACTOR == "everybody":
        return True
    if settings.SECOND_FACTOR == "nobody":
        return False
    if account.is_staff or account.is_superuser:
        return True
    mine = access.memberships(account).values("organisation_id")
    return ServiceCompany.objects.filter(pk__in=mine).exists()


class LastOne(Exception):
    """The only second factor of who is asked for one is not taken away: the message says the way out."""


def of(account: Account) -> SecondFactor | None:
    """The time codes of the account, set up to their end."""
    return SecondFactor.objects.filter(account=account, confirmed_at__isnull=False).first()


def is_set_up(account: Account) -> bool:
    """Whether the account has a second factor, of whatever kind. At most two queries."""
    return of(account) is not None or Passkey.objects.filter(account=account).exists()


def begun(account: Account) -> SecondFactor:
    """The one that is being set up, with a secret of its own; the same until it is confirmed."""
    found = SecondFactor.objects.filter(account=account).first()
    if found is not None and found.confirmed_at is None and _secret(found):
        return found
    secret = _box().encrypt(secrets.token_bytes(SECRET_BYTES)).decode()
    made, _ = SecondFactor.objects.update_or_create(
        account=account, confirmed_at=None, defaults={"secret": secret, "last_step": 0}
    )
    return made


def address(factor: SecondFactor) -> str:
    """What the square says: an address of the kind otpauth."""
    return _codes(factor).get_provisioning_uri(factor.account.username, "Unit standing")


def typed_secret(factor: SecondFactor) -> str:
    """The secret as it is typed where no square can be read, in groups of four."""
    text = base64.b32encode(_secret(factor)).decode().rstrip("=")
    return " ".join(text[n : n + 4] for n in range(0, len(text), 4))


def replacing(kept: str) -> str:
    """The secret, encrypted, of a device that takes the time codes over: that kept in the sitting, or a new one."""
    if kept and _secret(SecondFactor(secret=kept)):
        return kept
    return _box().encrypt(secrets.token_bytes(SECRET_BYTES)).decode()


def replace(factor: SecondFactor, secret: str, code: str) -> bool:
    """Whether the code is one of the new device: then only that one's are taken from now on."""
    step = _step(SecondFactor(secret=secret), code)
    if step is None:
        return False
    same = SecondFactor.objects.filter(pk=factor.pk, secret=factor.secret)
    return bool(same.update(secret=secret, last_step=step, confirmed_at=clock.real()))


def confirm(factor: SecondFactor, code: str) -> list[str]:
    """Set it up to its end with a first code; the recovery codes, shown once. [] when the code is not right."""
    with transaction.atomic():
        if not is_right(factor, code):
            return []
        SecondFactor.objects.filter(pk=factor.pk).update(confirmed_at=clock.real())
        return new_recovery_codes(factor.account)


def new_recovery_codes(account: Account) -> list[str]:
    """Ten codes, shown once; those from before open nothing any more."""
    made = ["-".join(_word() for _ in range(3)) for _ in range(CODES)]
    with transaction.atomic():
        RecoveryCode.objects.filter(account=account).delete()
        RecoveryCode.objects.bulk_create(RecoveryCode(account=account, digest=_digest(account, c)) for c in made)
    return made


def is_right(factor: SecondFactor, code: str) -> bool:
    """Whether the code is one of now, and was not taken before. It is taken by that."""
    step = _step(factor, code)
    if step is None:
        return False
    return bool(SecondFactor.objects.filter(pk=factor.pk, last_step__lt=step).update(last_step=step))


def _step(factor: SecondFactor, code: str) -> int | None:
    """Of which half minute around now the code is; None when of none."""
    digits = "".join(code.split())
    if len(digits) != DIGITS or not digits.isascii() or not digits.isdigit() or not _secret(factor):
        return None
    now = int(clock.real().timestamp()) // STEP
    for step in (now + away for away in AROUND):
        if compare_digest(_codes(factor).generate(step * STEP), digits.encode()):
            return step
    return None


def recovers(account: Account, code: str) -> bool:
    """Whether it is a recovery code of the account that was not used before. It is used by that."""
    rows = RecoveryCode.objects.filter(account=account, digest=_digest(account, code), used_at=None)
    return bool(rows.update(used_at=clock.real()))


def recovery_left(account: Account) -> int:
    """How many recovery codes were not used yet."""
    return RecoveryCode.objects.filter(account=account, used_at=None).count()


def refuse_last(account: Account) -> None:
    """Raises LastOne where this site asks the account for a second factor and it has no more than one."""
    left = int(of(account) is not None) + Passkey.objects.filter(account=account).count()
    if left <= 1 and is_asked_of(account):
        raise LastOne(
            "This is your only second factor, and this site asks you for one. Add another one first, a passkey or "
            "time codes, then take this one away. Where the device is lost, whoever runs this site takes it away."
        )


def take_away(account: Account) -> bool:
    """The account has no time codes any more; whether it had them. Raises LastOne."""
    with transaction.atomic():
        Account.objects.select_for_update().get(pk=account.pk)
        refuse_last(account)
        taken = bool(SecondFactor.objects.filter(account=account).delete()[0])
        tidy(account)
    return taken


def take_all_away(account: Account) -> bool:
    """As an administrator does for who lost them: no codes and no passkeys any more; whether there were any."""
    with transaction.atomic():
        rows = [model.objects.filter(account=account).delete()[0] for model in (RecoveryCode, Passkey, SecondFactor)]
    return any(rows)


def tidy(account: Account) -> None:
    """Recovery codes stand in for a second factor: without one they open nothing and are thrown away."""
    if not is_set_up(account):
        RecoveryCode.objects.filter(account=account).delete()


def _word() -> str:
    return "".join(secrets.choice(_LETTERS) for _ in range(5))


def _digest(account: Account, code: str) -> str:
    plain = "".join(c for c in code.lower() if c in _LETTERS)
    return salted_hmac("records.doors.recovery", f"{account.pk} {plain}", algorithm="sha256").hexdigest()


def _codes(factor: SecondFactor) -> TOTP:
    return TOTP(_secret(factor), DIGITS, SHA1(), STEP)  # noqa: S303 (as RFC 6238 has it, and every app)


def _box() -> Fernet:
    """Under a key made of the site's own: a copy of the database alone opens no second factor."""
    key = salted_hmac("records.doors.second", "", algorithm="sha256").digest()
    return Fernet(base64.urlsafe_b64encode(key))


def _secret(factor: SecondFactor) -> bytes:
    """b"" when the site's key is another one since: the factor is to be taken away and set up again."""
    try:
        return _box().decrypt(factor.secret.encode())
    except InvalidToken:
        return b""
