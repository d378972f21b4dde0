"""A process of this program beside this one, which waits to be asked: foreign files are opened in such processes."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import threading
from pathlib import Path

_HEAD = struct.Struct(">II")  # lengths of the words and of the bytes
_ROOT = Path(__file__).parents[2]
_PASSED_ON = ("PATH", "LANG", "LC_ALL", "SYSTEMROOT")  # no secret is in its environment


class ProcessBeside:
    """Runs `module`: started when it is first asked, and again when it is gone. One asks at a time (`_lock`)."""

    module = ""
    more: dict[str, str] = {}  # of its environment

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen | None = None
        self._of = 0  # the process that started it: after a fork of the server each has its own

    def _running(self) -> subprocess.Popen:
        if self._process is not None and (self._of != os.getpid() or self._process.poll() is not None):
            self.end()  # it was ended from outside, or the process that this one was copied from goes on using it
        if self._process is None:
            env = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
            self._process = subprocess.Popen(
                (sys.executable, "-m", self.module),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=_ROOT,
                env=env | self.more,
            )
            self._of = os.getpid()
        return self._process

    def end(self) -> None:
        """End the process, if there is one."""
        if self._process is not None and self._of == os.getpid():
            self._process.kill()
            self._process.communicate()
        self._process = None


def send(stream, words: bytes, content: bytes) -> None:
    """One request, or one answer."""
    stream.write(_HEAD.pack(len(words), len(content)))
    stream.write(words)
    stream.write(content)
    stream.flush()


def received(stream) -> tuple[bytes, bytes]:
    """The next one. Raises EOFError at the end of the stream."""
    words, content = _HEAD.unpack(_exactly(stream, _HEAD.size))
    return _exactly(stream, words), _exactly(stream, content)


def _exactly(stream, count: int) -> bytes:
    content = stream.read(count)
    if len(content) < count:
        raise EOFError
    return content
