"""On SQLite whoever wants to write waits in line: for the lock of a file beside it, which is given in order.

SQLite's own waiting is a lottery: each waiter asks now and then, and with fifty of them one may lose for a minute.
Here only the first in line asks; it leaves when its turn to write has come, or when SQLite refuses. A process
that is ended leaves it too.
"""

from __future__ import annotations

import fcntl
from pathlib import Path

from django.db.backends.signals import connection_created


def begin_in_turn(execute, sql, params, many, context):
    """Around every statement of a connection; only the one that begins a writing transaction waits in line."""
    if not sql.startswith("BEGIN IMMEDIATE"):
        return execute(sql, params, many, context)
    try:
        line = open(f"{context['connection'].settings_dict['NAME']}.turn", "a")
    except OSError:  # a folder that may only be read: SQLite itself says what is the matter
        return execute(sql, params, many, context)
    with line:
        fcntl.flock(line, fcntl.LOCK_EX)
        return execute(sql, params, many, context)


def stand_in_line(sender, connection, **kwargs) -> None:
    """Let a new connection to a database file wait in turn."""
    if connection.vendor == "sqlite" and Path(str(connection.settings_dict["NAME"])).is_absolute():
        if begin_in_turn not in connection.execute_wrappers:
            connection.execute_wrappers.append(begin_in_turn)


def install() -> None:
    """For every connection that is opened from now on."""
    connection_created.connect(stand_in_line, dispatch_uid="records.in_turn")
