"""Ledgers that were brought in from elsewhere: where they came from, and which of their entries stand here."""

from __future__ import annotations

import json

from audit.gather import marks
from audit.models import BroughtLedger
from records.ledger.excerpts import Excerpt
from records.models import Organisation

_SAID = ("last", "made_at", "made_by", "sha256", "brought_by")


def note(organisation: Organisation, entries: dict[str, str], **said) -> BroughtLedger:
    """Keep where a ledger came from; `entries` are hashes by number where only some were brought, else {}."""
    row = BroughtLedger(organisation_id=organisation.pk, entries=entries, **said)
    row.mark = marks.mark("brought", *_parts(row))
    row.save()
    return row


def _parts(row: BroughtLedger) -> tuple[bytes, ...]:
    told = [row.organisation_id, row.entries, *(getattr(row, name) for name in _SAID)]
    return (json.dumps(told, sort_keys=True).encode(),)


def origin_of(organisation: Organisation) -> BroughtLedger | None:
    """Where the ledger came from; None where it was written here, or where what says so was not written by us."""
    row = BroughtLedger.objects.filter(organisation_id=organisation.pk).first()
    return row if row is not None and marks.fits(bytes(row.mark), "brought", *_parts(row)) else None


def excerpt_of(organisation: Organisation) -> Excerpt | None:
    """Which of the ledger's entries were brought in, None where all of it stands here."""
    row = origin_of(organisation)
    return Excerpt({int(number): digest for number, digest in row.entries.items()}) if row and row.entries else None
