"""`make_seal_key` and `verify_binder`: what they say and their exit status."""

from __future__ import annotations

import json

import pytest
from django.db import DatabaseError

from audit.issue.seal import keys, verify
from audit.management.commands import make_seal_key
from records import clock
from tests import world as made
from tests.audit.issue.seal import files, test_take

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


@pytest.fixture
def content(seal):
    return files.signed(files.body(files.of_world(made.make())))


def kept(tmp_path, content: bytes):
    path = tmp_path / "binder.pdf"
    path.write_bytes(content)
    return path


def test_a_key_is_made_and_what_it_proves_is_said(command, seal_dir):
    status, out, err = command("make_seal_key", "--name", "First Keepers", "--years", "5")
    assert (status, err) == (0, "")
    assert f"SHA-256 {keys.load_key().fingerprint}" in out
    assert "Certificate of First Keepers" in out and "valid to 2031-03-16" in out
    assert "Nobody else vouches for it" in out
    assert "PRIVATE" not in out


def test_a_second_key_is_refused_without_replace(command, seal):
    status, out, err = command("make_seal_key", "--name", "Second")
    assert (status, out) == (2, "") and "--replace" in err
    status, out, _ = command("make_seal_key", "--name", "Second", "--replace")
    assert status == 0 and seal.fingerprint in keys.known_certificates()


def test_whose_key_it_is_has_to_be_said(command, seal_dir):
    status, _, err = command("make_seal_key")
    assert status == 2 and "--name" in err and "--take" in err
    status, _, err = command("make_seal_key", "--name", "A", "--take", "a.p12")
    assert status == 2 and "Leave out one" in err
    assert not seal_dir.exists()


@pytest.fixture
def own(tmp_path):
    key = test_take.ec.generate_private_key(test_take.ec.SECP256R1())
    path = tmp_path / "own.p12"
    path.write_bytes(test_take.file_of(key, test_take.certificate("Own", key.public_key(), "Own", key)))
    return path


def test_the_organisations_own_key_is_taken_with_its_pass_phrase(command, own, monkeypatch):
    monkeypatch.setenv(make_seal_key.PASS_PHRASE, "wrong")
    status, _, err = command("make_seal_key", "--take", own)
    assert status == 2 and "pass phrase does not open" in err
    monkeypatch.setenv(make_seal_key.PASS_PHRASE, test_take.PASS)
    status, out, _ = command("make_seal_key", "--take", own)
    assert status == 0 and "Certificate of Own" in out


def test_the_pass_phrase_is_asked_for_at_a_terminal(command, own, monkeypatch):
    monkeypatch.delenv(make_seal_key.PASS_PHRASE, raising=False)
    monkeypatch.setattr(make_seal_key.sys.stdin, "isatty", lambda: False, raising=False)
    status, _, err = command("make_seal_key", "--take", own)
    assert status == 2 and make_seal_key.PASS_PHRASE in err
    monkeypatch.setattr(make_seal_key.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(make_seal_key.getpass, "getpass", lambda prompt: test_take.PASS)
    assert command("make_seal_key", "--take", own)[0] == 0


def test_a_file_that_is_not_there_or_far_too_large_is_bad_input(command, tmp_path):
    status, _, err = command("make_seal_key", "--take", tmp_path / "none.p12")
    assert status == 2 and "cannot be read" in err
    status, _, err = command("make_seal_key", "--take", kept(tmp_path, b"x" * (2 << 20)))
    assert status == 2 and "not a PKCS#12 file" in err


def test_a_folder_that_cannot_be_written_is_told(command, settings, tmp_path):
    settings.SEAL_DIR = kept(tmp_path, b"a file where the folder should be")
    status, _, err = command("make_seal_key", "--name", "A")
    assert status == 2 and "cannot be written: Not a directory" in err


def test_an_unaltered_binder_ends_with_0_and_says_all(command, content, tmp_path, seal):
    status, out, err = command("verify_binder", kept(tmp_path, content))
    assert (status, err) == (0, "")
    assert "binder.pdf: UNALTERED. Not one byte differs" in out
    assert f"Issued by {files.ISSUER} on 2026-03-16 at 14:00 UTC: {files.REASON}" in out
    assert seal.fingerprint in out and "does not prove to a stranger" in out
    assert "the records still contain it; 0 entries logged since" in out
    assert "No row that it names was corrected" in out


def test_the_same_as_data(command, content, tmp_path):
    status, out, _ = command("verify_binder", kept(tmp_path, content), "--json")
    said = json.loads(out)
    assert status == 0
    assert (said["word"], said["good"]) == ("unaltered", True)
    assert said["signed"] == {"by": files.ISSUER, "reason": files.REASON, "at": "2026-03-16T14:00:00+00:00"}
    assert [each["since"] for each in said["records"]["ledgers"]] == [0, 0]


@pytest.mark.parametrize("how", ["altered", "stranger", "no pdf"])
def test_altered_and_not_ours_end_with_1(command, content, tmp_path, how):
    other = {
        "altered": lambda: files.flipped(content, 700),
        "stranger": lambda: files.signed(files.body(files.binder()), files.made_elsewhere()),
        "no pdf": lambda: b"hello",
    }[how]()
    status, out, _ = command("verify_binder", kept(tmp_path, other))
    assert status == 1 and ("ALTERED" if how == "altered" else "NOT OURS") in out


def test_an_unaltered_binder_that_the_records_do_not_bear_out_ends_with_1(command, tmp_path, seal):
    status, out, _ = command("verify_binder", kept(tmp_path, files.signed(files.body(files.binder()))))
    assert status == 1 and "UNALTERED" in out and "NO: these records hold no ledger" in out


def test_bad_input_ends_with_2(command, tmp_path, monkeypatch):
    assert command("verify_binder", tmp_path / "none.pdf")[0] == 2
    assert command("verify_binder", tmp_path)[0] == 2
    status, _, err = command("verify_binder", kept(tmp_path, b""))
    assert status == 2 and "is empty" in err
    monkeypatch.setattr("audit.management.commands.verify_binder.LARGEST", 4)
    status, _, err = command("verify_binder", kept(tmp_path, b"%PDF-"))
    assert status == 2 and "more than" in err


def test_certificates_that_cannot_be_read_are_a_fault(command, content, tmp_path, seal_dir, seal):
    (seal_dir / keys.KNOWN / f"{seal.fingerprint}.pem").write_bytes(b"damaged")
    status, out, err = command("verify_binder", kept(tmp_path, content))
    assert (status, out) == (3, "") and "Nothing was checked" in err and "backup" in err


def test_records_that_cannot_be_read_are_a_fault(command, content, tmp_path, monkeypatch):
    def gone(*args, **kwargs):
        raise DatabaseError("no such table")

    monkeypatch.setattr(verify.today, "compare", gone)
    status, _, err = command("verify_binder", kept(tmp_path, content))
    assert status == 3 and "nothing was checked" in err
