"""`manage.py serve` where nothing is set: a clinic's own machine, whose pages only this machine opens.

It is served as a server is, not as a developer's laptop: faults are not shown in full, static files are laid out. The
key is made once and kept in the data folder, readable by its owner alone. Where STANDING_DEBUG or STANDING_SECRET_KEY
is set it is a server, and nothing here applies. No Django: this comes before the settings are read.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import MutableMapping
from pathlib import Path

KEY_FILE = "secret-key"
HERE = "localhost,127.0.0.1,[::1]"


def prepare(environment: MutableMapping[str, str], default: Path, port: str = "8000") -> None:
    """Set what is not set. `default` is the data folder where none is named."""
    if "STANDING_DEBUG" in environment or "STANDING_SECRET_KEY" in environment:
        return
    folder = Path(environment.get("STANDING_DATA", default))
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    environment["STANDING_DEBUG"] = "0"
    environment["STANDING_SECRET_KEY"] = _key(folder / KEY_FILE)
    environment.setdefault("STANDING_HOSTS", HERE)
    environment.setdefault("STANDING_ADDRESS", f"http://localhost:{port}")
    environment.setdefault("STANDING_ORIGINS", environment["STANDING_ADDRESS"])
    # This machine alone opens the pages, and browsers take plain HTTP to localhost for safe.
    environment.setdefault("STANDING_SSL_REDIRECT", "0")
    environment.setdefault("STANDING_HSTS_SECONDS", "0")


def _key(file: Path) -> str:
    """The key in the file, made if it is not there; of two processes that make one at once, one is kept."""
    if not file.exists():
        beside = file.with_name(f"{file.name}.{os.getpid()}")
        with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as out:
            out.write(secrets.token_urlsafe(60))
        try:
            os.link(beside, file)
        except FileExistsError:
            pass
        beside.unlink()
    return file.read_text(encoding="ascii").strip()
