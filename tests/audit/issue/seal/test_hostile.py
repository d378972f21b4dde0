"""Files made to hurt their reader: each gets an answer, within its limits, and none is unaltered."""

from __future__ import annotations

import io
import time
import zlib

import pikepdf
import pytest

from audit.issue.seal import look, signature
from audit.issue.seal.verify import NOT_OURS, UNALTERED, check
from tests.audit.issue.seal import files

pytestmark = pytest.mark.django_db


def xref_loop() -> bytes:
    """Each cross-reference section says that the other one comes before it."""
    head = (
        b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Pages 2 0 R>>\nendobj\n2 0 obj\n<</Type/Pages/Kids[]/Count 0>>\nendobj\n"
    )
    first = len(head)
    table = b"xref\n0 1\n0000000000 65535 f \ntrailer\n<</Size 3/Root 1 0 R/Prev %010d>>\n"
    second = first + len(table % 0)
    return head + table % second + table % first + b"startxref\n%d\n%%%%EOF\n" % second


def page_loop() -> bytes:
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        node = pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.Pages, Kids=pikepdf.Array(), Count=1))
        node.Kids.append(node)
        pdf.Root.Pages.Kids.append(node)
        return files.saved(pdf)


def names_loop() -> bytes:
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        node = pdf.make_indirect(pikepdf.Dictionary(Kids=pikepdf.Array(), Limits=pikepdf.Array(["a", "z"])))
        node.Kids.append(node)
        pdf.Root.Names = pikepdf.Dictionary(EmbeddedFiles=node)
        return files.saved(pdf)


def bomb(name: str = "contents.json") -> bytes:
    """An attached file of more than a gigabyte of zeros, packed twice."""
    packer = zlib.compressobj(9, wbits=-15)
    megabyte = packer.compress(b"\0" * (1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)  # can be repeated as it is
    packed = b"\x78\xda" + megabyte * 1280 + b"\x03\x00"
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, b"x", filename=name)
        stream = pdf.attachments[name].obj.EF.F
        twice = zlib.compress(packed, 9)
        stream.write(twice, filter=pikepdf.Array([pikepdf.Name.FlateDecode, pikepdf.Name.FlateDecode]))
        return files.saved(pdf, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.none)


def deep() -> bytes:
    return b"%PDF-1.7\n1 0 obj\n" + b"[" * 200_000 + b"\nendobj\ntrailer<</Root 1 0 R>>\nstartxref\n0\n%%EOF"


def manifest_of(text: bytes) -> bytes:
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        pdf.attachments["manifest.json"] = pikepdf.AttachedFileSpec(pdf, text, filename="manifest.json")
        return files.saved(pdf)


def signature_of(container: bytes) -> bytes:
    """A file with a signature whose container is anything."""
    hexed = container.hex().upper().encode()
    head = b"%PDF-1.7\n1 0 obj\n<</Type/Sig/Contents "
    tail = b"/ByteRange [0 %010d %010d 0000000000]>>" % (len(head), len(head) + len(hexed) + 2)
    return head + b"<" + hexed + b">" + tail


HOSTILE = {
    "xref loop": xref_loop,
    "page loop": page_loop,
    "names loop": names_loop,
    "deep arrays": deep,
    "manifest of another kind": lambda: manifest_of(b"[1]"),
    "manifest that is no JSON": lambda: manifest_of(b"\xff\xfe{"),
    "manifest of deep JSON": lambda: manifest_of(b"[" * 100_000),
    "manifest with odd parts": lambda: manifest_of(
        b'{"kind": "binder manifest", "pages": "x", "attachments": [1, {"name": ["\\ud800"]}], "ledgers": 7}'
    ),
    "empty container": lambda: signature_of(b""),
    "container of nothing": lambda: signature_of(b"\0" * 100),
    "container that says it is huge": lambda: signature_of(b"\x30\x84\xff\xff\xff\xff" + b"\0" * 50),
    "container of deep sequences": lambda: signature_of(b"\x30\x80" * 30_000),
    "container of sets": lambda: signature_of(b"\x31\x82\xff\xf0" * 8_000),
    "ranges without end": lambda: b"%PDF-1.7\n" + b"/ByteRange [0 5 999999999999 999999999999]" * 50_000,
    "range in a circle": lambda: b"%PDF-1.7\n/ByteRange [0 20 10 5]",
    "many numbers": lambda: b"%PDF-1.7\n/ByteRange [" + b"1" * 1_000_000,
    "only zeros": lambda: b"%PDF-1.7\n" + b"\0" * 5_000_000,
}


@pytest.mark.parametrize("which", HOSTILE)
def test_a_hostile_file_gets_an_answer(which, seal):
    verdict = check(HOSTILE[which]())
    assert verdict.word != UNALTERED
    assert verdict.why.endswith(".") and verdict.why.isprintable()
    assert all(each.encode() for each in verdict.changes)


def test_a_bomb_ends_its_own_process_alone(seal):
    assert look.MEMORY == 1 << 30  # less than what the bomb unpacks to
    verdict = check(bomb())
    assert verdict.word == NOT_OURS
    assert look.TOO_MUCH in verdict.why


def test_a_reader_that_does_not_end_is_ended(monkeypatch):
    """The limit is on the processor's time; the wait of the caller is a little longer."""
    monkeypatch.setattr(look, "SECONDS", -4.99)  # the caller waits five seconds more than that
    started = time.monotonic()
    assert look.look(files.pages(1)).problem == look.TOO_MUCH
    assert time.monotonic() - started < 5


def test_a_reader_that_dies_is_told_as_such(monkeypatch):
    monkeypatch.setattr(look.sys, "executable", "/bin/false")
    assert look.look(files.pages(1)).problem == look.TOO_MUCH


def test_what_cannot_be_seen_is_left_out_of_what_is_shown():
    with pikepdf.open(io.BytesIO(files.pages(1))) as pdf:
        value = pikepdf.Dictionary(Type=pikepdf.Name.Sig, Name=pikepdf.String("A\u202eB\x07"), Contents=b"x")
        pdf.Root.AcroForm = pikepdf.Dictionary(
            Fields=pikepdf.Array([pdf.make_indirect(pikepdf.Dictionary(FT=pikepdf.Name.Sig, V=value, T="s"))])
        )
        (field,) = look.look(files.saved(pdf)).fields
    assert (field.filled, field.by) == (True, "AB")


def test_at_most_eight_signatures_are_looked_at():
    many = b"%PDF-1.7\n" + b"".join(b"/ByteRange [0 5 8 %d]" % n for n in range(500)) + b" " * 600
    assert len(signature.signatures(many)) == signature.MOST_LOOKED_AT
