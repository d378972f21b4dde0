"""What left the record earlier shows what was cut off or rewritten since: statements of heads, stamps, binders."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from django.core import mail
from django.core.management import call_command
from django.db import connection

from audit.issue.seal import against, heads, keys, stamps
from records import clock, log
from records import models as m
from records.ledger import canon, tamper_check, triggers
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path / "blobs"
    with clock.at(build.NOW):
        made = build.make(units=2)
        for day in (2, 9):
            build.spore_test(made, build.TODAY.replace(day=day))
        keys.make_key("Invented Clinics", clock.now())
        yield made


def run(name: str, *args) -> int:
    with pytest.raises(SystemExit) as end:
        call_command(name, *map(str, args))
    return end.value.code


@pytest.fixture
def kept(world, tmp_path):
    """The folder of a statement made now, kept elsewhere."""
    folder = tmp_path / "elsewhere"
    assert run("state_heads", "--to", folder) == 0
    return folder


def cut(organisation, count: int) -> list[int]:
    """The last entries and the head that names them taken away, as whoever owns the database can."""
    ledger = m.Ledger.objects.get(organisation=organisation)
    gone = list(ledger.entries.order_by("-number")[:count])
    last = ledger.entries.get(number=ledger.number - count)
    keys_gone = ", ".join(str(entry.pk) for entry in gone)
    with triggers.lifted(connection), connection.cursor() as cursor:
        for model in m.fact_models():
            cursor.execute(f"DELETE FROM {model._meta.db_table} WHERE entry_id IN ({keys_gone})")
        cursor.execute(f"DELETE FROM records_entry WHERE id IN ({keys_gone})")
    moment = last.logged_at
    m.Ledger.objects.filter(pk=ledger.pk).update(number=last.number, hash=last.hash, logged_at=moment)
    return [entry.number for entry in gone]


def rewrite(organisation, change: str) -> int:
    """A value changed and every hash of the chain computed anew; the number of the first entry that differs."""
    first, previous = None, "0" * 64
    ledger = m.Ledger.objects.select_related("organisation").get(organisation=organisation)
    with triggers.lifted(connection), connection.cursor() as cursor:
        cursor.execute(change)
        for entry in ledger.entries.order_by("number"):
            entry.ledger, entry.previous = ledger, previous
            rows = [row for k in m.fact_models() for row in k.objects.filter(entry=entry)]
            made = canon.hash_of(entry, sorted(rows, key=lambda row: row.line))
            first = first or (entry.number if made != entry.hash else None)
            cursor.execute(
                "UPDATE records_entry SET previous = %s, hash = %s WHERE id = %s", [previous, made, entry.pk]
            )
            previous = made
    m.Ledger.objects.filter(pk=ledger.pk).update(hash=previous)
    return first


def test_the_record_as_it_was_stated_stands(world, kept, capsys):
    build.spore_test(world, build.TODAY, test="")
    assert run("verify_ledger", "--against", kept) == 0
    assert "signed here at 2026-03-16 14:00 UTC, heads of 4 ledgers compared" in capsys.readouterr().out


@pytest.mark.parametrize("count", [1, 3])
def test_the_last_entries_cut_off_with_their_head_are_found(world, kept, capsys, count):
    gone = cut(world.clinic, count)
    assert tamper_check.verify(world.clinic).whole and run("verify_ledger") == 0, "the record alone cannot tell"
    capsys.readouterr()
    assert run("verify_ledger", "--against", kept) == 1
    said = capsys.readouterr().out
    assert f"First Clinic, entry {max(gone)}: it stood here on 2026-03-16" in said and "not there any more" in said
    assert run("verify_ledger", "other", "--against", kept) == 0
    assert run("verify_ledger", "first", "--against", kept) == 1


def test_entries_cut_off_and_others_written_in_their_place_are_found(world, kept, capsys):
    cut(world.clinic, 3)
    for day in (10, 11):
        build.spore_test(world, build.TODAY.replace(day=day))
    assert tamper_check.verify(world.clinic).whole
    assert run("verify_ledger", "--against", kept) == 1
    assert "the ledger was rewritten" in capsys.readouterr().out


def test_a_chain_that_was_computed_anew_is_found(world, kept, capsys):
    changed = rewrite(world.clinic, "UPDATE records_bioreading SET test = 'growth' WHERE id = 1")
    assert changed and tamper_check.verify(world.clinic).whole and run("verify_ledger") == 0
    assert run("verify_ledger", "--against", kept) == 1
    assert "First Clinic, entry" in (said := capsys.readouterr().out) and "the ledger was rewritten" in said


def test_an_organisation_that_is_gone_is_found(world, kept):
    (anchor,) = [against.read(file) for file in heads.statements_in([kept])]
    head = anchor.heads[0]
    m.Organisation.objects.filter(ref=head.organisation).update(ref="11111111-1111-4111-8111-111111111111")
    (fault,) = against.faults([anchor])
    assert fault.organisation == head.name and "no such organisation" in fault.what


# ------------------------------------------------------------------------------------------------ what proves nothing


def change(kept, how: str) -> None:
    (file,) = kept.glob("*.json")
    signed = file.with_suffix(".p7s")
    content = signed.read_bytes()
    if how == "a number in the statement":
        file.write_text(file.read_text().replace('"number": ', '"number": 1', 1))
    elif how == "no signature":
        signed.unlink()
    elif how == "a byte of the signature":
        signed.write_bytes(content[:-5] + bytes([content[-5] ^ 1]) + content[-4:])
    elif how == "no statement":
        file.write_text("[]")
    elif how == "another key":
        for known in (keys.folder() / keys.KNOWN).iterdir():
            known.unlink()


@pytest.mark.parametrize("how", ["a number in the statement", "no signature", "a byte of the signature",
                                 "no statement", "another key"])  # fmt: skip
def test_a_statement_that_proves_nothing_is_named(world, kept, capsys, how):
    change(kept, how)
    assert run("verify_ledger", "--against", kept) == 1
    assert "nothing was compared with it" in capsys.readouterr().out


def test_every_byte_of_statement_and_signature_counts(world, kept):
    (file,) = kept.glob("*.json")
    for part in (file, file.with_suffix(".p7s")):
        content = part.read_bytes()
        for at in range(0, len(content), 7):
            part.write_bytes(content[:at] + bytes([content[at] ^ 4]) + content[at + 1 :])
            assert against.read(file).problem, f"byte {at} of {part.name}"
        part.write_bytes(content)
    assert against.read(file).problem == ""


def test_bad_input_is_refused(world, tmp_path, capsys):
    assert run("verify_ledger", "--against", tmp_path / "nowhere") == 2
    (tmp_path / "empty").mkdir()
    assert run("verify_ledger", "--against", tmp_path / "empty") == 2
    (keys.folder() / keys.KEY_FILE).unlink()
    assert run("state_heads", "--to", tmp_path / "out") == 2
    assert "no seal key" in capsys.readouterr().err and not (tmp_path / "out").exists()


def test_a_ledger_that_does_not_add_up_is_named_and_not_stated(world, tmp_path, capsys):
    m.Ledger.objects.filter(organisation=world.other_clinic).update(hash="1" * 64)
    assert run("state_heads", "--to", tmp_path / "out") == 1
    assert "Not stated: Other Clinic" in capsys.readouterr().err
    (anchor,) = [against.read(file) for file in heads.statements_in([tmp_path / "out"])]
    assert "Other Clinic" not in {head.name for head in anchor.heads} and len(anchor.heads) == 3


def test_a_statement_is_never_written_over_and_is_mailed(world, kept, capsys):
    assert run("state_heads", "--to", kept) == 2
    with clock.at(build.NOW + timedelta(days=1)):
        assert run("state_heads", "--to", kept, "--mail", "keeper@example.org") == 0
    assert len(list(kept.glob("*.json"))) == 2
    (sent,) = mail.outbox
    assert sent.to == ["keeper@example.org"] and [a[0][-4:] for a in sent.attachments] == ["json", ".p7s"]


def test_openings_of_links_of_days_that_are_over_are_entered_first(world, tmp_path):
    from tests.records.one_of_each import binder_issued

    link = log.log_inspector_link(
        by=world.people["coordinator"], request_key=build.key(), issue=binder_issued(world),
        for_whom="Invented Board", expires_on=build.TODAY, token="secret",
    )  # fmt: skip
    for _ in range(4):
        log.log_link_opening(request_key=build.key(), link=link, what="binder")
    with clock.at(build.NOW + timedelta(days=1)):
        assert run("state_heads", "--to", tmp_path / "out") == 0
    assert m.InspectorLinkOpening.objects.latest("id").times == 4


# ------------------------------------------------------------------------------------------------ stamps


class Server(BaseHTTPRequestHandler):
    """A time stamp server of the test's own, with a key of its own."""

    answer = staticmethod(lambda content: content)

    def do_POST(self):
        content = self.answer(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(200)
        self.send_header("Content-Type", "application/timestamp-reply")
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *args):
        pass


