"""A file of a recorded cycle on its way into the record: read apart, judged, tied to unit and load, then written.

Pages and the command that watches a folder both come here, so that a file is answered the same whoever brings it.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date

from audit.gather.cycle_apart import CycleRead, read_apart
from audit.gather.recordings import keep, kept_of
from audit.gather.rows import tidy
from audit.judge.recorded import why_failed
from records import access, clock, log
from records.files import blobs
from records.log.may_be_logged import zone_of
from records.log.programs import program_on
from records.log.recordings import LARGEST, load_of, plain, recorded_before
from records.models import CycleRecording, Load, Program, Unit

RECORDED, BEFORE = "recorded", "recorded before"
TOO_LARGE = f"The file has more than {LARGEST // 1024 // 1024} MiB: one file holds one cycle."


class FileNotTaken(Exception):
    """Nothing was written of the file. `confirm` are codes by which it would be taken, () where nothing helps so."""

    def __init__(self, message: str, confirm: tuple[str, ...] = ()):
        super().__init__(message)
        self.message, self.confirm = message, confirm


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What became of a file that stands on record now: `word` is RECORDED or BEFORE; `verdict` "" of the latter."""

    word: str
    row: CycleRecording
    verdict: str = ""
    words: str = ""


def take_in(
    *, by, request_key, clinic, content: bytes, filename, how, load: Load | None = None, confirmed=()
) -> TakenIn:  # fmt: skip
    """Bring a file in, to the load named or to the one that unit, number and day by the file name.

    `request_key` is that of the whole request: with the file's hash it makes the key of its entry.
    Raises FileNotTaken.
    """
    if len(content) > LARGEST:
        raise FileNotTaken(TOO_LARGE)
    read = _read(content, "")
    try:
        unit = load.unit if load is not None else _unit_of(clinic, read.keys.get("serial", ""))
        sha256 = blobs.sha256_of(content)
        before = recorded_before(unit, sha256)
        if before is not None:
            return TakenIn(BEFORE, before)
        program = _program(unit, load, read, _day(clinic, read))
        least = "" if program is None or program.temperature_low is None else f"{tidy(program.temperature_low):f}"
        read = _read(content, least) if least else read
        row = log.log_recording(
            by=by, request_key=uuid.uuid5(uuid.UUID(str(request_key)), sha256), clinic=clinic, unit=unit,
            content=content, filename=filename, said=read.keys, how=how, at=read.started_at, load=load,
            failed=why_failed(read, program) != "", confirmed=confirmed,
        )  # fmt: skip
    except log.Refused as refused:
        codes = tuple(dict.fromkeys(p.confirm for p in refused.problems if p.confirm))
        every = all(p.confirm for p in refused.problems)
        raise FileNotTaken(" ".join(p.message for p in refused.problems), codes if every else ()) from None
    except log.SubmissionConflict as conflict:
        raise FileNotTaken(str(conflict)) from None
    if read.lasting:
        keep(clinic, {(sha256, least): kept_of(read)})
    return TakenIn(RECORDED, row, read.verdict, read.words)


def _read(content: bytes, least: str) -> CycleRead:
    """What the file says and shows. Raises FileNotTaken for one that is not in the form."""
    read = read_apart(content, least)
    if not read.refused:
        return read
    if not read.lasting:
        raise FileNotTaken(read.refused)
    where = f"Line {read.line}: " if read.line else ""
    raise FileNotTaken(
        f"{where}{read.refused}. Nothing was recorded; mend the file where it was made, and bring it in again."
    )


def _unit_of(clinic, serial: str) -> Unit:
    """The unit of the clinic with that serial. Raises FileNotTaken where there is none, or no single one."""
    if not serial:
        raise FileNotTaken("The file does not say the serial of its unit. Bring it in on the page of its load.")
    found = [unit for unit in access.units_at(clinic) if plain(unit.serial) == plain(serial)]
    if len(found) != 1:
        raise FileNotTaken(
            f"{'No unit' if not found else 'More than one unit'} here has the serial {serial}. Correct the plate of "
            "the unit, or bring the file in on the page of its load."
        )
    return found[0]


def _day(clinic, read: CycleRead) -> date | None:
    return None if read.started_at is None else clock.local_day(read.started_at, zone_of(clinic))


def _program(unit: Unit, load: Load | None, read: CycleRead, day: date | None) -> Program | None:
    """What the program of the load needs, or of the one that is to be made."""
    if load is None and day is not None:
        load = load_of(unit, read.keys.get("cycle", ""), day)
    if load is not None:
        newest = Load.objects.newest().get(origin=load.origin)
        return program_on(unit, newest.program, newest.happened_on)
    return None if day is None else program_on(unit, read.keys.get("program", ""), day)
