"""Papers, photos, recorded cycles and issued binders on disk: each file that a ledger names is there, as filed."""

from __future__ import annotations

from collections.abc import Iterator

from records.files import blobs
from records.ledger.faults import Fault
from records.models import BinderIssue, CycleRecording, Document, Organisation, Photo

HELD = ((Document, "sha256"), (Photo, "sha256"), (CycleRecording, "sha256"), (BinderIssue, "file_sha256"))


def faults(organisation: Organisation) -> Iterator[Fault]:
    """Read every file once, however many rows name it."""
    seen: dict[str, str] = {}
    for model, column in HELD:
        rows = model.objects.filter(entry__ledger__organisation_id=organisation.pk, clinic_id=organisation.pk)
        for ref, digest, number in rows.order_by("pk").values_list("ref", column, "entry__number"):
            if digest not in seen:
                seen[digest] = _wrong(organisation, digest)
            if seen[digest]:
                row = f"{model._meta.verbose_name} {str(ref)[:8]}"
                yield Fault(seen[digest], organisation.name, number, row, column)


def _wrong(organisation: Organisation, digest: str) -> str:
    if not blobs.is_name(digest):
        return "this is not the SHA-256 of a file"
    try:
        blobs.read(organisation, digest)
    except FileNotFoundError:
        return f"its file is missing from disk ({digest[:16]}…)"
    except ValueError:
        return f"its file on disk was altered ({digest[:16]}…)"
    except OSError as error:
        return f"its file cannot be read: {error.strerror} ({digest[:16]}…)"
    return ""
