"""Limits on a process that opens files of unknown origin: it ends alone, and the machine does not notice."""

from __future__ import annotations


def limit_this_process(memory: int, seconds: int | None = None) -> None:
    """At most so many bytes of memory, and seconds of processor time where they are given; nothing is left behind.

    Where the system knows no such limits nothing is done: whoever started the process watches the time anyway.
    """
    try:
        import resource
    except ImportError:  # Windows has none
        return
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if seconds is not None:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))


def write_no_file() -> None:
    """This process may write to pipes, and to no file any more."""
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
