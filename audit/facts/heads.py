"""The newest entry of a ledger: what a later copy of the record can be checked against."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LedgerHead:
    """The newest entry of an organisation's ledger that the binder may rest on.

    `organisation` is the ref of the organisation, `number` that of the entry, `hash` its SHA-256 in hexadecimal.
    """

    organisation: str
    name: str
    number: int
    hash: str
