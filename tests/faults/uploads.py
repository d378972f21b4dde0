"""Broken and hostile uploads, seeded: `python -m tests.faults.uploads 10000 --seed 1` says what became of them.

Each is a real file with some of its bytes changed, cut off, doubled or made up, or one built to take long. It goes
to the process apart as a paper and as a photo; another thread gives it a good picture now and then, as other people
would, and says how long that took. A traceback, an answer that is neither taken nor refused with a way out, and a
reader that is gone count as faults.
"""

from __future__ import annotations

import argparse
import random
import statistics
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from io import BytesIO

from PIL import Image

from records.files import apart, photos
from records.files.paper_check import Examined
from tests.paper_files import drawn

SECONDS = apart.SECONDS + apart.WAIT_SECONDS + 5  # for one file, whatever it is


def _packed(kind: str, size=(640, 480), **more) -> bytes:
    out = BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(out, kind, **more)
    return out.getvalue()


def samples() -> dict[str, bytes]:
    """A small good file of each kind, by name."""
    return {
        "a.jpg": _packed("JPEG"),
        "b.jpg": _packed("JPEG", progressive=True),
        "c.png": _packed("PNG", size=(200, 150)),
        "d.webp": _packed("WEBP"),
        "e.pdf": drawn(),
    }


def broken(content: bytes, chance: random.Random) -> bytes:
    """The file with something done to it."""
    made = bytearray(content)
    for _ in range(chance.randint(1, 4)):
        if not made:
            break
        at = chance.randrange(len(made))
        match chance.randrange(7):
            case 0:
                made[at] ^= 1 << chance.randrange(8)
            case 1:
                del made[at:]
            case 2:
                del made[at : at + chance.randint(1, 200)]
            case 3:
                made[at:at] = made[at : at + chance.randint(1, 2000)] * chance.randint(1, 20)
            case 4:
                made[at : at + 8] = chance.randbytes(8)
            case 5:  # sizes and counts stand near the head
                near = chance.randrange(min(len(made), 400))
                made[near : near + 2] = b"\xff\xff"
            case 6:
                made += chance.randbytes(chance.randint(1, 3000))
    return bytes(made)


def hostile(chance: random.Random) -> tuple[str, bytes]:
    """One that is built to take long, or much."""
    if chance.random() < 0.5:
        plain = _packed("JPEG", size=(chance.choice((64, 2000)), 1500), progressive=True)
        last = plain.rindex(b"\xff\xda")
        return "scans.jpg", plain[:-2] + plain[last:-2] * chance.randint(20, 400) + b"\xff\xd9"
    out = BytesIO()
    Image.new("1", (chance.randint(3000, 20000), 9000)).save(out, "PNG")
    return "bomb.png", out.getvalue()


@dataclass
class Told:
    """What became of the uploads. `slowest` and `others` in seconds."""

    what: Counter = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest: float = 0.0
    others: list[float] = field(default_factory=list)

    @property
    def p95(self) -> float:
        return statistics.quantiles(self.others, n=20)[-1] if len(self.others) > 1 else 0.0


def _looked_at(name: str, content: bytes, told: Told) -> None:
    begun = time.monotonic()
    said = apart.examined(content, name)
    if not isinstance(said, Examined) or (said.fault and not (said.way_out or said.fault == apart.BUSY)):
        told.faults.append(f"{name}: {said}")
    told.what["paper refused" if said.fault else "paper taken"] += 1
    try:
        apart.remade(content)
        told.what["photo taken"] += 1
    except photos.NotAPhoto:
        told.what["photo refused"] += 1
    told.slowest = max(told.slowest, time.monotonic() - begun)


def run(count: int, seed: int) -> Told:
    """Send so many."""
    told, chance, stop = Told(), random.Random(seed), threading.Event()
    good, every = _packed("JPEG", size=(320, 240)), list(samples().items())

    def somebody_else():
        while not stop.wait(0.2):
            begun = time.monotonic()
            try:
                apart.remade(good)
            except photos.NotAPhoto as refused:
                told.faults.append(f"a good photo was refused: {refused}")
            told.others.append(time.monotonic() - begun)

    other = threading.Thread(target=somebody_else)
    other.start()
    try:
        for n in range(count):
            name, content = hostile(chance) if chance.random() < 0.02 else chance.choice(every)
            content = content if name in ("scans.jpg", "bomb.png") else broken(content, chance)
            try:
                _looked_at(name, content, told)
            except Exception as fault:
                told.faults.append(f"upload {n} of seed {seed}, {name}: {fault!r}")
    finally:
        stop.set()
        other.join()
    return told


def main() -> int:
    """0 when nothing went wrong, else 1."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, nargs="?", default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    begun = time.monotonic()
    told = run(asked.count, asked.seed)
    print(f"{asked.count} uploads of seed {asked.seed} in {time.monotonic() - begun:.0f} s: {dict(told.what)}")
    print(f"slowest {told.slowest:.2f} s; a good photo of somebody else meanwhile: p95 {told.p95:.2f} s")
    print("\n".join(told.faults) or "no fault")
    return 1 if told.faults or told.slowest > SECONDS else 0


if __name__ == "__main__":
    raise SystemExit(main())
