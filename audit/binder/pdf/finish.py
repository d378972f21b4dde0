"""The last pass over a drawn binder: pages of papers, attached files, packed objects. Same input, same bytes."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

from audit.binder.pdf.apart import joined, parted


def finished(drawn: bytes, *steps: Callable) -> bytes:
    """The file after each of the steps, which take the open `pikepdf.Pdf`; its structure tree is empty meanwhile."""
    import pikepdf

    parts = parted(drawn)
    out = BytesIO()
    with pikepdf.open(BytesIO(parts.body if parts else drawn)) as pdf:
        for step in steps:
            step(pdf)
        pdf.save(
            out,
            min_version="1.7",
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
        )
    return joined(out.getvalue(), parts) if parts else out.getvalue()
