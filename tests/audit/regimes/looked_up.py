"""A duty of a set of rules, as it was on a day."""

from __future__ import annotations

from datetime import date

from audit.regimes import load_regime


def duty(id: str, which: str, on: date | None = None):
    regime = load_regime(id).on(on) if on else load_regime(id)
    return next(d for d in regime.duties if d.id == which)
