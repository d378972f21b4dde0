"""Small binders for tests of the seal: three pages, the contents and manifest attached, signed when asked."""

from __future__ import annotations

import io
import subprocess
from dataclasses import replace
from datetime import UTC, date, datetime

import pikepdf
from reportlab.pdfgen.canvas import Canvas

from audit.binder.sections import Binder, Cell, Column, Paragraph, RulesFollowed, Section, Table
from audit.facts.heads import LedgerHead
from audit.issue.seal import embed, keys, manifest
from audit.issue.seal.sign import sign
from tests import programs

AT = datetime(2026, 3, 16, 14, tzinfo=UTC)
AS_OF = date(2026, 3, 16)
ISSUER = "Ana Coordinator, First Clinic"
REASON = "Binder of First Clinic, 2025-03-16 to 2026-03-16"
HEAD = LedgerHead("6b8e9f5e-0c51-4a58-9d3a-6a3f5f0c2d11", "First Clinic", 12, "a" * 64)
RULES = RulesFollowed(
    "us-dental-cdc-2003", "Dental rules", "2003", date(2003, 12, 19), date(2025, 3, 16), date(2026, 3, 16)
)


def binder(heads=(HEAD,), rows=()) -> Binder:
    """A binder of two sections; `rows` are those it names: (record number, first eight characters of the ref)."""
    column = Column("Record", 1)
    cells = tuple((Cell(name, proof=True),) for name, _ in rows)
    sections = (
        Section("cover", "Cover", 1, (Paragraph("Größe ≥ 2 µm, naïve façade"),)),
        Section("record", "Record", 1, (Table("Rows", (column,), cells),)),
    )
    return Binder(
        title="Sterilizer binder", clinic="First Clinic", period="16 Mar 2025 to 16 Mar 2026",
        from_on=date(2025, 3, 16), to_on=AS_OF, as_of=AS_OF, known_at=None, forbidding=0, sections=sections,
        heads=tuple(heads), rules=(RULES,), named=tuple(rows),
    )  # fmt: skip


def pages(count: int, word: str = "page") -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1)
    for n in range(1, count + 1):
        canvas.drawString(72, 700, f"{word} {n}")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def body(of: Binder, count: int = 3, papers=(), word: str = "page") -> bytes:
    """The unsigned file."""
    contents = manifest.contents_json(of)
    said = manifest.manifest(of, of.heads, of.rules, papers, manifest.program(), contents=contents, pages=count)
    with pikepdf.open(io.BytesIO(pages(count, word))) as pdf:
        embed.embed(pdf, embed.files(said, contents, papers), of.as_of)
        return saved(pdf)


def saved(pdf, **options) -> bytes:
    out = io.BytesIO()
    options = {"object_stream_mode": pikepdf.ObjectStreamMode.generate, "deterministic_id": True} | options
    pdf.save(out, **options)
    return out.getvalue()


def signed(unsigned: bytes, seal=None) -> bytes:
    return sign(unsigned, by=ISSUER, reason=REASON, at=AT, seal=seal)


def made_elsewhere(name: str = "Stranger Works", at: datetime = AT) -> keys.Seal:
    """A key of another installation: never in this one's folder."""
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    return keys.Seal(key, keys._self_signed(name, key, at, 10), ())


def written_anew(content: bytes, change=lambda pdf: None, **options) -> bytes:
    """What an editor of PDF files makes of it."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        change(pdf)
        return saved(pdf, **options)


def appended(content: bytes, pages_more: int = 0) -> bytes:
    """An incremental update after the signature: a page drawn over, or pages added."""
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(content))
    if not pages_more:
        writer.set_info(
            writer.add_object(generic.DictionaryObject({generic.pdf_name("/Title"): generic.pdf_string("x")}))
        )
    tree = writer.root["/Pages"]
    first = tree["/Kids"][0].get_object()
    for _ in range(pages_more):
        copy = generic.DictionaryObject({name: first.raw_get(name) for name in first if name != "/Annots"})
        tree["/Kids"].append(writer.add_object(copy))
    if pages_more:
        tree[generic.pdf_name("/Count")] = generic.NumberObject(len(tree["/Kids"]))
        writer.update_container(tree)
        writer.update_container(tree["/Kids"])
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def flipped(content: bytes, at: int) -> bytes:
    """One bit of the byte at that place is another."""
    return content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]


def poppler(tool: str, *args) -> str:
    """What a tool of poppler says. Where it is missing: skipped, or failed where `.ci/run` asks for it."""
    program = programs.wanted("poppler-utils", tool)
    done = subprocess.run([program, *map(str, args)], capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def heads_moved(of: Binder, **changes) -> Binder:
    return replace(of, heads=tuple(replace(head, **changes) for head in of.heads))


def of_world(world, rows=()) -> Binder:
    """A binder that rests on the ledgers of the first clinic and its company as they stand."""
    from audit.gather.heads import heads
    from audit.gather.read import clinic_facts

    return binder(heads(world.clinic, clinic_facts(world.clinic), AS_OF), rows)


def issued(world, unsigned: bytes, content: bytes):
    """The binder is recorded as issued."""
    import hashlib

    from records import log
    from records.models import Ledger
    from tests import world as made

    return log.log_binder_issue(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, from_on=date(2025, 3, 16),
        to_on=AS_OF, as_of=AS_OF, page="letter", pages=3, body_sha256=hashlib.sha256(unsigned).hexdigest(),
        content=content, certificate=keys.load_key().fingerprint,
        ledger_number=Ledger.objects.get(organisation=world.clinic).number,
    )  # fmt: skip


def signed_again(content: bytes, seal: keys.Seal) -> bytes:
    """An approval signature of somebody else on top of a signed file, which forbids it."""
    from asn1crypto import keys as private
    from asn1crypto import x509
    from cryptography.hazmat.primitives import serialization as s
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import signers

    signer = signers.SimpleSigner(
        signing_cert=x509.Certificate.load(seal.certificate.public_bytes(s.Encoding.DER)),
        signing_key=private.PrivateKeyInfo.load(
            seal.key.private_bytes(s.Encoding.DER, s.PrivateFormat.PKCS8, s.NoEncryption())
        ),
        cert_registry=None,
    )
    from pyhanko.sign.fields import SigFieldSpec, append_signature_field

    writer = IncrementalPdfFileWriter(io.BytesIO(content))
    append_signature_field(writer, SigFieldSpec("Second"))
    meta = signers.PdfSignatureMetadata(field_name="Second", md_algorithm="sha256")
    careless = signers.PdfSigner(meta, signer)
    careless._enforce_certification_constraints = lambda reader: None
    return careless.sign_pdf(writer).getvalue()
