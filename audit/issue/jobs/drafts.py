"""Drafts of binders: files that are kept for a while beside the record, and then swept.

A draft is neither signed nor entered as issued, so nothing rests on it: whoever wants it again has it made again. Its
file lies in the folder `drafts` of the data folder, by its job and its SHA-256; no backup holds it.
"""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

from django.conf import settings

from audit.issue.files import NotWritten, write_whole
from audit.models import BinderJob
from records import clock

_NOT_WRITTEN = "Ask whoever looks after this site to look at the disk of the data folder, then make the draft again."
# The page of a draft still says what became of it for so long.
ROWS_KEPT = timedelta(days=7)


class DraftGone(Exception):
    """The file of the draft is not to be had: the message says why and the way out."""


def kept_for() -> timedelta:
    """How long the file of a draft is kept."""
    return timedelta(hours=settings.DRAFT_HOURS)


def digest_of(content: bytes) -> str:
    """The SHA-256 of the file, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def _folder() -> Path:
    return Path(settings.DATA_DIR) / "drafts"


def _path(job: BinderJob, sha256: str) -> Path:
    return _folder() / f"{job.ref}-{sha256}.pdf"


def keep(job: BinderJob, content: bytes) -> None:
    """Keep the file of a draft, whole or not at all. Raises NotWritten.

    Two workers that both take themselves for the one that has the job write two files, or the same one.
    """
    try:
        _folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise NotWritten(f"“{_folder()}” cannot be written: {error.strerror}. {_NOT_WRITTEN}") from None
    write_whole(_path(job, digest_of(content)), content, _NOT_WRITTEN)


def read(job: BinderJob) -> bytes:
    """The file of a draft that is done. Raises DraftGone when its time is over, and when it is missing or altered."""
    sha256 = job.made.get("sha256", "")
    try:
        content = _path(job, sha256).read_bytes()
    except OSError:
        content = None
    if is_over(job) or content is None:
        hours = f"{settings.DRAFT_HOURS:g} hour{'' if settings.DRAFT_HOURS == 1 else 's'}"
        raise DraftGone(f"A draft is kept for {hours}, and the file of this one is gone. Make the draft again.")
    if digest_of(content) != sha256:
        raise DraftGone("The file of this draft is not the one that was made. Make the draft again.")
    return content


def is_over(job: BinderJob) -> bool:
    """Whether the time is over for which the file of a draft is kept."""
    return job.ended_at is not None and clock.now() >= job.ended_at + kept_for()


def sweep() -> int:
    """Remove the files whose time is over, also what a worker that was ended left half written; how many.

    Of drafts asked for more than `ROWS_KEPT` ago the jobs go as well, unless one still waits or is being made.
    """
    old, swept = (clock.real() - kept_for()).timestamp(), 0
    for file in _folder().glob("*") if _folder().is_dir() else ():
        try:
            if file.stat().st_mtime <= old:
                file.unlink()
                swept += 1
        except FileNotFoundError:
            pass  # another worker swept it
    over = BinderJob.objects.filter(draft=True, state__in=(BinderJob.State.DONE, BinderJob.State.FAILED))
    over.filter(asked_at__lt=clock.now() - ROWS_KEPT).delete()
    return swept
