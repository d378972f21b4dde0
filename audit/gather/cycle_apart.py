"""Asks the process that reads recorded cycles (`cycle_reader`); it is started with the first file, or when it ended.

A file that ends the process, or takes too long, is told so and takes only that process with it.
"""

from __future__ import annotations

import atexit
import threading
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from audit.facts.recordings import UNREADABLE
from records.files.beside import ProcessBeside

from .cycle_wire import received, send

SECONDS = 20  # for one file, by the clock
WAIT_SECONDS = 30  # for the files of others that this server process is looking at
TOO_MUCH = f"it takes more than {SECONDS} seconds, or more memory than any cycle needs, to read"
BUSY = "Other files are being read, so this one was not yet. Nothing was recorded; send it once more in a minute."


@dataclass(frozen=True, slots=True)
class CycleRead:
    """What was read of a file. `line` and `refused` say why it is none in the form; `lasting`: it would be so again.

    `held` and `least` are texts of decimals, "" without a hold; `whole` holds criteria and picture where asked for.
    """

    verdict: str
    words: str
    profile: str = ""
    held: str = ""
    least: str = ""
    keys: dict[str, str] = field(default_factory=dict)
    started_at: datetime | None = None
    line: int = 0
    refused: str = ""
    lasting: bool = True
    whole: dict | None = None

    @property
    def held_seconds(self) -> Decimal | None:
        """How long it held; None without a hold."""
        return Decimal(self.held) if self.held else None

    @property
    def least_temperature(self) -> Decimal | None:
        """The least of any sensor in the hold in °C; None without one."""
        return Decimal(self.least) if self.least else None


class CycleReaderApart(ProcessBeside):
    """The process that waits with the reader loaded."""

    module = "audit.gather.cycle_reader"
    more = {"OPENBLAS_NUM_THREADS": "1"}

    def ask(self, asked: dict, content: bytes) -> dict:
        """What the reader says. Raises TimeoutError while it is busy, EOFError where the file ended it."""
        if not self._lock.acquire(timeout=WAIT_SECONDS):
            raise TimeoutError
        try:
            process = self._running()
            watch = threading.Timer(SECONDS, process.kill)
            watch.start()
            try:
                send(process.stdin, asked, content)
                return received(process.stdout)[0]
            except (OSError, EOFError, ValueError):
                self.end()
                raise EOFError from None
            finally:
                watch.cancel()
        finally:
            self._lock.release()


_THIS = CycleReaderApart()
atexit.register(_THIS.end)


def read_apart(content: bytes, least: str = "", *, whole: bool = False) -> CycleRead:
    """Read and judge a file. `least`: the least temperature in °C that its program needs, "" where none is on record.

    Never raises, whatever the bytes are.
    """
    try:
        said = _THIS.ask({"least": least, "whole": whole}, content)
    except TimeoutError:
        return CycleRead(UNREADABLE, BUSY, refused=BUSY, lasting=False)
    except EOFError:
        return CycleRead(
            UNREADABLE, TOO_MUCH, refused=f"The file was not read to its end: {TOO_MUCH}.", lasting=False
        )
    if "refused" in said:
        line, words = said["refused"]["line"], said["refused"]["words"]
        where = f"line {line}: {words}" if line else words
        return CycleRead(UNREADABLE, where, line=line, refused=words)
    began = said["started_at"]
    return CycleRead(
        said["verdict"], said["words"], said["profile"], said["held"], said["least"], said["keys"],
        datetime.fromisoformat(began) if began else None, whole=said["whole"],
    )  # fmt: skip
