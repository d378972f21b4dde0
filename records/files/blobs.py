"""Bytes of attached papers, one file a content, under the organisation's folder and named by their SHA-256."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from pathlib import Path

from django.conf import settings

NAME = re.compile(r"[0-9a-f]{64}")


def is_name(text: str) -> bool:
    """Whether a file of ours could be called that: nothing else is ever looked for on disk."""
    return NAME.fullmatch(text) is not None


def _path(organisation, sha256: str) -> Path:
    return Path(settings.BLOBS_DIR) / str(organisation.ref) / sha256


def sha256_of(content: bytes) -> str:
    """The name under which the bytes are kept."""
    return hashlib.sha256(content).hexdigest()


def store(organisation, content: bytes) -> str:
    """Keep the bytes and return their SHA-256. Written beside and renamed, so a crash leaves no half file."""
    sha256 = sha256_of(content)
    path = _path(organisation, sha256)
    if path.exists():
        return sha256
    for folder in (path.parent.parent, path.parent):  # for nobody but the account that runs the program
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(file.name, path)
    return sha256


def holds(organisation, content: bytes) -> bool:
    """Whether a file of that content is kept already."""
    return _path(organisation, hashlib.sha256(content).hexdigest()).exists()


def read(organisation, sha256: str) -> bytes:
    """The bytes. Raises FileNotFoundError when they are lost, ValueError when they are not what was filed."""
    content = _path(organisation, sha256).read_bytes()
    if hashlib.sha256(content).hexdigest() != sha256:
        raise ValueError("The stored file is not the one that was filed: its hash differs.")
    return content
