"""Recorded cycles as facts, each with the verdict on its file: judged once, kept, and judged again when it is lost.

What is kept carries the mark of this program and the digest of the code that judged; anything else is judged anew. A
file that is lost or was altered on disk cannot be read, and proves nothing; that is never kept.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path

from django.db import DatabaseError, transaction

from audit import facts as f
from audit.facts.recordings import UNREADABLE
from audit.judge.exposure import program_on
from audit.models import CycleVerdict
from records import models as m
from records.files import blobs

from . import marks
from .cycle_apart import BUSY, TOO_MUCH, CycleRead, read_apart

logger = logging.getLogger(__name__)
AUDIT = Path(__file__).parents[1]
_KEPT = ("verdict", "words", "profile", "held", "least")
_ON_DISK = "its file"  # so begins what may be otherwise once the file is put back
LOST = f"{_ON_DISK} is missing from disk"
ALTERED = f"{_ON_DISK} on disk is not the one that was recorded"


@cache
def judging_digest() -> str:
    """A digest of the code and the profiles that judge recorded cycles."""
    parts = hashlib.sha256()
    own = [p for p in sorted((AUDIT / "judge" / "cycle").rglob("*")) if p.suffix in (".py", ".toml")]
    for path in [*own, Path(__file__).with_name("cycle_reader.py")]:
        parts.update(path.name.encode() + b"\0" + path.read_bytes())
    return parts.hexdigest()


def needed(unit: f.UnitFacts, load: f.LoadFact | None) -> str:
    """The least temperature that the load's program needs, as text; "" where none is on record."""
    program = program_on(unit, load.program, load.row.happened_on) if load is not None else None
    return f"{program.temperature_low:f}" if program and program.temperature_low is not None else ""


def with_recordings(t, units: Iterable[f.UnitFacts]) -> tuple[f.UnitFacts, ...]:
    """The units with their recorded cycles; `t` is what `read` has read. One query more where there are any."""
    rows = t.force[m.CycleRecording]
    if not rows:
        return tuple(units)
    clinic = t.read.clinic
    kept, fresh = _kept(clinic), {}
    by_unit = defaultdict(list)
    for row in rows:
        by_unit[t.origins.get((m.Unit, row.unit_id))].append(row)
    out = []
    for unit in units:
        own = by_unit.get(unit.ref)
        if own:
            loads = {load.row.origin: load for load in unit.loads}
            made = [_fact(t, unit, loads, row, clinic, kept, fresh) for row in own]
            unit = replace(unit, recordings=f.in_order(made))
        out.append(unit)
    keep(clinic, fresh)
    return tuple(out)


def _fact(t, unit, loads: dict, row, clinic, kept: dict, fresh: dict) -> f.CycleRecordingFact:
    origin = t.origins.get((m.Load, row.load_id), "")
    key = (row.sha256, needed(unit, loads.get(origin)))
    said = kept.get(key)
    if said is None:
        read = file_read(clinic, *key)
        said = kept_of(read)
        if read.lasting:
            kept[key] = fresh[key] = said
    return f.CycleRecordingFact(
        t.read.row(row), load=origin, how=row.how, filename=row.filename, sha256=row.sha256, serial=row.serial,
        cycle_number=row.cycle_number, program=row.program, started=row.started, logger=row.logger,
        profile=said["profile"], verdict=said["verdict"], words=said["words"], held_seconds=_number(said["held"]),
        least_temperature=_number(said["least"]),
    )  # fmt: skip


def _number(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def file_read(clinic: m.Clinic, sha256: str, least: str, *, whole: bool = False) -> CycleRead:
    """Read and judge a file that is on record; what is lost or altered on disk cannot be read."""
    try:
        content = blobs.read(clinic, sha256)
    except FileNotFoundError:
        return CycleRead(UNREADABLE, LOST, refused=LOST, lasting=False)
    except ValueError:
        return CycleRead(UNREADABLE, ALTERED, refused=ALTERED, lasting=False)
    except OSError as error:
        words = f"{_ON_DISK} cannot be read: {error.strerror}"
        return CycleRead(UNREADABLE, words, refused=words, lasting=False)
    return read_apart(content, least, whole=whole)


def unread(facts: f.ClinicFacts) -> bool:
    """Whether a file of a recorded cycle could not be read this time: such facts are not kept."""
    return any(
        each.verdict == UNREADABLE and (each.words in (BUSY, TOO_MUCH) or each.words.startswith(_ON_DISK))
        for unit in facts.units
        for each in unit.recordings
    )


# ------------------------------------------------------------------------------------------------ what is kept


def kept_of(read: CycleRead) -> dict[str, str]:
    """Of what was read what is kept."""
    return {name: getattr(read, name) for name in _KEPT}


def _kept(clinic: m.Clinic) -> dict[tuple[str, str], dict]:
    rows = CycleVerdict.objects.filter(clinic=clinic, program=judging_digest())
    found = rows.values_list("sha256", "least", "said", "mark").iterator()
    return {
        (sha256, least): said
        for sha256, least, said, mark in found
        if marks.fits(bytes(mark), "cycle", *_parts(clinic, sha256, least, said))
    }


def _parts(clinic: m.Clinic, sha256: str, least: str, said: dict) -> tuple[bytes, ...]:
    told = json.dumps(said, sort_keys=True)
    return tuple(text.encode() for text in (str(clinic.pk), sha256, least, judging_digest(), told))


def keep(clinic: m.Clinic, fresh: dict[tuple[str, str], dict]) -> None:
    """Keep verdicts by hash and need. A page is never lost because they could not be kept."""
    rows = [
        CycleVerdict(
            clinic=clinic, sha256=sha256, least=least, program=judging_digest(), said=said,
            mark=marks.mark("cycle", *_parts(clinic, sha256, least, said)),
        )
        for (sha256, least), said in fresh.items()
    ]  # fmt: skip
    if not rows:
        return
    try:
        with transaction.atomic():
            CycleVerdict.objects.bulk_create(
                rows, update_conflicts=True, unique_fields=["clinic", "sha256", "least"],
                update_fields=["program", "said", "mark"], batch_size=200,
            )  # fmt: skip
    except DatabaseError:
        logger.warning("The verdicts on recorded cycles of %s could not be kept.", clinic.slug, exc_info=True)
