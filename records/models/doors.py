"""Who gets in: sittings, what happened at the door, second factors. Working state beside the record, never a fact.

Nothing here is evidence of what was done with a unit: an entry of a ledger says by itself under whose account it was
logged. So these rows end by themselves, and no ledger hashes them.
"""

from __future__ import annotations

import hashlib

from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from .people import Account

HAPPENED = (
    "signed in", "refused", "held back", "code refused", "closed", "signed out", "pass phrase changed",
    "reset asked for", "pass phrase reset", "reset link made", "second factor set up", "second factor taken away",
    "recovery code used", "sitting ended", "signed with pass phrase", "signature refused",
    "mail address changed", "pass phrase refused", "recovery codes made anew", "passkey added", "passkey renamed",
    "passkey removed", "passkey refused", "passkey counter went back", "signed with passkey",
)  # fmt: skip


class Sitting(AbstractBaseSession):
    """One browser that is signed in, from `began_at` on; `seen_at` is when it was last used, to a few minutes.

    All moments are real ones, whatever moment the site stands at. Without an account nobody is signed in yet.
    """

    account = models.ForeignKey(Account, models.CASCADE, null=True, related_name="sittings")
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    @property
    def handle(self) -> str:
        """By what a page names it: never the key, which would open it."""
        return hashlib.sha256(self.session_key.encode()).hexdigest()[:20]


class DoorEvent(models.Model):
    """What happened at the door. `name` is a keyed digest of the log-in name that was typed, which may be anything.

    `account` is the one that the name belongs to, None where there is none. `at` is the real moment.
    """

    account = models.ForeignKey(Account, models.CASCADE, null=True, related_name="door_events")
    name = models.CharField(max_length=64, blank=True, default="", db_index=True)
    what = models.CharField(max_length=30)  # one of HAPPENED
    at = models.DateTimeField(db_index=True)
    address = models.CharField(max_length=45, blank=True, default="", db_index=True)
    device = models.CharField(max_length=120, blank=True, default="")

    def __str__(self):
        return f"{self.what} at {self.at:%Y-%m-%d %H:%M}"


class SecondFactor(models.Model):
    """Time codes of an account (RFC 6238). `secret` is encrypted; `last_step` is the step of the last code taken."""

    account = models.OneToOneField(Account, models.CASCADE, related_name="second_factor")
    secret = models.CharField(max_length=300)
    confirmed_at = models.DateTimeField(null=True)
    last_step = models.BigIntegerField(default=0)

    def __str__(self):
        return f"second factor of {self.account}"


class Passkey(models.Model):
    """A passkey of an account (W3C Web Authentication Level 2). Only its public half is kept.

    `credential` is its id and `public_key` its COSE key (RFC 9052, section 7), both in base64url; `sign_count` is
    what it had counted at its last use, 0 where it counts nothing; `ways` are how browsers reach it, in their words.
    """

    account = models.ForeignKey(Account, models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    credential = models.CharField(max_length=1364, unique=True)  # of 1023 bytes at most
    public_key = models.TextField()
    sign_count = models.BigIntegerField(default=0)
    ways = models.CharField(max_length=100, blank=True, default="")
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self):
        return self.name


class RecoveryCode(models.Model):
    """A code that opens once where the second factor is lost. Only its keyed digest is kept."""

    account = models.ForeignKey(Account, models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)

    def __str__(self):
        return "used" if self.used_at else "unused"


class Taken(models.Model):
    """How often something was asked for by one account or address within one span of time.

    `span` is the second (Unix time) at which the span ends. What is over goes when the next span of anybody begins.
    """

    key = models.CharField(max_length=64)
    span = models.BigIntegerField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "span"], name="taken_once_a_span")]

    def __str__(self):
        return f"{self.count}"
