"""A PostgreSQL cluster of a run of the tests: started once, by whichever process asks first, ended with the run."""

from __future__ import annotations

import fcntl
import json
import os
import shutil
import socket
import subprocess
from pathlib import Path

from tests import programs

NOTE = "postgresql.json"  # where it stands, in the folder of the run


def running(tmp_path_factory) -> dict[str, str]:
    """The environment in which it is reached, as a role that may do all. Skips where there is no program."""
    where = Path(programs.wanted("postgresql")).parent
    note = folder_of_the_run(tmp_path_factory.getbasetemp()) / NOTE
    with open(note.with_suffix(".lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not note.exists():
            note.write_text(json.dumps(_started(where)))
    told = json.loads(note.read_text())
    return {"STANDING_DATABASE": "postgresql", "PGHOST": "127.0.0.1", "PGPORT": told["port"], "PGUSER": "standing"}


def ended(folder: Path) -> None:
    """Stop what was started in the run whose folder this is; without a word where nothing was."""
    note = folder / NOTE
    if note.exists():
        told = json.loads(note.read_text())
        try:
            _as_server(Path(told["programs"]) / "pg_ctl", "-D", told["data"], "-m", "immediate", "stop")
        finally:
            shutil.rmtree(told["folder"], ignore_errors=True)
            note.unlink(missing_ok=True)


def folder_of_the_run(base: Path) -> Path:
    """All processes of a run have their folders below the same one."""
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


def _started(where: Path) -> dict[str, str]:
    # Not below pytest's own folder, which only its owner may enter.
    folder = Path(f"/tmp/standing-postgresql-{os.getpid()}")
    folder.mkdir(mode=0o700)
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    port, data = _free_port(), folder / "data"
    quick = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"  # nothing here must outlive the run
    quick += " -c jit=off"  # compiling a query takes longer than any here
    options = f"-p {port} -k {folder} {quick} -c listen_addresses=127.0.0.1"
    try:
        _as_server(
            where / "initdb",
            "-D",
            data,
            "-A",
            "trust",
            "-U",
            "standing",
            "--encoding=UTF8",
            "--locale=C",
            "--no-sync",
        )
        _as_server(where / "pg_ctl", "-D", data, "-o", options, "-l", folder / "log", "-w", "start")
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return {"port": str(port), "data": str(data), "folder": str(folder), "programs": str(where)}


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _as_server(*args) -> None:
    """Run a program of the server: it refuses to run as root, so then as the user that the package made."""
    prefix = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    done = subprocess.run([*prefix, *map(str, args)], cwd="/", capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
