"""The key: made by a command only, readable by its owner alone, never overwritten by accident, known for ever."""

from __future__ import annotations

import ast
import stat
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding

from audit.issue.seal import keys
from audit.issue.seal.sign import sign
from tests.audit.issue.seal import files

ROOT = Path(__file__).resolve().parents[4]
MAY_MAKE = {
    "audit/management/commands/make_seal_key.py",
    "audit/management/commands/demo.py",
    "audit/issue/seal/keys.py",
}


def mode(path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_key_is_made_for_its_owner_alone(seal, seal_dir):
    assert mode(seal_dir / keys.KEY_FILE) == 0o600
    assert mode(seal_dir) == mode(seal_dir / keys.KNOWN) == 0o700
    assert sorted(each.name for each in seal_dir.rglob("*") if each.is_file()) == sorted(
        ["seal.pem", f"{seal.fingerprint}.pem"]
    )


def test_it_is_on_p256_with_a_certificate_for_signing_signed_by_itself(seal):
    certificate = seal.certificate
    assert isinstance(seal.key.curve, ec.SECP256R1)
    assert certificate.public_key() == seal.key.public_key()
    certificate.verify_directly_issued_by(certificate)
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage)
    assert usage.critical and usage.value.digital_signature and not usage.value.key_cert_sign
    assert keys.name_in(certificate.subject) == "First Keepers"
    assert certificate.not_valid_before_utc == files.AT
    assert certificate.not_valid_after_utc - files.AT == timedelta(days=3652)  # 10 years of 365.25 days


def test_what_was_made_is_loaded(seal):
    loaded = keys.load_key()
    assert loaded.fingerprint == seal.fingerprint
    assert loaded.key.private_numbers() == seal.key.private_numbers()
    assert "private" not in repr(loaded).lower() and "key=" not in repr(loaded)


def test_a_second_one_is_refused_and_the_first_is_kept(seal):
    with pytest.raises(keys.KeyRefused, match="has a seal key already.*--replace"):
        keys.make_key("Second", files.AT)
    assert keys.load_key().fingerprint == seal.fingerprint


def test_a_replaced_key_is_gone_and_its_certificate_stays_known(seal, seal_dir):
    second = keys.make_key("Second", files.AT, replace=True)
    assert keys.load_key().fingerprint == second.fingerprint
    assert set(keys.known_certificates()) == {seal.fingerprint, second.fingerprint}
    assert mode(seal_dir / keys.KEY_FILE) == 0o600
    assert [p.name for p in seal_dir.iterdir() if p.is_file()] == ["seal.pem"]
    public = (seal_dir / keys.KNOWN / f"{seal.fingerprint}.pem").read_bytes()
    assert b"PRIVATE" not in public and seal.certificate.public_bytes(Encoding.PEM) in public


@pytest.mark.parametrize("name", ["", "   ", "x" * 65, "Ż" * 33, "two\nlines"])
def test_a_name_that_cannot_stand_in_a_certificate_is_refused(name):
    with pytest.raises(keys.KeyRefused, match="1 to 64 characters"):
        keys.make_key(name, files.AT)


@pytest.mark.parametrize("name", ["x" * 64, "Ż" * 32, "诊所"])
def test_a_name_of_any_script_is_taken(name):
    assert keys.name_in(keys.make_key(name, files.AT).certificate.subject) == name


@pytest.mark.parametrize("years", [0, 31])
def test_how_long_it_holds_has_bounds(years):
    with pytest.raises(keys.KeyRefused, match="1 to 30 years"):
        keys.make_key("First", files.AT, years=years)


def test_without_a_key_nothing_is_signed_and_none_is_made(seal_dir):
    with pytest.raises(keys.NoKey, match="make_seal_key --name"):
        sign(files.body(files.binder()), by="Ana", reason="", at=files.AT)
    assert not seal_dir.exists()
    assert keys.known_certificates() == {}


def test_a_key_that_others_may_read_is_not_used(seal, seal_dir):
    (seal_dir / keys.KEY_FILE).chmod(0o640)
    with pytest.raises(keys.NoKey, match="chmod 600"):
        keys.load_key()


def test_a_damaged_key_is_not_used(seal, seal_dir):
    path = seal_dir / keys.KEY_FILE
    path.write_bytes(path.read_bytes()[:200])
    with pytest.raises(keys.NoKey, match="damaged"):
        keys.load_key()


def test_a_key_beside_a_foreign_certificate_is_not_used(seal, seal_dir):
    path = seal_dir / keys.KEY_FILE
    key, _ = path.read_bytes().split(b"-----BEGIN CERTIFICATE", 1)
    path.write_bytes(key + files.made_elsewhere().certificate.public_bytes(Encoding.PEM))
    with pytest.raises(keys.NoKey, match="not that of the key"):
        keys.load_key()


def test_only_commands_make_or_install_a_key():
    """No page, job or library makes one: a web process that could would put a key where nobody backs it up."""
    makers = set()
    for path in [*(ROOT / "audit").rglob("*.py"), *(ROOT / "records").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            named = getattr(node, "attr", None) or getattr(node, "id", None) or getattr(node, "name", None)
            if named in ("make_key", "_install") or (named == "install" and "seal" in str(path)):
                makers.add(str(path.relative_to(ROOT)))
    assert "audit/management/commands/make_seal_key.py" in makers
    assert makers <= MAY_MAKE
