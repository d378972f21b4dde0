"""A ZIP written from first byte to last, the same bytes for the same contents, with the sum of each member."""

from __future__ import annotations

import hashlib
import re
import unicodedata
import zipfile
from collections.abc import Iterable
from pathlib import Path

_PIECE = 1 << 20
_LONGEST_NAME = 60
# Of no file that is written here: the day says when the record stood so, not when a member was packed.
_DAY = (1980, 1, 1, 0, 0, 0)


class Members:
    """The members of a ZIP as they are written; `sums` says of each its size in bytes and SHA-256."""

    def __init__(self, path: Path):
        self.zip = zipfile.ZipFile(path, "w", allowZip64=True)
        self.sums: dict[str, dict] = {}

    def __enter__(self) -> Members:
        return self

    def __exit__(self, *failed) -> None:
        self.zip.close()

    def put(self, name: str, pieces: Iterable[bytes], *, packed: bool = True) -> None:
        """Write a member piece by piece. `packed` False: as it is, for what is packed already."""
        info = zipfile.ZipInfo(name, _DAY)
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.create_system, info.external_attr = 3, 0o644 << 16  # the same on every system
        summed, size = hashlib.sha256(), 0
        with self.zip.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                summed.update(piece)
                size += len(piece)
                member.write(piece)
        self.sums[name] = {"size": size, "sha256": summed.hexdigest()}

    def put_file(self, name: str, path: Path) -> None:
        """Write a member out of a file."""
        with path.open("rb") as file:
            self.put(name, iter(lambda: file.read(_PIECE), b""))


def safe_name(sha256: str, name: str) -> str:
    """A name of a member that every system can unpack and none takes for a folder or a device; its ending stays."""
    ascii_only = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    stem, dot, ending = re.sub(r"[^A-Za-z0-9._-]+", "-", ascii_only).strip(".-").rpartition(".")
    ending = ending[:8] if dot else ""
    stem = (stem if dot else ending or re.sub(r"[^A-Za-z0-9._-]+", "-", ascii_only)).strip(".-") or "file"
    return f"{sha256[:12]}-{stem[:_LONGEST_NAME]}{f'.{ending}' if ending else ''}"
