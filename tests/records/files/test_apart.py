"""A foreign file is opened in a process apart: it ends alone, in a bounded time, and the next one is read as ever."""

from __future__ import annotations

import os
import signal
import threading
import time
from io import BytesIO

import pytest
from PIL import Image

from records.files import apart, beside, paper_check, photos, scans
from records.files.paper_check import JPEG, PDF, PNG


def packed(picture, kind="JPEG", **more) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def progressive(wide: int, high: int, more: int) -> bytes:
    """A progressive JPEG whose last scan is sent so many times more."""
    plain = packed(Image.new("RGB", (wide, high), "grey"), progressive=True)
    last = plain.rindex(b"\xff\xda")
    return plain[:-2] + plain[last:-2] * more + b"\xff\xd9"


@pytest.fixture
def reader(monkeypatch):
    """A process of the test's own."""
    one = apart.ReaderApart()
    monkeypatch.setattr(apart, "_THIS", one)
    yield one
    one.end()


def test_what_is_said_apart_is_what_is_said_here():
    papers = {
        "a.jpg": packed(Image.new("RGB", (30, 20), "red")), "a.png": packed(Image.new("L", (9, 9)), "PNG"),
        "a.txt": b"text", "a.pdf": b"%PDF-1.7 damaged", "b.jpg": b"\xff\xd8\xff" + b"\0" * 99, "b.pdf": b"not one",
    }  # fmt: skip
    for name, content in papers.items():
        assert apart.examined(content, name) == paper_check.examine(content, name), name
    photo = packed(Image.effect_noise((2000, 1500), 30).convert("RGB"))
    assert apart.remade(photo) == photos.remade(photo)
    with pytest.raises(photos.NotAPhoto, match="no photo"):
        apart.remade(b"GIF89a" + b"\0" * 40)


def test_scans_are_counted_without_decoding():
    assert scans.scans_in(packed(Image.new("RGB", (64, 64)))) == 1
    real = scans.scans_in(packed(Image.effect_noise((64, 64), 50).convert("RGB"), progressive=True))
    assert 5 < real < 15
    assert scans.scans_in(progressive(64, 64, 300)) == scans.scans_in(progressive(64, 64, 0)) + 300
    # A picture inside the notes of another one, as cameras write them, is no scan of it.
    exif = Image.Exif()
    exif[0x010E] = packed(Image.new("RGB", (64, 64))).decode("latin-1").replace("\0", "0")
    assert scans.scans_in(packed(Image.new("RGB", (64, 64)), exif=exif)) == 1
    for content in (b"", b"\xff\xd8", b"\xff\xd8\xff\xda", b"\xff\xd8\xff\xda\0\0", b"\xff" * 999, os.urandom(5000)):
        scans.scans_in(content)


# Width, height, scans beyond the usual ten, whether it is refused: both sides of both edges.
SCANS = [(64, 64, scans.MOST_SCANS - 10, False), (64, 64, scans.MOST_SCANS - 9, True), (5000, 4800, 30, True)]


@pytest.mark.parametrize(("wide", "high", "more", "refused"), SCANS)
def test_a_picture_of_many_scans_is_refused_before_it_is_decoded(wide, high, more, refused):
    content = progressive(wide, high, more)
    assert scans.scans_in(content) == 10 + more
    begun = time.process_time()
    said = paper_check.examine(content, "a.jpg")
    assert ("scans" in said.fault) == refused and bool(said.way_out) == refused
    if refused:
        assert time.process_time() - begun < 1
        with pytest.raises(photos.NotAPhoto, match="scans.*Take the photo again"):
            photos.remade(content)
    else:
        assert photos.remade(content).width == wide


def test_the_largest_photo_of_a_camera_is_taken():
    """24 million pixels in ten scans: within the passes, and within the time and memory of the process apart."""
    made = apart.remade(progressive(6000, 4000, 0))
    assert (made.width, made.height) == (1600, 1067)


def _replaced(monkeypatch, reader, body: str):
    """The process apart does this instead of looking at a paper."""
    code = f"import os, signal, time\nfrom records.files import apart, paper_check\n{body}\n"
    code += "paper_check.examine = examine\napart.main()\n"
    plain = beside.subprocess.Popen

    def started(command, **more):
        return plain((command[0], "-c", code), **more)

    monkeypatch.setattr(beside.subprocess, "Popen", started)


GOOD = "paper_check.Examined('what is said when nothing holds it back')"
AWAY = [
    f"def examine(content, name):\n    os.kill(os.getpid(), signal.SIGSEGV)\n    return {GOOD}",
    f"def examine(content, name):\n    held = [bytearray(1 << 28) for _ in range(8)]\n    return {GOOD}",
    f"apart.SECONDS = 0.3\ndef examine(content, name):\n    time.sleep(2)\n    return {GOOD}",
    f"apart.CPU_SECONDS = 1\napart.SECONDS = 120\ndef examine(content, name):\n"
    f"    while time.process_time() < 4: pass\n    return {GOOD}",
    f"import tempfile\ndef examine(content, name):\n    with tempfile.TemporaryFile() as file:\n"
    f"        file.write(b'x' * 9999)\n    return {GOOD}",
]


@pytest.mark.parametrize("body", AWAY, ids=["ends", "memory", "clock", "processor", "writes"])
def test_a_file_that_brings_its_reader_down_is_refused_with_the_way_out(monkeypatch, reader, body):
    _replaced(monkeypatch, reader, body)
    said = apart.examined(b"%PDF-1.7 x", "a.pdf")
    assert "was not looked at to its end" in said.fault and said.way_out == paper_check.PRINT_ANEW
    assert said.media_type == PDF
    first = reader._process.pid
    assert apart.examined(b"%PDF-1.7 y", "a.pdf").fault and reader._process.pid == first, "only the copy has ended"


def test_a_reader_that_is_gone_is_started_again(reader):
    picture = packed(Image.new("RGB", (30, 20)))
    assert apart.examined(picture, "a.jpg") == paper_check.Examined(JPEG, pages=1)
    os.kill(reader._process.pid, signal.SIGKILL)
    reader._process.wait()
    assert apart.examined(picture, "a.jpg") == paper_check.Examined(JPEG, pages=1)


def test_who_waits_too_long_is_told_so_and_loses_nothing(monkeypatch, reader):
    monkeypatch.setattr(apart, "WAIT_SECONDS", 0.05)
    held = threading.Event()
    with reader._lock:
        said = apart.examined(packed(Image.new("L", (9, 9)), "PNG"), "a.png")
        with pytest.raises(photos.NotAPhoto, match="send it once more"):
            apart.remade(b"x")
        held.set()
    assert said.media_type == PNG and said.message == apart.BUSY


def test_no_secret_goes_along(monkeypatch, reader):
    monkeypatch.setenv("STANDING_SECRET_KEY", "a secret")
    _replaced(
        monkeypatch, reader,
        "def examine(content, name): return paper_check.Examined(repr(sorted(os.environ)))",
    )  # fmt: skip
    assert "STANDING" not in apart.examined(b"%PDF-1.7 x", "a.pdf").media_type
