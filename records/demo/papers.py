"""Small invented papers to file: plain text, so that anybody can look at what was filed."""

from __future__ import annotations

NOTE = "Everything in this paper is invented. It is part of the demo and describes no real equipment."


def paper(title: str, text: str) -> bytes:
    """The bytes of the paper, the same for the same words."""
    lines = [title, "=" * len(title), "", *(line.strip() for line in text.strip().splitlines()), "", NOTE, ""]
    return "\n".join(lines).encode()
