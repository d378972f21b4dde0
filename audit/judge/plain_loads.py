"""Most loads say nothing but that all went well: these are told apart from the others by one look at each.

Whoever asks for failures, wet packs, implants, missing results or decisions told by somebody else looks at the few
others alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter
from typing import NamedTuple

from audit.facts import LoadFact
from audit.facts.names import TOLD

from .running_numbers import OutOfTurn, numbers_in_turn, out_of_turn

# Under these names they, and the last two of `ToldApart`, are kept with what was settled of a unit.
REMARKABLE, NUMBERS = "remarkable loads", "cycle numbers"
_NUMBER = attrgetter("cycle_number")


class ToldApart(NamedTuple):
    """Each in the turn of the loads."""

    remarkable: list[LoadFact]
    measured: list[LoadFact]  # those with minutes, temperature or pressure of exposure on record
    moved: OutOfTurn | None  # what is out of turn of the cycle numbers; None: they do not run on, or few of them do
    written: list[str]  # the cycle number of each load; [] where it is told what is out of turn


def remarkable(loads: Sequence[LoadFact]) -> list[LoadFact]:
    """The loads, in turn, that have no passing mechanical result, a failed chemical one, wet packs, damaged wrapping,
    an implant, or a decision logged apart or told by somebody else.
    """
    return told_apart(loads).remarkable


def told_apart(loads: Sequence[LoadFact]) -> ToldApart:
    """By one look at each load, and another at those of which there is more to say."""
    found: list[LoadFact] = []
    moved: list[LoadFact] = []
    put_aside, put_by = found.append, moved.append  # each gives None
    in_turn = numbers_in_turn(loads)
    every = in_turn is None
    numbers = [
        number
        for x, number in zip(loads, map(_NUMBER, loads) if every else in_turn, strict=True)
        if (
            (
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
        )
        and (every or (x.cycle_number != number and put_by(x) is None))
    ]
    measured = [
        x
        for x in found
        if not (x.exposure_minutes is None and x.exposure_temperature is None and x.exposure_pressure is None)
    ]
    told = [x for x in found if _is_remarkable(x)] if measured else found
    if every:
        return ToldApart(told, measured, None, numbers)
    run = out_of_turn(moved, numbers)
    return ToldApart(told, measured, run, list(map(_NUMBER, loads)) if run is None else [])


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
