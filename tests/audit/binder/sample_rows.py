"""Rows of invented facts, numbered as a ledger would."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from hashlib import sha256

from audit import facts as f


class Rows:
    """Numbers rows as a ledger would."""

    def __init__(self) -> None:
        self.number = 100

    def row(self, on: date, **more) -> f.Row:
        self.number += 1
        ref = sha256(f"row {self.number}".encode()).hexdigest()[:32]
        logged = datetime.combine(on, time(16, 20), UTC)
        known = {"logged_at": logged, "logged_by": "Ilse Brandt", "logged_for": "", "line": 0}
        return f.Row(ref, ref, self.number, happened_on=on, happened_at=None, **{**known, **more})
