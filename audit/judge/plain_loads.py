"""Most loads say nothing but that all went well: these are told apart from the others by one look at each.

Whoever asks for failures, wet packs, implants or missing results looks at the few others alone.
"""

from __future__ import annotations

from collections.abc import Iterable

from audit.facts import LoadFact

# Under these names they, and all the different cycle numbers of loads, are kept with what was settled of a unit.
REMARKABLE, NUMBERS = "remarkable loads", "cycle numbers"


def remarkable(loads: Iterable[LoadFact]) -> list[LoadFact]:
    """The loads, in turn, that have no passing mechanical result, a failed chemical one, wet packs, an implant, or a
    decision logged apart.
    """
    return [
        x
        for x in loads
        if x.mechanical != "pass"
        or x.chemical == "fail"
        or x.released_row is not None
        or x.implant
        or x.packs == "wet"
    ]
