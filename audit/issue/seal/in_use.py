"""Until when this installation signed with a seal: what the ledger of issued binders can tell of it.

A certificate says how long it may be used, not when another took its place. Each binder that is issued is entered
with the fingerprint of its certificate, so the first one with another seal shows that the one before was replaced by
then. Binders made by the command alone are not entered, and show nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from records.models import BinderIssue

from .keys import NoKey, fingerprint, own_certificate


@dataclass(frozen=True, slots=True)
class SealUse:
    """Whether the seal signs now; else `until`, the moment by which another had taken its place, None: not shown."""

    now: bool
    until: datetime | None = None

    @property
    def words(self) -> str:
        """In one sentence, days in UTC."""
        if self.now:
            return "This installation signs with it now."
        if self.until is None:
            return "This installation no longer signs with it; no issued binder on record shows since when."
        return f"This installation no longer signs with it: another was in use by {self.until:%Y-%m-%d}."

    def is_over(self, at: datetime | None) -> bool:
        """Whether a moment of signing lies after another seal had taken its place."""
        return at is not None and self.until is not None and at > self.until


def use_of(certificate: str) -> SealUse:
    """Of the seal of that fingerprint, which this installation knows as its own."""
    try:
        own = fingerprint(own_certificate())
    except NoKey:
        own = ""
    if certificate == own:
        return SealUse(now=True)
    entered = BinderIssue.objects.order_by("happened_at", "pk")
    last = entered.filter(certificate=certificate).last()
    later = entered.exclude(certificate=certificate)
    # Of a seal that no issued binder carries only the one of today is known to have come after it.
    later = later.filter(pk__gt=last.pk) if last is not None else later.filter(certificate=own)
    first = later.first()
    return SealUse(now=False, until=first.happened_at if first is not None else None)
