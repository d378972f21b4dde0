"""The seal's key under a pass phrase of the environment: a copy of the folder alone signs nothing."""

from __future__ import annotations

import io
import stat

import pytest
from django.core.management import call_command

from audit.issue.seal import keys
from tests.audit.issue.seal import files

PHRASE = "lids and kettles"


def test_a_new_key_is_kept_under_the_pass_phrase(seal_dir, settings):
    settings.SEAL_KEY_PASSPHRASE = PHRASE
    made = keys.make_key("First Keepers", files.AT)
    content = (seal_dir / keys.KEY_FILE).read_bytes()
    assert keys.LOCKED in content and b"BEGIN PRIVATE KEY" not in content
    assert keys.load_key().fingerprint == made.fingerprint


# What the environment says, what is said of the key.
WRONG = [("", "is kept under a pass phrase. Set STANDING_SEAL_KEY_PASSPHRASE"), ("another", "does not open")]


@pytest.mark.parametrize(("phrase", "said"), WRONG)
def test_without_the_right_one_nothing_is_signed_and_it_says_so(seal_dir, settings, phrase, said):
    settings.SEAL_KEY_PASSPHRASE = PHRASE
    keys.make_key("First Keepers", files.AT)
    settings.SEAL_KEY_PASSPHRASE = phrase
    with pytest.raises(keys.NoKey, match=said):
        keys.load_key()


def test_a_key_that_was_kept_without_is_put_under_it(seal, seal_dir, settings):
    settings.SEAL_KEY_PASSPHRASE = PHRASE
    assert keys.load_key().fingerprint == seal.fingerprint, "until then it signs as ever"
    with pytest.raises(SystemExit) as ended:
        call_command("make_seal_key", "--lock", stdout=io.StringIO())
    assert ended.value.code == 0
    assert keys.LOCKED in (seal_dir / keys.KEY_FILE).read_bytes()
    assert stat.S_IMODE((seal_dir / keys.KEY_FILE).stat().st_mode) == 0o600
    assert keys.load_key().fingerprint == seal.fingerprint


def test_without_a_pass_phrase_there_is_nothing_to_lock_under(seal):
    with pytest.raises(keys.KeyRefused, match="Set STANDING_SEAL_KEY_PASSPHRASE"):
        keys.lock()
