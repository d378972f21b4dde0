"""How a file goes to the process that reads it, and what is said of it comes back: words as JSON, and bytes."""

from __future__ import annotations

import json

from records.files import beside


def send(stream, words: dict, content: bytes) -> None:
    """One request, or one answer."""
    beside.send(stream, json.dumps(words, allow_nan=False).encode(), content)


def received(stream) -> tuple[dict, bytes]:
    """The next one. Raises EOFError at the end of the stream."""
    words, content = beside.received(stream)
    return json.loads(words), content
