"""Papers on file: the bytes first, then the fact that names their hash."""

from __future__ import annotations

from records.files import apart, blobs, paper_check
from records.models import Document

from . import may_be_logged, row_rules
from .errors import Problem
from .submission import submission


def log_document(
    *, by, request_key, clinic, kind, title, valid_from, content: bytes, filename, valid_to=None, unit=None, on=None
) -> Document:  # fmt: skip
    """File a paper. `valid_to` is its last valid day, None when it states none.

    A file that is too large, damaged, locked or does something by itself is refused, see `records.files.paper_check`.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic)
    zone = may_be_logged.zone_of(clinic)
    on = on or valid_from
    problems = [
        *may_be_logged.not_in_future("valid_from", on, None, zone),
        *row_rules.document({"valid_from": valid_from, "valid_to": valid_to}.get),
    ]
    if unit is not None:
        problems += may_be_logged.unit_of_clinic("unit", unit, clinic)
    if not content:
        problems.append(Problem("content", "The file is empty. Choose the file again."))
    elif len(content) > paper_check.LIMIT_BYTES:
        too_large = f"The file is larger than {paper_check.LIMIT_MIB} MiB. Scan it at a lower resolution."
        problems.append(Problem("content", too_large))
    elif message := apart.examined(content, filename).message:
        problems.append(Problem("content", message))
    may_be_logged.stop_on(problems)
    sha256 = blobs.store(clinic, content)
    fields = {"unit": unit, "kind": kind, "title": title, "valid_from": valid_from, "valid_to": valid_to}
    fields |= {"filename": filename, "size": len(content), "sha256": sha256}
    with submission(clinic, by, request_key, "document", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(Document)
        return s.add(Document(clinic=clinic, happened_on=on, zone=zone, **fields))
