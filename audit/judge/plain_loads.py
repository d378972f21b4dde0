"""Most loads say nothing but that all went well: these are told apart from the others by one look at each.

Whoever asks for failures, wet packs, implants or missing results looks at the few others alone.
"""

from __future__ import annotations

from collections.abc import Iterable

from audit.facts import LoadFact

# Under these names they, and the cycle number of each load in turn, are kept with what was settled of a unit.
REMARKABLE, NUMBERS = "remarkable loads", "cycle numbers"


def remarkable(loads: Iterable[LoadFact]) -> list[LoadFact]:
    """The loads, in turn, that have no passing mechanical result, a failed chemical one, wet packs, damaged wrapping,
    an implant, or a decision logged apart.
    """
    return told_apart(loads)[0]


def told_apart(loads: Iterable[LoadFact]) -> tuple[list[LoadFact], list[str]]:
    """(those that are `remarkable`, the cycle number of every load), both in turn, by one look at each load."""
    found: list[LoadFact] = []
    put_aside = found.append  # gives None
    numbers = [
        x.cycle_number
        for x in loads
        if (
            x.mechanical == "pass"
            and x.chemical != "fail"
            and x.released_row is None
            and not x.implant
            and x.packs != "wet"
            and x.pack_condition != "damaged"
        )
        or put_aside(x) is None
    ]
    return found, numbers
