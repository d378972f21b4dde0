"""Opening papers in a process of its own: a file that brings the reader down takes only that process with it.

One process opens one paper after the other and is started again when it ends before its answer or takes too long. It
is also what makes this safe to call from several threads, which the reader itself is not.
"""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import threading
from dataclasses import asdict
from pathlib import Path

from audit.binder.attached import ShownPage
from records.files.paper_check import PRINT_ANEW, Examined, media_type
from records.files.reader_limits import limit_this_process

from .limits import MEMORY_BYTES, SECONDS
from .prepare import Prepared, prepared

_HEAD = struct.Struct(">III")  # lengths of the words and of the bytes, and how many pages at most
_ROOT = Path(__file__).parents[3]


class Apart:
    """`with Apart() as reader: reader.prepared(...)`. The process starts with the first paper."""

    command = (sys.executable, "-m", "audit.issue.papers.apart")

    def __init__(self, seconds: float = SECONDS) -> None:
        self.seconds = seconds
        self.process: subprocess.Popen | None = None

    def __enter__(self) -> Apart:
        return self

    def __exit__(self, *_) -> None:
        self._end()

    def _start(self) -> subprocess.Popen:
        if self.process is None:
            path = os.pathsep.join(filter(None, (str(_ROOT), os.environ.get("PYTHONPATH"))))
            self.process = subprocess.Popen(
                self.command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=os.environ | {"PYTHONPATH": path},
            )
        return self.process

    def _end(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None

    def prepared(self, content: bytes, filename: str, most: int) -> Prepared:
        """As `prepare.prepared`; a file that ends the process, or takes longer than `seconds`, has a fault too."""
        try:
            return self._asked(content, filename, most)
        except (OSError, EOFError, ValueError):
            self._end()
            fault = f"The file cannot be opened in {self.seconds:.0f} s with the memory there is."
            return Prepared(Examined(media_type(content, filename), fault=fault, way_out=PRINT_ANEW))

    def _asked(self, content: bytes, filename: str, most: int) -> Prepared:
        process = self._start()
        watch = threading.Timer(self.seconds, process.kill)
        watch.start()
        try:
            _send(process.stdin, filename.encode(errors="replace"), content, most)
            words, sheets, _ = _received(process.stdout)
        finally:
            watch.cancel()
        return _read(json.loads(words), sheets)


def _send(stream, words: bytes, content: bytes, most: int) -> None:
    stream.write(_HEAD.pack(len(words), len(content), most))
    stream.write(words)
    stream.write(content)
    stream.flush()


def _received(stream) -> tuple[bytes, bytes, int]:
    words, content, most = _HEAD.unpack(_exactly(stream, _HEAD.size))
    return _exactly(stream, words), _exactly(stream, content), most


def _exactly(stream, count: int) -> bytes:
    content = stream.read(count)
    if len(content) < count:
        raise EOFError
    return content


def _read(said: dict, sheets: bytes) -> Prepared:
    pages = tuple(ShownPage(**page) for page in said["pages"])
    return Prepared(Examined(**said["examined"]), sheets, pages, said["unshown"])


def main() -> None:
    """One paper after the other from standard input to standard output, until the input ends."""
    limit_this_process(MEMORY_BYTES)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever a library prints must not get between
    while True:
        try:
            filename, content, most = _received(sys.stdin.buffer)
        except EOFError:
            return
        made = prepared(content, filename.decode(), most)
        said = {"examined": asdict(made.examined), "pages": [asdict(p) for p in made.pages], "unshown": made.unshown}
        _send(out, json.dumps(said).encode(), made.sheets, 0)


if __name__ == "__main__":
    main()
