"""Recorded cycles: the file first, then the fact that names its hash, the unit and the load.

A file is read elsewhere, apart (its bytes are foreign); what it says of itself comes along as `said`. The load is the
one whose page it is brought to, else found by unit, number and day, else made. Where the file and the record
contradict each other it is asked about: confirmed it is recorded, and judgement takes it for no proof.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime

from records import clock
from records.files import blobs
from records.models import AirRemovalTest, CycleRecording, Load, Voiding

from . import cycle_number as numbers
from . import may_be_logged, row_rules
from .errors import Problem, Refused
from .indicators import open_case
from .naming import name_in
from .submission import answered, submission

LARGEST = 10 * 1024 * 1024
DIFFERS = "recording-differs"
# Who started a cycle of which nothing but its file is known.
RECORDER = "not named (from the recorder)"
# The key of the file for each column of the fact.
SAID = {
    "serial": "serial", "cycle_number": "cycle", "program": "program", "started": "started", "logger": "logger",
    "ambient": "ambient_kpa", "profile": "profile",
}  # fmt: skip


def recorded_before(unit, sha256: str) -> CycleRecording | None:
    """The recording in force of that file and unit; None where there is none."""
    found = CycleRecording.objects.in_force().filter(unit=unit, sha256=sha256)
    return found.select_related("load", "entry").order_by("id").first()


def load_of(unit, number: str, on: date) -> Load | None:
    """The load in force of that unit, cycle number and day; None where there is none. Raises Refused for several."""
    of_day = Load.objects.in_force().filter(unit=unit, happened_on=on).order_by("id")
    found = [load for load in of_day if number and numbers.same(load.cycle_number, number)]
    if len(found) > 1:
        said = (
            f"{len(found)} loads of {on} have the cycle number {number}. Bring the file in on the page of its load."
        )
        raise Refused([Problem("load", said)])
    return found[0] if found else None


def log_recording(
    *, by, request_key, clinic, unit, content: bytes, filename, said: Mapping[str, str], how="upload", at=None,
    load=None, failed=False, confirmed=(),
) -> CycleRecording:  # fmt: skip
    """Keep the file of a recorded cycle, of 10 MiB at most, and enter it with its load.

    `said`: keys of the file and their values. `at`: the moment at which the cycle began by the file, None where it
    does not say. `load`: the load whose it is; None to find it by unit, number and day, or to make it. `failed`:
    judgement says that it did not meet its profile: a case of the load opens in the same entry. A file that stands on
    record for the unit is not written again: the row that stands is returned.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    may_be_logged.stop_on([*may_be_logged.unit_of_clinic("unit", unit, clinic), *_of_file(content)])
    sha256 = blobs.sha256_of(content)
    before = recorded_before(unit, sha256)
    if before is not None:
        return before
    fields = {name: str(said.get(key, ""))[: _longest(name)] for name, key in SAID.items()}
    load = _newest(load, clinic, unit) if load is not None else None
    on = clock.local_day(at, zone) if at is not None else load.happened_on if load is not None else None
    may_be_logged.stop_on([*_placed(fields, on, load), *may_be_logged.not_in_future("started", on, at, zone)])
    problems = [*_of_another_unit(clinic, unit, sha256)]
    if load is None:
        load = load_of(unit, fields["cycle_number"], on)
    if not answered(by, request_key):
        problems += contradictions(unit, load, fields, on)
        problems += _about_new(unit, fields, on, at) if load is None else ()
    may_be_logged.stop_on(problems, confirmed)
    blobs.store(clinic, content)
    inputs = {"unit": unit, "sha256": sha256, "how": how, "at": at, "load": load.origin_row() if load else None}
    with submission(clinic, by, request_key, "recorded cycle", inputs, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(CycleRecording)
        if again := recorded_before(unit, sha256):  # under the ledger's lock: of two at once the second is told
            said = f"This file is on record already, as entry {again.entry.number}. Nothing was written twice."
            raise Refused([Problem("content", said)])
        common = {"clinic": clinic, "unit": unit, "happened_on": on, "happened_at": at, "zone": zone}
        if load is None:
            load = _made(s, fields, common, name_in(rights.company or clinic, RECORDER, by))
        kept = {"filename": filename[:200], "size": len(content), "sha256": sha256, "how": how}
        row = s.add(CycleRecording(load=load, **kept, **fields, **common))
        if failed:
            open_case(s, "mechanical", load, load.happened_on)
        return row


def _longest(name: str) -> int:
    return CycleRecording._meta.get_field(name).max_length


def _of_file(content: bytes) -> Iterator[Problem]:
    if not content:
        yield Problem("content", "The file is empty. Choose the file again.")
    elif len(content) > LARGEST:
        yield Problem("content", f"The file has more than {LARGEST // 1024 // 1024} MiB: one file holds one cycle.")


def _newest(load, clinic, unit) -> Load:
    """The version in force of the load. Raises Refused for one of elsewhere or entered in error."""
    if load.clinic_id != clinic.pk or load.unit_id != unit.pk:
        raise Refused([Problem("load", "That load is not one of this unit's. Open the page of its own.")])
    if Voiding.objects.filter(target=load.origin).exists():
        raise Refused([Problem("load", "That load was entered in error, so no file is brought to it.")])
    return Load.objects.newest().select_related("unit").get(origin=load.origin)


def _placed(fields: dict, on: date | None, load: Load | None) -> Iterator[Problem]:
    """Without a load that somebody names the file itself must say which cycle of which unit it is, and when."""
    if load is not None:
        return
    missing = [name for name in ("serial", "cycle_number") if not fields[name]]
    missing += [] if on else ["started"]
    if missing:
        words = ", ".join("cycle" if name == "cycle_number" else name for name in missing)
        yield Problem("content", f"The file does not say its {words}. Bring it in on the page of its load.")


def _of_another_unit(clinic, unit, sha256: str) -> Iterator[Problem]:
    rows = CycleRecording.objects.in_force().filter(clinic=clinic, sha256=sha256).exclude(unit=unit)
    other = rows.select_related("unit", "entry").first()
    if other is not None:
        yield Problem(
            "content",
            f"This file is on record for {other.unit.label} (entry {other.entry.number}); a cycle is of one unit. "
            "If that was the wrong one, enter it there as entered in error, then bring it in here.",
        )


def contradictions(unit, load: Load | None, fields: Mapping[str, str], on: date) -> Iterator[Problem]:
    """Where the file says otherwise than the plate of the unit and the load; what it leaves out contradicts nothing.

    Serials and programs are compared without capitals and blanks, cycle numbers as one cycle is named.
    """
    told = []
    if fields["serial"] and unit.serial and plain(fields["serial"]) != plain(unit.serial):
        told.append(f"it says serial {fields['serial']}, the plate of {unit.label} {unit.serial}")
    if load is not None:
        number = fields["cycle_number"]
        if number and load.cycle_number and not numbers.same(number, load.cycle_number):
            told.append(f"it says cycle {number}, the load is of cycle {load.cycle_number}")
        if on != load.happened_on:
            told.append(f"it began on {on}, the load is of {load.happened_on}")
        if fields["program"] and load.program and plain(fields["program"]) != plain(load.program):
            told.append(f"it says program “{fields['program']}”, the load “{load.program}”")
    if told:
        yield Problem(
            "content",
            f"File and record contradict each other: {'; '.join(told)}. Bring it to its load, or correct what is "
            "wrong on record. If it is the file of this load all the same, confirm it; it is recorded and "
            "flagged, and it proves nothing.",
            confirm=DIFFERS,
        )


def plain(words: str) -> str:
    """As serials and programs are compared: without capitals and blanks."""
    return "".join(words.split()).casefold()


def _about_new(unit, fields: dict, on: date, at: datetime | None) -> Iterable[Problem]:
    tests = AirRemovalTest.objects.in_force().filter(unit=unit, happened_on=on).exclude(cycle_number="")
    if any(numbers.same(test.cycle_number, fields["cycle_number"]) for test in tests):
        said = (
            f"Cycle {fields['cycle_number']} of {on} is an air-removal test on record, and no load: it is not taken."
        )
        yield Problem("content", f"{said} If it held goods, log the load, then bring the file in on its page.")
    yield from row_rules.load(fields.get)
    yield from numbers.problems(unit, fields["cycle_number"], on, at)


def _made(s, fields: dict, common: dict, who) -> Load:
    """The load of a cycle that nobody logged: its file says that it ran, and nothing of what it held."""
    told = {"cycle_number": fields["cycle_number"], "program": fields["program"] or "not said"}
    return s.add(Load(run_by=who, **told, **common))
