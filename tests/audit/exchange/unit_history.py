"""The file of one unit's history, as others write it for `manage.py evaluate`. The program writes exports alone."""

from __future__ import annotations

from audit.exchange.codec import UNIT_FORMAT, VERSION, to_json
from audit.facts import ClinicFacts


def history_of(place: ClinicFacts) -> dict:
    """The clinic's facts, which hold one unit alone."""
    (_,) = place.units
    return {"format": UNIT_FORMAT, "version": VERSION, "clinic": to_json(place)}
