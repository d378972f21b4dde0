"""What recorded cycles mean for their loads. Pure.

A recorded cycle that did not meet its profile, or held shorter or colder than its program needs, is a failed
mechanical result of its load, whatever was typed beside it. One that met it stands in for a mechanical result that
nobody typed, and only where each recorded cycle of the load did; never more than a typed pass. What is incomplete,
cannot be judged or read, or contradicts the load or the plate of the unit proves nothing, and a typed result beside
it stays what it is. A program of which nothing is on record needs at least the steam of `exposure`.

CDC 2003 (MMWR 52 RR-17) VI.F takes gauges, printout and data as one mechanical result (from memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import ROUND_FLOOR, Decimal
from typing import Protocol

from audit.facts import CycleRecordingFact, LoadFact, ProgramFact, UnitFacts, in_order
from audit.facts.recordings import MET, NOT_MET

from .biological import number_key
from .exposure import LEAST_STEAM, below, loads_as_shown, program_on, short_of

FAIL, PASS = "fail", "pass"
_TYPED = (FAIL, PASS)
_THOUSANDTH = Decimal("0.001")


def loads_as_judged(unit: UnitFacts, measured: Iterable[LoadFact] | None = None) -> UnitFacts:
    """The unit with the mechanical result of each load as exposure and recorded cycles show it.

    `measured` as in `exposure.loads_as_shown`.
    """
    unit = loads_as_shown(unit, measured)
    if not unit.recordings:
        return unit
    of, doubtful = recordings_by_load(unit), {each.load for each in _doubtful(unit)}
    shown, changed = [], False
    for load in unit.loads:
        origin, result = load.row.origin, load.mechanical
        if origin in doubtful:
            result = mechanical_of(unit, load, of[origin])
        elif result not in _TYPED and origin in of and _all_met(unit, load, of[origin]):
            result = PASS
        changed |= result != load.mechanical
        shown.append(load if result == load.mechanical else replace(load, mechanical=result))
    return replace(unit, loads=in_order(shown)) if changed else unit


def _all_met(unit: UnitFacts, load: LoadFact, recordings: Sequence[CycleRecordingFact]) -> bool:
    """As `proves` of each, where none is among the doubtful: these are not short of any program."""
    return all(each.verdict == MET and not contradicted(unit, load, each) for each in recordings)


def _doubtful(unit: UnitFacts) -> list[CycleRecordingFact]:
    """Those that did not meet their profile, or stayed below the highest limit of any program: few are looked at
    again, whatever their program."""
    seconds = max((p.exposure_minutes * 60 for p in unit.programs if p.exposure_minutes is not None), default=0)
    heat = max([LEAST_STEAM, *(p.temperature_low for p in unit.programs if p.temperature_low is not None)])
    return [
        x
        for x in unit.recordings
        if x.verdict == NOT_MET
        or (x.held_seconds is not None and x.held_seconds < seconds)
        or (x.least_temperature is not None and x.least_temperature < heat)
    ]


def recordings_by_load(unit: UnitFacts) -> dict[str, list[CycleRecordingFact]]:
    """The recorded cycles of the unit by the origin of their load, each in order."""
    found: dict[str, list[CycleRecordingFact]] = defaultdict(list)
    for recording in in_order(unit.recordings):
        found[recording.load].append(recording)
    return found


def mechanical_of(unit: UnitFacts, load: LoadFact, recordings: Sequence[CycleRecordingFact]) -> str:
    """The mechanical result of a load with these recorded cycles: what failed counts, then what was typed."""
    if any(failed(unit, load, each) for each in recordings):
        return FAIL
    if load.mechanical in _TYPED or not recordings:
        return load.mechanical
    return PASS if all(proves(unit, load, each) for each in recordings) else load.mechanical


class Shown(Protocol):
    """What a recorded cycle was judged to show, read from its file: as a fact, or before it is on record."""

    verdict: str  # one of RECORDING_VERDICTS
    profile: str
    words: str
    held_seconds: Decimal | None  # None: there was no hold, as of the next
    least_temperature: Decimal | None  # of any sensor in the hold, in °C


def failed(unit: UnitFacts, load: LoadFact, recording: CycleRecordingFact) -> str:
    """Why the recorded cycle is a failed mechanical result, in words; "" where it is none."""
    asks_program = recording.verdict == MET
    return why_failed(recording, program_on(unit, load.program, load.row.happened_on) if asks_program else None)


def why_failed(shown: Shown, program: ProgramFact | None) -> str:
    """Why what is shown is a failed mechanical result, in words; "" where it is none.

    `program`: what the program of its load needs, None where nothing is on record of it.
    """
    if shown.verdict == NOT_MET:
        return f"it did not meet {shown.profile}: {shown.words.rstrip('.')}"
    if shown.verdict != MET:
        return ""
    held = shown.held_seconds
    minutes = None if held is None else (held / 60).quantize(_THOUSANDTH, ROUND_FLOOR).normalize()
    return " and ".join(f"it recorded {words}" for words in below(minutes, shown.least_temperature, program))


def shown_short(unit: UnitFacts, load: LoadFact) -> bool:
    """Whether numbers show that a load fell short: of its exposure, or of one of its recorded cycles."""
    recordings = (each for each in unit.recordings if each.load == load.row.origin)
    return bool(short_of(unit, load)) or any(failed(unit, load, each) for each in recordings)


def contradicted(unit: UnitFacts, load: LoadFact, recording: CycleRecordingFact) -> str:
    """Where the file says otherwise than the load or the plate of the unit; "" where it does not."""
    told = []
    said = recording.serial
    if said and said != unit.serial and unit.serial and _plain(recording.serial) != _plain(unit.serial):
        told.append(f"serial {recording.serial}, not {unit.serial}")
    number = recording.cycle_number
    if (
        number
        and number != load.cycle_number
        and load.cycle_number
        and number_key(number) != number_key(load.cycle_number)
    ):
        told.append(f"cycle {number}, not {load.cycle_number}")
    if recording.row.happened_on != load.row.happened_on:
        told.append(f"{recording.row.happened_on.isoformat()}, not {load.row.happened_on.isoformat()}")
    said = recording.program
    if said and said != load.program and load.program and _plain(recording.program) != _plain(load.program):
        told.append(f"program {recording.program}, not {load.program}")
    return f"the file says {'; '.join(told)}" if told else ""


def _plain(words: str) -> str:
    return "".join(words.split()).casefold()


def proves(unit: UnitFacts, load: LoadFact, recording: CycleRecordingFact) -> bool:
    """Whether the recorded cycle alone is a passing mechanical result."""
    return recording.verdict == MET and not failed(unit, load, recording) and not contradicted(unit, load, recording)


def told_of(unit: UnitFacts, load: LoadFact, recording: CycleRecordingFact) -> str:
    """The recorded cycle in one line: its verdict, why, and where it contradicts the record."""
    under = f" under {recording.profile}" if recording.profile else ""
    said = f"recorded cycle {recording.verdict}{under}"
    if why := failed(unit, load, recording):
        said = f"recorded cycle counts as failed: {why}"
    elif recording.verdict != MET and recording.words:
        said += f": {recording.words.rstrip('.')}"
    if other := contradicted(unit, load, recording):
        said += f"; {other}, so it proves nothing"
    return said
