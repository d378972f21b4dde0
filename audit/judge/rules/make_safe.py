"""Steps of making a unit safe before work that nobody recorded, or that were not done.

The list is `records.wording.MAKE_SAFE_STEPS`; a job is held to it where it records any of its steps, or none at all.
A record from before the list, with steps of its own, is held to two of them that were always asked, unplugged and
without pressure, and to whatever it says was not done.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from audit.facts import JobFact
from audit.judge.judgement import Finding, Severity
from audit.judge.work.classes import LEFT_ALONE
from audit.judge.work.touched import was_replaced
from audit.regimes.model import WITHOUT_VACUUM
from audit.regimes.source import Source
from records.wording import MAKE_SAFE_IF_FITTED, MAKE_SAFE_STEPS, NOT_ON_THIS_UNIT

from .tools import COMPANY, Judged, day, row_evidence

_TEXTS = {key: text for key, text, _ in MAKE_SAFE_STEPS}
_KEYS = {text: key for key, text, _ in MAKE_SAFE_STEPS}
_SOURCES = {key: source for key, _, source in MAKE_SAFE_STEPS}
_NO_STEP = "plate read"  # a row beside the steps: that the unit is the one on record
_DECLARED = "declared"  # how a clinic's statement about contamination begins
# How records from before the list call the two steps that they are held to.
_BEFORE = {"unplugged": ("unplugged", "locked out"), "zero pressure": ("zero pressure", "without pressure")}
_DONE = re.compile(r"done(,?\s*(at\s+)?\d{1,2}[:.]\d{2})?", re.IGNORECASE)


def check(judged: Judged) -> Iterator[Finding]:
    """One for each job with work done and a step left out or not done. Paper history is taken as it is.

    Setting a unit up asks for no opening.
    """
    for job in judged.unit.jobs:
        if _was_opened(job) and not job.row.paper:
            vacuum = judged.unit.equipment_type not in WITHOUT_VACUUM
            lacking = _lacking(job.make_safe, vacuum, job.contamination.startswith(_DECLARED))
            if lacking:
                yield _finding(job, lacking)


def _was_opened(job: JobFact) -> bool:
    acted = any(f.decision not in LEFT_ALONE for f in job.findings)
    done = acted or any(map(was_replaced, job.parts)) or any(o.outcome == "done" for o in job.outcomes)
    return job.reason != "installation" and (done or bool(job.parts))


@lru_cache(maxsize=512)  # most visits record the same
def _lacking(recorded: tuple[str, ...], vacuum: bool, declared: bool) -> tuple[tuple[str, str], ...]:
    """(key of the step or "", what is to be said of it) of each step left out or answered with anything but done.

    What stands elsewhere needs no row: no vacuum by the type of the unit; the clinic's own statement (`declared`).
    """
    said = [_step(text) for text in recorded]
    said = [(step, answer) for step, answer in said if not step.startswith(_NO_STEP)]
    told = [(_KEYS.get(step, ""), step, answer) for step, answer in said]
    held = {key for key, _, _ in told if key}
    lacking = [(key, f"{step}: {answer or 'no answer'}") for key, step, answer in told if not _answered(key, answer)]
    if told and not held:
        called = " ".join(step for _, step, _ in told).casefold()
        asked = [key for key, words in _BEFORE.items() if not any(word in called for word in words)]
    else:
        elsewhere = {"vacuum": not vacuum, "clean": declared}
        asked = [key for key in _TEXTS if key not in held and not elsewhere.get(key)]
    return (*lacking, *((key, f"{_TEXTS[key]}: not recorded") for key in asked))


def _step(text: str) -> tuple[str, str]:
    """(what, answer): a step is written as "what: answer", and the answer may hold a colon too."""
    for known in _KEYS:
        if text.startswith(f"{known}: "):
            return known, text.removeprefix(f"{known}: ").strip()
    at = text.find(f": {NOT_ON_THIS_UNIT}")
    what, _, answer = (text[:at], "", text[at + 2 :]) if at > 0 else text.rpartition(": ")
    return what.strip().casefold(), answer.strip()


def _answered(key: str, answer: str) -> bool:
    """Whether a step was done, or is none of this unit, with the reason."""
    if _DONE.fullmatch(answer):
        return True
    _, absent, reason = answer.partition(NOT_ON_THIS_UNIT)
    return key in MAKE_SAFE_IF_FITTED and bool(absent) and bool(reason.strip(" :,.;"))


def _finding(job: JobFact, lacking: tuple[tuple[str, str], ...]) -> Finding:
    work = f"work of {day(job.row.happened_on)}"
    first = next((key for key, _ in lacking if key), "")
    citation = _SOURCES.get(first, "common practice, no source")
    return Finding(
        rule="make-safe-not-recorded",
        severity=Severity.PUT_RIGHT,
        since=job.row.happened_on,
        message=f"{work}, made safe before it: {'; '.join(text for _, text in lacking)}",
        way_out="say by an amendment what was done; stop work on a unit that is not made safe, and record each step "
        "as it is done",
        evidence=row_evidence(job, work),
        source=Source(citation, "2026-11-28", "quoted") if citation.startswith("29 CFR") else Source(citation),
        owner=COMPANY,
    )
