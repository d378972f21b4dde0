"""The first `manage.py demo` of a run of the tests: several look at it, and it takes long."""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
from pathlib import Path
from subprocess import CompletedProcess

from django.conf import settings

from tests.postgresql import folder_of_the_run


def first_run(tmp_path_factory) -> tuple[Path, CompletedProcess]:
    """(data folder, the finished run), by whichever process asks first, in a process of its own on an empty folder.

    What one test adds to the folder the others see: none may change what the demo loaded.
    """
    folder = folder_of_the_run(tmp_path_factory.getbasetemp()) / "first-demo"
    told = folder.with_suffix(".json")
    with open(folder.with_suffix(".lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not told.exists():
            told.write_text(json.dumps(_run(folder)))
    return folder, CompletedProcess(**json.loads(told.read_text()))


def _run(folder: Path) -> dict:
    done = subprocess.run(
        [sys.executable, "manage.py", "demo", "--no-serve"],
        cwd=settings.BASE_DIR,
        env={**os.environ, "STANDING_DATABASE": "sqlite", "STANDING_DATA": str(folder), "PYTHONHASHSEED": "7"},
        capture_output=True,
        text=True,
        timeout=900,
    )
    return {"args": "demo", "returncode": done.returncode, "stdout": done.stdout, "stderr": done.stderr}
