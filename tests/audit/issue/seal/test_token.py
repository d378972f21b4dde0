"""The seal's key in a PKCS#11 token: made there, never leaving it; what is signed with it verifies as any other."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from audit.issue.seal import heads, keys, token_key
from audit.issue.seal.sign import sign
from audit.issue.seal.signature import detached, signatures
from audit.issue.seal.verify import UNALTERED, check
from audit.upkeep import health
from records import clock
from tests import programs
from tests import world as made
from tests.audit.issue.seal import files, soft_token, test_take
from tests.audit.issue.seal.soft_token import KEY, PIN, TOKEN

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[4]


@pytest.fixture
def token(settings):
    """A token without a key, and the settings that name it."""
    settings.SEAL_MODULE = soft_token.module()
    settings.SEAL_TOKEN, settings.SEAL_KEY_LABEL, settings.SEAL_PIN = TOKEN, KEY, PIN
    soft_token.make()
    yield token_key.said()
    soft_token.empty()


@pytest.fixture
def sealed(token):
    """The installation has a key there."""
    return keys.make_key("First Keepers", files.AT)


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(made.NOW):
        yield


def body() -> bytes:
    return files.body(files.binder())


def test_the_key_is_made_in_the_token_and_only_its_certificate_is_kept(sealed, seal_dir):
    assert not (seal_dir / keys.KEY_FILE).exists()
    kept = b"".join(path.read_bytes() for path in seal_dir.rglob("*") if path.is_file())
    assert b"PRIVATE" not in kept and b"BEGIN CERTIFICATE" in kept
    assert keys.load_key().fingerprint == sealed.fingerprint and sealed.fingerprint in keys.known_certificates()
    sealed.certificate.verify_directly_issued_by(sealed.certificate)
    assert keys.name_in(sealed.certificate.subject) == "First Keepers"
    assert PIN not in repr(sealed)
    from pkcs11 import Attribute, ObjectClass

    with token_key.opened(sealed.key) as session:
        (key,) = session.get_objects({Attribute.CLASS: ObjectClass.PRIVATE_KEY})
        assert key[Attribute.SENSITIVE] and not key[Attribute.EXTRACTABLE]


def test_its_certificate_says_what_one_from_a_file_says(sealed, settings):
    settings.SEAL_MODULE = ""
    other = keys.make_key("First Keepers", files.AT).certificate
    ours = sealed.certificate
    assert (ours.subject, ours.issuer, ours.version) == (other.subject, other.issuer, other.version)
    assert (ours.not_valid_before_utc, ours.not_valid_after_utc) == (
        other.not_valid_before_utc, other.not_valid_after_utc,
    )  # fmt: skip
    assert [(e.oid, e.critical) for e in ours.extensions] == [(e.oid, e.critical) for e in other.extensions]
    assert ours.signature_hash_algorithm.name == other.signature_hash_algorithm.name == "sha256"


def test_a_binder_signed_with_it_verifies_as_any_other(sealed, tmp_path):
    world = made.make()
    content = files.signed(files.body(files.of_world(world)))
    assert content.startswith(files.body(files.of_world(world))), "an update behind the unsigned file"
    (found,) = signatures(content)
    assert found.fits and found.end == len(content)
    verdict = check(content)
    assert verdict.word == UNALTERED and verdict.good and verdict.certificate.fingerprint == sealed.fingerprint
    assert check(files.flipped(content, 700)).word != UNALTERED


def test_poppler_says_valid_whole_and_pades(sealed, tmp_path):
    path = tmp_path / "a.pdf"
    path.write_bytes(files.signed(body()))
    said = files.poppler("pdfsig", "-nocert", path)
    assert "Signature is Valid." in said and "Total document signed" in said and "ETSI.CAdES.detached" in said


def test_statements_of_heads_are_signed_with_it_too(sealed):
    found = detached(heads.signature(b"heads", files.AT), b"heads")
    assert found.fits and found.certificate == sealed.certificate.public_bytes(Encoding.DER)


def test_a_binder_of_the_token_is_known_without_it(sealed, settings):
    content = files.signed(body())
    settings.SEAL_MODULE, settings.SEAL_PIN = "/gone/with/the/machine.so", ""
    (found,) = signatures(content)
    assert found.fits
    assert sealed.fingerprint in keys.known_certificates()
    assert keys.own_certificate() == sealed.certificate, "whoever looks needs no token"
    settings.SEAL_MODULE = ""
    with pytest.raises(keys.NoKey, match="key in a token before: set STANDING_SEAL_MODULE"):
        keys.load_key()


# ------------------------------------------------------------------------------------------------- what goes wrong


def test_a_wrong_pin_is_said_and_tried_once_only(sealed, settings, seal_dir, monkeypatch):
    settings.SEAL_PIN = "000000"
    with pytest.raises(keys.NoKey, match="refused the PIN.*STANDING_SEAL_PIN"):
        sign(body(), by="Ana", reason="", at=files.AT)
    assert settings.SEAL_PIN not in (seal_dir.parent / token_key.REFUSED).read_text()
    import pkcs11

    lib = pkcs11.lib(settings.SEAL_MODULE)
    assert pkcs11.TokenFlag.USER_PIN_COUNT_LOW in lib.get_token(token_label=TOKEN).flags
    settings.SEAL_PIN = PIN
    assert keys.load_key().fingerprint == sealed.fingerprint, "the right one signs at once"
    assert not (seal_dir.parent / token_key.REFUSED).exists()
    settings.SEAL_PIN = "000000"
    opens = []
    plain = token_key._token

    class Watched:
        def __init__(self, token):
            self.token = token

        def open(self, **more):
            opens.append(more["user_pin"])
            return self.token.open(**more)

    monkeypatch.setattr(token_key, "_token", lambda *where: Watched(plain(*where)))
    for _ in range(5):
        with pytest.raises(keys.NoKey, match="refused the PIN"):
            keys.load_key()
    assert opens == ["000000"], "a token locks itself after a few wrong ones"


def test_a_token_that_is_gone_is_said_and_signs_again_when_it_is_back(sealed, settings, tmp_path):
    held = tmp_path / "unplugged"
    tokens = soft_token.folder() / "tokens"
    held.mkdir()
    for each in list(tokens.iterdir()):
        each.rename(held / each.name)
    with pytest.raises(keys.NoKey, match="There is no token “standing test”. There is none at all.*Plug it in"):
        keys.load_key()
    soft_token.make("another")
    with pytest.raises(keys.NoKey, match="There are: “another”"):
        sign(body(), by="Ana", reason="", at=files.AT, seal=sealed)
    for each in list(held.iterdir()):
        each.rename(tokens / each.name)
    assert signatures(sign(body(), by="Ana", reason="", at=files.AT))[0].fits


# What the settings say, what is said of them.
SETTINGS = [
    ({"SEAL_MODULE": "/nowhere/token.so"}, "is not there: /nowhere/token.so.*STANDING_SEAL_MODULE"),
    ({"SEAL_MODULE": __file__}, "cannot be used.*STANDING_SEAL_MODULE"),
    ({"SEAL_TOKEN": ""}, "STANDING_SEAL_TOKEN is missing"),
    ({"SEAL_TOKEN": "", "SEAL_PIN": ""}, "STANDING_SEAL_TOKEN, STANDING_SEAL_PIN or STANDING_SEAL_PIN_FILE are"),
    ({"SEAL_KEY_LABEL": "another"}, "no key “another” in the token.*STANDING_SEAL_KEY"),
    ({"SEAL_PIN": "", "SEAL_PIN_FILE": "/nowhere/pin"}, "cannot be read from /nowhere/pin"),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "message"), SETTINGS, ids=[" ".join(each) for each, _ in SETTINGS])
def test_what_is_missing_is_said_with_the_way_out(sealed, settings, wrong, message):
    for name, value in wrong.items():
        setattr(settings, name, value)
    with pytest.raises(keys.NoKey, match=message):
        keys.load_key()
    for name, value in {"SEAL_TOKEN": TOKEN, "SEAL_KEY_LABEL": KEY, "SEAL_PIN": PIN}.items():
        setattr(settings, name, value)
    settings.SEAL_MODULE = soft_token.module()
    assert keys.load_key().fingerprint == sealed.fingerprint


def test_without_the_package_it_says_what_to_install(sealed, monkeypatch):
    monkeypatch.setitem(sys.modules, "pkcs11", None)
    with pytest.raises(keys.NoKey, match=r'pip install -e "\.\[hsm\]"'):
        keys.load_key()


def test_the_pin_may_stand_in_a_file_that_nobody_else_reads(sealed, settings, tmp_path):
    file = tmp_path / "pin"
    settings.SEAL_PIN, settings.SEAL_PIN_FILE = "", str(file)
    file.write_text(f"{PIN}\n")
    file.chmod(0o600)
    assert keys.load_key().fingerprint == sealed.fingerprint
    file.chmod(0o640)
    with pytest.raises(keys.NoKey, match="chmod 600"):
        keys.load_key()
    file.chmod(0o600)
    file.write_text("\n")
    with pytest.raises(keys.NoKey, match="is empty"):
        keys.load_key()


def test_a_certificate_of_another_key_signs_nothing(sealed, seal_dir):
    (seal_dir / keys.TOKEN_FILE).write_bytes(files.made_elsewhere().certificate.public_bytes(Encoding.PEM))
    with pytest.raises(keys.NoKey, match="not that of the key “seal” in the token"):
        keys.load_key()
    (seal_dir / keys.TOKEN_FILE).write_bytes(b"damaged")
    with pytest.raises(keys.NoKey, match="Bring it back from a backup"):
        keys.load_key()


def test_two_keys_of_one_name_sign_nothing(sealed):
    from pkcs11 import Attribute, KeyType
    from pkcs11.util.ec import encode_named_curve_parameters

    with token_key.opened(sealed.key, write=True) as session:
        curve = {Attribute.EC_PARAMS: encode_named_curve_parameters("secp256r1")}
        session.create_domain_parameters(KeyType.EC, curve, local=True).generate_keypair(store=True, label=KEY)
    with pytest.raises(keys.NoKey, match="holds 2 keys “seal”"):
        keys.load_key()


# ------------------------------------------------------------------------------------------------- commands


def test_the_command_makes_it_and_says_where(command, token, seal_dir):
    status, out, err = command("make_seal_key", "--name", "First Keepers")
    assert (status, err) == (0, "")
    assert "signed with the key “seal” in the token “standing test” from now on" in out
    assert "No backup holds the key itself" in out and PIN not in out
    first = keys.load_key()
    status, _, err = command("make_seal_key", "--name", "First Keepers")
    assert status == 2 and "--replace" in err and "STANDING_SEAL_KEY" in err
    status, out, _ = command("make_seal_key", "--name", "Second Keepers", "--replace")
    second = keys.load_key()
    assert status == 0 and second.certificate.public_key() == first.certificate.public_key(), "the key in it stays"
    assert {first.fingerprint, second.fingerprint} <= set(keys.known_certificates())


def test_a_key_of_a_file_before_it_is_named(command, token, settings):
    settings.SEAL_MODULE = ""
    before = keys.make_key("First Keepers", files.AT)
    settings.SEAL_MODULE = soft_token.module()
    status, out, _ = command("make_seal_key", "--name", "First Keepers")
    assert status == 0 and "seal.pem: the key of before is no longer used. Delete it" in out
    assert before.fingerprint in keys.known_certificates()


def test_a_certificate_that_was_issued_for_the_key_is_taken(command, token, settings, tmp_path):
    made_key = keys.make_key("Draft", files.AT)
    issuer = ec.generate_private_key(ec.SECP256R1())
    root = test_take.certificate("Issuer", issuer.public_key(), "Issuer", issuer, ca=True)
    leaf = test_take.certificate("Own", made_key.certificate.public_key(), "Issuer", issuer)
    file = tmp_path / "issued.pem"
    file.write_bytes(leaf.public_bytes(Encoding.PEM) + root.public_bytes(Encoding.PEM))
    assert command("make_seal_key", "--certificate", file)[0] == 2, "there is one already"
    status, out, err = command("make_seal_key", "--certificate", file, "--replace")
    assert (status, err) == (0, "") and "issued by Issuer" in out
    seal = keys.load_key()
    assert seal.certificate == leaf and seal.chain == (root,)
    content = files.signed(body())
    assert signatures(content)[0].fits and check(content).certificate.name == "Own", "its container holds each once"
    other = test_take.certificate("Own", issuer.public_key(), "Issuer", issuer)
    file.write_bytes(other.public_bytes(Encoding.PEM))
    status, _, err = command("make_seal_key", "--certificate", file, "--replace")
    assert status == 2 and "not that of the key" in err and keys.load_key().certificate == leaf
    file.write_bytes(b"hello")
    status, _, err = command("make_seal_key", "--certificate", file, "--replace")
    assert status == 2 and "holds no certificate in PEM" in err
    settings.SEAL_MODULE = ""
    status, _, err = command("make_seal_key", "--certificate", file)
    assert status == 2 and "holds no certificate in PEM" in err
    file.write_bytes(leaf.public_bytes(Encoding.PEM))
    status, _, err = command("make_seal_key", "--certificate", file)
    assert status == 2 and "STANDING_SEAL_MODULE is not set" in err


@pytest.mark.parametrize("words", [("--take", "a.p12"), ("--lock",), ("--certificate", "a.pem", "--name", "A")])
def test_what_does_not_go_with_a_token_is_bad_input(command, token, seal_dir, words):
    status, _, err = command("make_seal_key", *words)
    assert status == 2 and "token" in err and not seal_dir.exists()


def test_doctor_says_how_it_stands_and_tries_no_pin(sealed, settings, seal_dir):
    def said():
        (found,) = [each for each in health.look() if each.name == "seal"]
        return found

    assert said().state is health.HealthState.WELL and "certificate of First Keepers to 2036" in said().said
    settings.SEAL_PIN = "000000"
    for _ in range(20):
        assert said().state is health.HealthState.WELL
    settings.SEAL_PIN = PIN
    assert keys.load_key().fingerprint == sealed.fingerprint, "the PIN was not locked by asking"
    settings.SEAL_PIN = "000000"
    with pytest.raises(keys.NoKey):
        keys.load_key()
    assert said().state is health.HealthState.MIND and "refused the PIN" in said().said
    settings.SEAL_PIN, settings.SEAL_TOKEN = PIN, "another"
    assert said().state is health.HealthState.MIND and "There is no token “another”" in said().said
    settings.SEAL_TOKEN = TOKEN
    (seal_dir / keys.TOKEN_FILE).unlink()
    assert said().state is health.HealthState.MIND and "make_seal_key --name" in said().said
    settings.SEAL_MODULE = ""
    assert [each for each in health.look() if each.name == "seal"] == []


def test_a_job_stays_with_its_reason_and_is_made_when_asked_again(sealed, settings, tmp_path):
    from audit.issue.jobs import queue, run
    from audit.issue.wish import Wish
    from audit.models import BinderJob
    from records.models import BinderIssue

    settings.BLOBS_DIR = tmp_path / "blobs"
    world = made.make()
    wish = Wish(made.BEGIN, made.TODAY, made.TODAY, None, "letter")

    def by_worker(key: int) -> BinderJob:
        queue.ask(world.clinic, world.people["coordinator"], wish, key)
        job = queue.take_next("machine 1")
        run.run_job(job, "machine 1")
        job.refresh_from_db()
        return job

    for n, (name, value, why) in enumerate([
        ("SEAL_PIN", "000000", "refused the PIN"),
        ("SEAL_TOKEN", "another", "There is no token"),
        ("SEAL_MODULE", "/nowhere/token.so", "is not there"),
    ]):  # fmt: skip
        right = getattr(settings, name)
        setattr(settings, name, value)
        job = by_worker(n)
        assert job.state == BinderJob.State.FAILED and why in job.problem
        assert not BinderIssue.objects.exists()
        setattr(settings, name, right)
    job = by_worker(9)
    assert job.state == BinderJob.State.DONE, job.problem
    assert BinderIssue.objects.get().certificate == sealed.fingerprint


def test_a_process_of_its_own_signs_with_the_settings_of_its_environment(sealed, settings, tmp_path):
    """As a worker does: module, token, key and PIN come from the environment alone."""
    code = (
        "import django; django.setup()\n"
        "from audit.issue.seal import heads\n"
        "from datetime import datetime, UTC\n"
        "import sys; sys.stdout.buffer.write(heads.signature(b'x', datetime(2026, 3, 16, 14, tzinfo=UTC)))"
    )
    data = Path(settings.SEAL_DIR).parent
    env = os.environ | {
        "DJANGO_SETTINGS_MODULE": "audit.site.settings", "STANDING_DATA": str(data),
        token_key.MODULE: settings.SEAL_MODULE, token_key.TOKEN: TOKEN, token_key.KEY: KEY, token_key.PIN: PIN,
    }  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert detached(done.stdout, b"x").fits


def test_an_rsa_key_that_the_token_has_is_certified_and_signs(token, settings):
    from pkcs11 import KeyType

    with token_key.opened(token, write=True) as session:
        session.generate_keypair(KeyType.RSA, 2048, store=True, label=KEY)
    seal = keys.make_key("First Keepers", files.AT)
    assert isinstance(seal.certificate, x509.Certificate)
    seal.certificate.verify_directly_issued_by(seal.certificate)
    content = files.signed(body())
    assert signatures(content)[0].fits and check(content).certificate.fingerprint == seal.fingerprint


def test_a_moment_outside_the_certificate_is_refused_as_ever(sealed):
    with pytest.raises(keys.NoKey, match="--replace"):
        sign(body(), by="Ana", reason="", at=files.AT + timedelta(days=3653))


def test_a_file_key_is_written_as_before_when_no_module_is_named(seal, seal_dir):
    content = (seal_dir / keys.KEY_FILE).read_bytes()
    assert seal.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()) in content
    assert not (seal_dir / keys.TOKEN_FILE).exists()


def test_where_the_program_is_missing_the_tests_are_skipped(monkeypatch):
    monkeypatch.setenv("STANDING_WITHOUT", "softhsm2")
    monkeypatch.setenv("STANDING_NEEDS", "")
    assert programs.find("softhsm2") is None
    with pytest.raises(pytest.skip.Exception, match="Debian package softhsm2"):
        soft_token.module()


def test_what_is_signed_is_read_back_as_a_stream(sealed):
    """The library's own validator agrees."""
    from asn1crypto import x509 as asn1
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    content = files.signed(body())
    own = asn1.Certificate.load(sealed.certificate.public_bytes(Encoding.DER))
    (embedded,) = PdfFileReader(io.BytesIO(content)).embedded_signatures
    status = validate_pdf_signature(
        embedded, ValidationContext(trust_roots=[own], moment=files.AT, allow_fetching=False)
    )
    assert status.intact and status.valid and status.trusted and status.docmdp_ok
