"""A worker in a process of its own on a test's database.

`python -m tests.audit.issue.jobs.process DATABASE DIE_AT …`

The rest are arguments of `manage.py make_binders`. With DIE_AT above 0 it ends without warning at that telling of
progress, with the short name of a clinic at each telling of its binder. Tests use `start` and `command`.
"""

from __future__ import annotations

import os
import signal
import sys

from tests import started

# After so many seconds without a sign of life a worker counts as gone: several beats, and not long to wait in a test.
SILENCE = 8.0


def command(*args, die_at: int | str = 0) -> list[str]:
    """The command line of a worker on the database of the running test."""
    return started.words(_arguments(*args, die_at=die_at))


def _arguments(*args, die_at: int | str) -> list[str]:
    from django.db import connection

    from tests.world import NOW

    return [
        "-m",
        "tests.audit.issue.jobs.process",
        str(connection.settings_dict["NAME"]),
        str(die_at),
        f"--stand-at={NOW.isoformat()}",
        *args,
    ]


def environment() -> dict[str, str]:
    """That of a worker in the folders of the running test."""
    from django.conf import settings

    return {
        "DJANGO_SETTINGS_MODULE": "audit.site.settings",
        "STANDING_DATA": str(settings.DATA_DIR),
        "STANDING_BINDER_SILENCE": str(SILENCE),
    }


def start(*args, die_at: int | str = 0) -> started.Process:
    """Start a worker on the database and in the folders of the running test."""
    return started.Process(_arguments(*args, die_at=die_at), env={**os.environ, **environment()})


def said(process: started.Process) -> str:
    """What the worker said. Fails with its error output when it did not end well."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    return out


# ------------------------------------------------------------------------------------------- inside the process


def _die_at(when: str) -> None:
    """End without warning, as a machine that loses its power does, at the so-manieth telling of progress.

    Or at the first telling of a clinic's binder.
    """
    from audit.issue.jobs import queue

    plain, told = queue.tell_progress, 0

    def tell_progress(job, *args):
        nonlocal told
        told += 1
        if str(told) == when or job.clinic.slug == when:
            os.kill(os.getpid(), signal.SIGKILL)
        return plain(job, *args)

    queue.tell_progress = tell_progress


if __name__ == "__main__":
    database, die_at, *rest = sys.argv[1:]

    import django
    from django.conf import settings

    settings.DATABASES["default"]["NAME"] = database
    django.setup()

    from django.core.management import call_command

    _die_at(die_at)
    call_command("make_binders", *rest)