def stamper(usage: str = "time_stamping"):
    """The library's own server side, for tests, with a certificate for that use."""
    from asn1crypto import keys as asn1_keys
    from asn1crypto import x509 as asn1_x509
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
    from pyhanko.sign.timestamps.dummy_client import DummyTimeStamper

    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Invented Stamps")])
    use = ExtendedKeyUsageOID.TIME_STAMPING if usage == "time_stamping" else ExtendedKeyUsageOID.CODE_SIGNING
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key()).serial_number(7)
        .not_valid_before(datetime(2026, 1, 1, tzinfo=UTC)).not_valid_after(datetime(2027, 1, 1, tzinfo=UTC))
        .add_extension(x509.ExtendedKeyUsage([use]), critical=True).sign(key, hashes.SHA256())
    )  # fmt: skip
    der = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    certificate = asn1_x509.Certificate.load(made.public_bytes(serialization.Encoding.DER))
    return DummyTimeStamper(certificate, asn1_keys.PrivateKeyInfo.load(der), fixed_dt=build.NOW)


def answering(usage: str = "time_stamping"):
    from asn1crypto import tsp

    made = stamper(usage)
    return lambda content: made.request_tsa_response(tsp.TimeStampReq.load(content)).dump()


@pytest.fixture
def server():
    """Its address; `Server.answer` says what it answers."""
    made = HTTPServer(("127.0.0.1", 0), Server)
    thread = threading.Thread(target=made.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{made.server_port}/"
    made.shutdown()
    thread.join()
    made.server_close()


def test_a_stamp_of_somebody_else_is_asked_for_kept_and_told(world, server, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(Server, "answer", staticmethod(answering()))
    assert run("state_heads", "--to", tmp_path / "out", "--stamp", server) == 0
    assert "Invented Stamps" in capsys.readouterr().out
    cut(world.clinic, 3)
    assert run("verify_ledger", "--against", tmp_path / "out") == 1
    said = capsys.readouterr().out
    assert "stamped 2026-03-16 14:00 UTC by" in said and "Invented Stamps stamped, as heads-" in said


@pytest.mark.parametrize("what", ["nonsense", "for another use", "of other bytes", "nobody there", "no address"])
def test_a_stamp_that_is_worth_nothing_is_refused_and_the_statement_stands(
    world, server, tmp_path, monkeypatch, capsys, what
):
    answers = {"nonsense": lambda content: b"nonsense", "for another use": answering("code signing")}
    if what == "of other bytes":
        first: list[bytes] = []
        honest = answering()
        answers[what] = lambda content: first[0] if first else honest(content)
        asked = b"other bytes"
        first.append(_response_over(asked))
    monkeypatch.setattr(Server, "answer", staticmethod(answers.get(what, lambda content: b"")))
    url = {"nobody there": "http://127.0.0.1:9/", "no address": "file:///etc/hostname"}.get(what, server)
    assert run("state_heads", "--to", tmp_path / "out", "--stamp", url) == 3
    assert "has no time stamp" in capsys.readouterr().err
    assert not list((tmp_path / "out").glob("*.tst")) and run("verify_ledger", "--against", tmp_path / "out") == 0


def _response_over(content: bytes) -> bytes:
    import hashlib

    made = stamper()
    _, asked = made.request_cms(hashlib.sha256(content).digest(), "sha256")
    return made.request_tsa_response(asked).dump()


def test_a_stamp_of_another_statement_proves_nothing(world, kept):
    from asn1crypto import tsp

    (file,) = kept.glob("*.json")
    token = tsp.TimeStampResp.load(_response_over(b"other bytes"))["time_stamp_token"].dump()
    assert stamps.look(token, b"other bytes").problem == ""
    file.with_suffix(".tst").write_bytes(token)
    assert "over other bytes" in against.read(file).problem
    file.with_suffix(".tst").write_bytes(b"broken")
    assert "cannot be read" in against.read(file).problem
