"""Foreign files are opened in a process of their own: whatever one does to its reader, no page and no worker notices.

One process for each process of the server waits with the readers loaded, and makes a copy of itself (`fork`) for each
file. The copy has little memory, little time, no secret in its environment, writes no file, and ends with its answer.
A copy that takes too long, or all the memory it may have, is ended, and the file is refused with the way out.
"""

from __future__ import annotations

import atexit
import json
import os
import select
import signal
import struct
import sys
import time
from dataclasses import asdict

from . import paper_check, photos, table_file
from .beside import ProcessBeside, received, send
from .reader_limits import limit_this_process, write_no_file

SECONDS = 10  # for one file, by the clock
CPU_SECONDS = 8  # and of the processor
WAIT_SECONDS = 10  # for the files of others that this server process is looking at
MEMORY_BYTES = 1024 * 1024 * 1024

TOO_MUCH = f"it takes more than {SECONDS} seconds, or more memory than any paper or photo needs, to open"
# A table of 20,000 rows takes its time: it has a reader of its own, so that no paper waits for it.
TABLE_SECONDS, TABLE_CPU_SECONDS = 60, 40
BUSY = (
    "Other files are being looked at, so this one was not yet. Nothing was recorded; send it once more in a minute."
)


class TooMuch(Exception):
    """The file ended its reader, by the time or the memory it takes."""


class Busy(Exception):
    """The reader had no time for the file."""


def examined(content: bytes, filename: str) -> paper_check.Examined:
    """As `paper_check.examine`, within a bounded time. Never raises, whatever the bytes are."""
    kind = paper_check.media_type(content, filename)
    if kind not in paper_check.SHOWN:
        return paper_check.examine(content, filename)  # nothing is decoded of it
    try:
        said, _ = _THIS.ask("paper", filename, content)
    except Busy:
        return paper_check.Examined(kind, fault=BUSY)
    except TooMuch:
        fault = f"The file was not looked at to its end: {TOO_MUCH}."
        return paper_check.Examined(kind, fault=fault, way_out=paper_check.TAKE_ANEW[kind])
    return paper_check.Examined(**said)


def remade(content: bytes) -> photos.CheckedPhoto:
    """As `photos.remade`, within a bounded time. Raises NotAPhoto, and nothing else."""
    try:
        said, made = _THIS.ask("photo", "", content)
    except Busy:
        raise photos.NotAPhoto(BUSY) from None
    except TooMuch:
        raise photos.NotAPhoto(f"The photo was not opened: {TOO_MUCH}. Take it again with the camera.") from None
    if "refused" in said:
        raise photos.NotAPhoto(said["refused"])
    return photos.CheckedPhoto(made, said["width"], said["height"])


def table_read(content: bytes, filename: str) -> bytes:
    """The sheets of a table as `table_file.packed`, within a bounded time. Raises Unreadable, and nothing else."""
    try:
        said, made = _TABLES.ask("table", filename, content)
    except Busy:
        raise table_file.Unreadable(BUSY) from None
    except TooMuch:
        raise table_file.Unreadable(
            "The table takes more time or memory to open than any of 20,000 rows needs. Save the sheet alone, as CSV."
        ) from None
    if "refused" in said:
        raise table_file.Unreadable(said["refused"])
    return made


# ------------------------------------------------------------------------------------------------- the server's side


class ReaderApart(ProcessBeside):
    """The process that waits with the readers loaded."""

    module = "records.files.apart"

    def ask(self, do: str, filename: str, content: bytes) -> tuple[dict, bytes]:
        """What the reader says of one file, and what it made of it. Raises Busy and TooMuch."""
        if not self._lock.acquire(timeout=WAIT_SECONDS):
            raise Busy
        try:
            said, made = self._asked(json.dumps({"do": do, "filename": filename}).encode(), content)
        finally:
            self._lock.release()
        if "over" in said:
            raise TooMuch
        return said, made

    def _asked(self, words: bytes, content: bytes) -> tuple[dict, bytes]:
        for last in (False, True):
            try:
                process = self._running()
                send(process.stdin, words, content)
                words_back, made = received(process.stdout)
                return json.loads(words_back), made
            except (OSError, EOFError, ValueError):
                self.end()  # it was ended from outside, so the file is not to blame: once more
                if last:
                    return {"over": True}, b""
        raise AssertionError


_THIS, _TABLES = ReaderApart(), ReaderApart()
atexit.register(_THIS.end)
atexit.register(_TABLES.end)


# ------------------------------------------------------------------------------------------------- the reader's side


def _answer(asked: dict, content: bytes) -> tuple[dict, bytes]:
    if asked["do"] == "paper":
        return asdict(paper_check.examine(content, asked["filename"])), b""
    if asked["do"] == "table":
        try:
            return {}, table_file.packed(table_file.read(content, asked["filename"]))
        except table_file.Unreadable as refused:
            return {"refused": str(refused)}, b""
    try:
        made = photos.remade(content)
    except photos.NotAPhoto as refused:
        return {"refused": str(refused)}, b""
    return {"width": made.width, "height": made.height}, made.content


def _in_a_copy(asked: dict, content: bytes) -> tuple[dict, bytes]:
    """The answer of a copy of this process; {"over": True} when it ends without one."""
    reading, writing = os.pipe()
    copy = os.fork()
    if copy == 0:
        _end_with_answer(writing, asked, content)
    os.close(writing)
    try:
        said = _all_of(reading, time.monotonic() + (TABLE_SECONDS if asked["do"] == "table" else SECONDS))
    finally:
        os.close(reading)
        os.kill(copy, signal.SIGKILL)
        os.waitpid(copy, 0)
    (length,) = struct.unpack(">I", said[:4]) if len(said) >= 4 else (0,)
    if not length or len(said) < 4 + length:
        return {"over": True}, b""
    return json.loads(said[4 : 4 + length]), said[4 + length :]


def _end_with_answer(writing: int, asked: dict, content: bytes) -> None:
    """In the copy. Whatever happens, it ends here."""
    try:
        limit_this_process(MEMORY_BYTES, TABLE_CPU_SECONDS if asked["do"] == "table" else CPU_SECONDS)
        write_no_file()
        said, made = _answer(asked, content)
        words = json.dumps(said).encode()
        with os.fdopen(writing, "wb") as out:
            out.write(struct.pack(">I", len(words)) + words + made)
    except BaseException:  # what a library makes of foreign bytes; without an answer it counts as too much
        os._exit(1)
    os._exit(0)


def _all_of(reading: int, until: float) -> bytes:
    """Everything up to the end of the pipe, or what has come by then."""
    found = []
    while (left := until - time.monotonic()) > 0:
        if not select.select([reading], [], [], left)[0]:
            break
        part = os.read(reading, 1 << 16)
        if not part:
            return b"".join(found)
        found.append(part)
    return b""


def main() -> None:
    """One file after the other from standard input to standard output, until the input ends."""
    import pikepdf  # noqa: F401 (loaded once, before the copies are made)
    from PIL import Image

    Image.init()
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever a library prints must not get between
    answer = _in_a_copy if hasattr(os, "fork") else _answer
    while True:
        try:
            words, content = received(sys.stdin.buffer)
        except EOFError:
            return
        send(out, *_as_bytes(*answer(json.loads(words), content)))


def _as_bytes(said: dict, made: bytes) -> tuple[bytes, bytes]:
    return json.dumps(said).encode(), made


if __name__ == "__main__":
    main()
