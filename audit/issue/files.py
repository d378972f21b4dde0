"""A file written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


class NotWritten(Exception):
    """The file cannot be written: the message says why and the way out."""


def write_whole(path: Path, content: bytes, way_out: str) -> None:
    """Write beside the file, then rename: whoever reads `path` finds the old file or the new one, never a part.

    Raises NotWritten when the file cannot be written. `way_out`, a sentence, says what to do then: only the caller
    knows who named the file, and where.
    """
    temporary = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".binder-", delete=False) as file:
            temporary = file.name
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise NotWritten(f"“{path}” cannot be written: {error.strerror}. {way_out}") from None
