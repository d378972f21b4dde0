"""A set of a place whose seal's key is in a token: its certificate is in it, the key is not, and that is said."""

from __future__ import annotations

import tarfile

import pytest

from audit.issue.seal import keys
from audit.issue.seal.sign import sign
from audit.issue.seal.signature import signatures
from audit.upkeep import place as p
from audit.upkeep import proof, restore
from records import clock
from tests import world as build
from tests.audit.issue.seal import files, soft_token


@pytest.fixture
def in_token(place, settings):
    """The place signs with a key in a token, and the key of its file is gone."""
    settings.SEAL_MODULE, settings.SEAL_TOKEN = soft_token.module(), soft_token.TOKEN
    settings.SEAL_KEY_LABEL, settings.SEAL_PIN = soft_token.KEY, soft_token.PIN
    soft_token.make()
    yield keys.make_key("Keepers", build.NOW)
    soft_token.empty()


def test_the_set_says_that_the_key_is_not_in_it_and_signs_again_where_the_token_is(
    place, in_token, empty, settings, tmp_path, monkeypatch, command
):
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)
    (place.seal / keys.KEY_FILE).unlink()
    with clock.at(build.NOW):
        status, out, err = command("backup", "--to", tmp_path / "sets")
    assert "is in a token and not in this set" in out and "holds the key" not in out, (status, out, err)
    (path,) = (tmp_path / "sets").glob("*.tar")
    assert b"PRIVATE" not in path.read_bytes() and soft_token.PIN.encode() not in path.read_bytes()
    with tarfile.open(path) as made:
        assert f"seal/{keys.TOKEN_FILE}" in made.getnames()
    back = empty()
    restore.restore(path, back, "")
    with p.standing_in(back):
        assert keys.load_key().fingerprint == in_token.fingerprint
        content = sign(files.body(files.binder()), by="Ana", reason="", at=build.NOW)
        assert signatures(content)[0].fits
        settings.SEAL_MODULE = ""
        assert in_token.fingerprint in keys.known_certificates(), "binders stay known without the token"
        with pytest.raises(keys.NoKey, match="set STANDING_SEAL_MODULE"):
            keys.load_key()


def test_a_set_with_a_key_of_a_file_says_so_as_before(place, tmp_path, monkeypatch, command):
    monkeypatch.setattr(proof, "binder", lambda wanted=None: None)
    _, out, _ = command("backup", "--to", tmp_path / "sets")
    assert "holds the key that signs binders" in out and "token" not in out
