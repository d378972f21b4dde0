"""What a binder says of its own signature, known before it is put on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Sealing:
    """What is known of the signature before it is put on: it is part of what the file says of itself.

    `by` is the name in the certificate, `issued_by` who issued the binder ("" where nobody is named), `at` the moment
    of sealing with its offset: its day alone is printed, so that the same facts give the same pages. `fingerprint` is
    the SHA-256 of the certificate in hexadecimal; `own`: nobody else vouches for it. `address` is the page on which a
    file is checked.
    """

    by: str
    issued_by: str
    at: datetime
    fingerprint: str
    own: bool
    address: str
