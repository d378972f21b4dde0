"""Advice on whether a unit may be used, and photos."""

from __future__ import annotations

from records.files import blobs
from records.models import Advice, Photo

from . import may_be_logged
from .errors import Problem
from .submission import submission

LARGEST_PHOTO = 2 * 1024 * 1024


def log_advice(
    *, by, request_key, clinic, unit, on, how, question, answer, reason, told, asked_by="", at=None, written_at=None
) -> Advice:  # fmt: skip
    """What was asked of a unit, the answer that the page showed then, and what was advised."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *may_be_logged.unit_of_clinic("unit", unit, clinic)]
    for name, value, what in (("question", question, "what was asked"), ("told", told, "what you advised")):
        if not (value or "").strip():
            problems.append(Problem(name, f"Say {what}, in a few words."))
    may_be_logged.stop_on(problems)
    fields = {
        "asked_by": asked_by,
        "how": how,
        "question": question,
        "answer": answer,
        "reason": reason,
        "told": told,
    }
    inputs = {"unit": unit, "on": on, "at": at, **fields}
    with submission(clinic, by, request_key, "advice", inputs, logged_for=rights.company, written_at=written_at) as s:
        if s.repeated:
            return s.first(Advice)
        return s.add(Advice(clinic=clinic, unit=unit, happened_on=on, happened_at=at, zone=zone, **fields))


def log_photo(
    *, by, request_key, clinic, unit, on, caption, content: bytes, width, height, about=None, at=None, written_at=None
) -> Photo:  # fmt: skip
    """Keep a photo that was made again already (see `records.files.photos`): a JPEG of 2 MiB at most."""
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    problems = [*may_be_logged.not_in_future("on", on, at, zone), *may_be_logged.unit_of_clinic("unit", unit, clinic)]
    if not (caption or "").strip():
        problems.append(Problem("caption", "Say what the photo shows, in a few words."))
    if not content.startswith(b"\xff\xd8\xff") or len(content) > LARGEST_PHOTO:
        problems.append(Problem("content", "The photo is not a JPEG of 2 MiB at most. Take it again."))
    may_be_logged.stop_on(problems)
    sha256 = blobs.store(clinic, content)
    fields = {"about": about, "caption": caption, "width": width, "height": height, "size": len(content)}
    inputs = {"unit": unit, "on": on, "at": at, "sha256": sha256, **fields}
    with submission(clinic, by, request_key, "photo", inputs, logged_for=rights.company, written_at=written_at) as s:
        if s.repeated:
            return s.first(Photo)
        row = Photo(clinic=clinic, unit=unit, happened_on=on, happened_at=at, zone=zone, sha256=sha256, **fields)
        return s.add(row)
