"""How often a JPEG has its decoder go over the whole picture, counted before anything is decoded.

A progressive JPEG (ITU-T T.81, annex G) is sent in scans, and each may touch every pixel again. A real one has about
ten. A small file may name thousands, which keeps a decoder busy for minutes.
"""

from __future__ import annotations

import re

MOST_SCANS = 50
MOST_PASSES = 600_000_000  # pixels times scans: what the largest picture that is taken needs with a dozen scans
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9
_BARE = (0x01, *range(0xD0, 0xD9))  # markers without a length: TEM, RST0 to RST7, SOI (T.81, table B.1)
# Inside a scan 0xFF is followed by 0 or by a restart marker; any other marker ends it (T.81, B.1.1.2 and B.1.1.5).
_NEXT = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


def scans_in(content: bytes) -> int:
    """The scans of a JPEG file. Never raises; of a damaged one those up to the damage."""
    found, at = 0, 2
    while True:
        marker = _NEXT.search(content, at)
        if marker is None:
            return found
        kind, at = content[marker.end() - 1], marker.end()
        if kind == _END_OF_IMAGE:
            return found
        if kind in _BARE:
            continue
        found += kind == _START_OF_SCAN
        at += max(2, int.from_bytes(content[at : at + 2], "big"))


def too_many(content: bytes, pixels: int) -> str:
    """Why a JPEG of so many pixels is not decoded, in words; "" when nothing speaks against it."""
    scans = scans_in(content)
    if scans <= MOST_SCANS and scans * pixels <= MOST_PASSES:
        return ""
    return (
        f"This JPEG picture is packed in {scans} scans over {pixels} pixels, far more than a camera or scanner makes."
    )
