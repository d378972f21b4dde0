"""How a file goes to the process that reads it, and what is said of it comes back: lengths, words (JSON), bytes."""

from __future__ import annotations

import json
import struct

HEAD = struct.Struct(">II")  # lengths of the words and of the bytes


def send(stream, words: dict, content: bytes) -> None:
    """One request, or one answer."""
    said = json.dumps(words, allow_nan=False).encode()
    stream.write(HEAD.pack(len(said), len(content)) + said)
    stream.write(content)
    stream.flush()


def received(stream) -> tuple[dict, bytes]:
    """The next one. Raises EOFError at the end of the stream."""
    words, content = HEAD.unpack(_exactly(stream, HEAD.size))
    return json.loads(_exactly(stream, words)), _exactly(stream, content)


def _exactly(stream, count: int) -> bytes:
    content = stream.read(count)
    if len(content) < count:
        raise EOFError
    return content
