"""Most loads say nothing but that all went well: these are told apart from the others by one look at each.

Whoever asks for failures, wet packs, implants, missing results or decisions told by somebody else looks at the few
others alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from audit.facts import LoadFact
from audit.facts.names import TOLD

# Under these names they, and the cycle number of each load in turn, are kept with what was settled of a unit.
REMARKABLE, NUMBERS = "remarkable loads", "cycle numbers"


class ToldApart(NamedTuple):
    """Each in the turn of the loads."""

    remarkable: list[LoadFact]
    numbers: list[str]  # the cycle number of every load
    measured: list[LoadFact]  # those with minutes, temperature or pressure of exposure on record


def remarkable(loads: Iterable[LoadFact]) -> list[LoadFact]:
    """The loads, in turn, that have no passing mechanical result, a failed chemical one, wet packs, damaged wrapping,
    an implant, or a decision logged apart or told by somebody else.
    """
    return told_apart(loads).remarkable


def told_apart(loads: Iterable[LoadFact]) -> ToldApart:
    """By one look at each load, and another at those of which there is more to say."""
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
            and x.released_given != TOLD
            and x.exposure_minutes is None
            and x.exposure_temperature is None
            and x.exposure_pressure is None
        )
        or put_aside(x) is None
    ]
    measured = [
        x
        for x in found
        if not (x.exposure_minutes is None and x.exposure_temperature is None and x.exposure_pressure is None)
    ]
    return ToldApart([x for x in found if _is_remarkable(x)] if measured else found, numbers, measured)


def _is_remarkable(load: LoadFact) -> bool:
    return (
        load.mechanical != "pass"
        or load.chemical == "fail"
        or load.released_row is not None
        or load.implant
        or load.packs == "wet"
        or load.pack_condition == "damaged"
        or load.released_given == TOLD
    )
