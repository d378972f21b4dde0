"""Reads and judges files of recorded cycles in a process of its own: `python -m audit.gather.cycle_reader`.

Pure but for its pipes: a request is words (JSON) and bytes, so is the answer. It ends with its input. Arrays are
loaded here and nowhere else, once for all files.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction

from audit.judge.cycle import NotInForm, RecordedCycle, judge, read_cycle
from audit.judge.cycle.judging import NoProfile, profile_of
from audit.judge.cycle.moments import fraction_of
from audit.judge.cycle.picture import picture_of
from audit.judge.cycle.profile import Profile, load_profile, profile_ids
from audit.judge.cycle.verdict import INCOMPLETE, MET, NOT_MET, UNKNOWN, JudgedCycle
from records.files.reader_limits import limit_this_process, write_no_file

from .cycle_wire import received, send

MEMORY_BYTES = 2 * 1024 * 1024 * 1024
_MOST_WORDS = 400
_THOUSAND = 1000


@dataclass(frozen=True, slots=True)
class _HoldTexts:
    """What the hold measured, as texts of decimals rounded down to thousandths; "" without a hold."""

    seconds: str
    least: str


def answer(asked: dict, content: bytes) -> dict:
    """What is said of one file: `refused` with line and words, or its keys, verdict and words.

    `asked`: `least`, the least temperature in °C that the load's program needs as text, "" where none is on record;
    with `whole` the criteria and what a picture is drawn from come along.
    """
    try:
        cycle = read_cycle(content)
    except NotInForm as error:
        return {"refused": {"line": error.line, "words": error.words}}
    said = {"keys": cycle.keys, "started_at": _started(cycle), "first_line": cycle.first_line}
    profile, problems = _profile(cycle, asked["least"])
    if profile is None:
        words = (
            "neither the file nor the programs of the unit name a profile to hold it against "
            f"(on file: {', '.join(profile_ids())})"
        )
        return said | {"profile": "", "verdict": UNKNOWN, "words": words, "held": "", "least": "", "whole": None}
    judged = judge(cycle, profile, problems)
    held = _held(judged)
    said |= {"profile": profile.id, "verdict": judged.verdict, "words": _words(judged)}
    said |= {"held": held.seconds, "least": held.least}
    return said | {"whole": _whole(cycle, profile, judged) if asked.get("whole") else None}


def _profile(cycle: RecordedCycle, least: str) -> tuple[Profile | None, tuple]:
    """That which the file names, else the one whose band begins where the program of the load says it does."""
    try:
        return profile_of(cycle, None)
    except NoProfile:
        begins = [load_profile(id) for id in profile_ids()] if least else []
        return next((p for p in begins if p.low == Fraction(least)), None), ()


def _started(cycle: RecordedCycle) -> str:
    """The moment at which it began by the file, in UTC to the second; "" where it does not say."""
    if "started" not in cycle.keys:
        return ""
    try:
        seconds = int(fraction_of(cycle.keys["started"]))
        return (datetime(1, 1, 1, tzinfo=UTC) + timedelta(days=-1, seconds=seconds)).isoformat()
    except OverflowError:
        return ""


def _held(judged: JudgedCycle) -> _HoldTexts:
    of = {criterion.id: criterion for criterion in judged.criteria}
    low = of["band-low"].measured
    if low is None:
        return _HoldTexts("", "")
    return _HoldTexts(_text(of["holding-time"].measured), _text(low))


def _text(value: Fraction) -> str:
    whole = Decimal(value.numerator * _THOUSAND // value.denominator) / _THOUSAND
    return f"{whole.quantize(Decimal('0.001'), ROUND_FLOOR).normalize():f}"


def _words(judged: JudgedCycle) -> str:
    """Why it is so: the criteria of that verdict, else what stands among the problems."""
    if judged.verdict == MET:
        return next(c.words for c in judged.criteria if c.id == "holding-time")
    words = [f"{c.id}: {c.words}" for c in judged.criteria if c.verdict == judged.verdict]
    if judged.verdict in (INCOMPLETE, UNKNOWN):
        words += [p.words for p in judged.problems if p.line == 0]
    assert judged.verdict != NOT_MET or words
    said = " ".join(dict.fromkeys(words))
    return said if len(said) <= _MOST_WORDS else said[: _MOST_WORDS - 1] + "…"


def _whole(cycle: RecordedCycle, profile: Profile, judged: JudgedCycle) -> dict:
    return {
        "title": profile.title,
        "edition": profile.edition,
        "judged": judged.as_json(),
        "sources": {
            c.id: str(profile.limits[c.id].source if c.id in profile.limits else profile.band_source)
            for c in judged.criteria
            if c.id in profile.limits or c.id.startswith("band")
        },
        "picture": picture_of(cycle, profile),
    }


def main() -> None:
    """One file after the other from standard input to standard output, until the input ends."""
    limit_this_process(MEMORY_BYTES)
    write_no_file()
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever a library prints must not get between
    while True:
        try:
            asked, content = received(sys.stdin.buffer)
        except EOFError:
            return
        send(out, answer(asked, content), b"")


if __name__ == "__main__":
    main()
