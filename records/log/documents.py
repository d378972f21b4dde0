"""Papers on file: the bytes first, then the fact that names their hash."""

from __future__ import annotations

from records import blobs, papers_check
from records.models import Document

from . import checks, row_rules
from .errors import Problem
from .submission import submission


def log_document(
    *, by, request_key, clinic, kind, title, valid_from, content: bytes, filename, valid_to=None, unit=None, on=None
):  # fmt: skip
    """File a paper. `valid_to` is its last valid day, None when it states none.

    A file that is too large, damaged, locked or does something by itself is refused, see `records.papers_check`.
    """
    rights = checks.rights_or_refuse(by, clinic)
    zone = checks.zone_of(clinic)
    on = on or valid_from
    problems = [
        *checks.not_in_future("valid_from", on, None, zone),
        *row_rules.document({"valid_from": valid_from, "valid_to": valid_to}.get),
    ]
    if unit is not None:
        problems += checks.unit_of_clinic("unit", unit, clinic)
    if not content:
        problems.append(Problem("content", "The file is empty. Choose the file again."))
    elif len(content) > papers_check.LIMIT_BYTES:
        too_large = f"The file is larger than {papers_check.LIMIT_MIB} MiB. Scan it at a lower resolution."
        problems.append(Problem("content", too_large))
    elif message := papers_check.examine(content, filename).message:
        problems.append(Problem("content", message))
    checks.stop_on(problems)
    sha256 = blobs.store(clinic, content)
    fields = {"unit": unit, "kind": kind, "title": title, "valid_from": valid_from, "valid_to": valid_to}
    fields |= {"filename": filename, "size": len(content), "sha256": sha256}
    with submission(clinic, by, request_key, "document", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(Document)
        return s.add(Document(clinic=clinic, happened_on=on, zone=zone, **fields))
