"""A key in a PKCS#11 token (a hardware module, a card): it signs there and never leaves it.

The settings name the module (the token's library), token, key and PIN. A PIN that the token refused is not tried
again by itself, since a token locks itself after a few: common practice, no source for the numbers of tries. Sessions
are opened for one piece of work and closed, one at a time in a process, for a login holds for all of them.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

MODULE, TOKEN, KEY = "STANDING_SEAL_MODULE", "STANDING_SEAL_TOKEN", "STANDING_SEAL_KEY"
PIN, PIN_FILE = "STANDING_SEAL_PIN", "STANDING_SEAL_PIN_FILE"
REFUSED = "seal-pin-refused"  # in the data folder, and in no backup: a keyed digest of the PIN that was refused
INSTALL = 'pip install -e ".[hsm]"'
_one_at_a_time = threading.RLock()


class TokenTrouble(Exception):
    """The token cannot be used now: the message says why and the way out."""


@dataclass(frozen=True, slots=True)
class TokenKey:
    """Where the key is: `module` is the path of the token's library, `token` and `label` name token and key."""

    module: str
    token: str
    label: str
    pin: str = field(repr=False)

    def __str__(self):
        return f"the key “{self.label}” in the token “{self.token}”"


def is_set() -> bool:
    """Whether the settings name a module, so that the seal's key is in a token and in no file."""
    return bool(settings.SEAL_MODULE)


def said() -> TokenKey:
    """What the settings say. Raises TokenTrouble with all that is missing."""
    named = {TOKEN: settings.SEAL_TOKEN, KEY: settings.SEAL_KEY_LABEL}
    missing = [name for name, value in named.items() if not value]
    if not settings.SEAL_PIN and not settings.SEAL_PIN_FILE:
        missing.append(f"{PIN} or {PIN_FILE}")
    if missing:
        raise TokenTrouble(
            f"{MODULE} says that the seal's key is in a PKCS#11 token, and {', '.join(missing)} "
            f"{'is' if len(missing) == 1 else 'are'} missing. Set {'it' if len(missing) == 1 else 'them'} in the "
            "environment."
        )
    return TokenKey(settings.SEAL_MODULE, settings.SEAL_TOKEN, settings.SEAL_KEY_LABEL, _pin())


def _pin() -> str:
    if settings.SEAL_PIN:
        return settings.SEAL_PIN
    path = Path(settings.SEAL_PIN_FILE)
    try:
        if path.stat().st_mode & 0o077:
            raise TokenTrouble(f"Others may read the PIN in {path}. Set it right with `chmod 600`.")
        found = path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise TokenTrouble(
            f"The PIN of the token cannot be read from {path}: {error.strerror}. Give the file to the user that runs "
            f"the program, or set {PIN_FILE} to the right one."
        ) from None
    if not found:
        raise TokenTrouble(f"{path} is empty: write the PIN of the token into it, on one line.")
    return found


# ------------------------------------------------------------------------------------------------- the token


@contextmanager
def opened(key: TokenKey, *, write: bool = False) -> Iterator:
    """A session with the token, logged in. Raises TokenTrouble, also for what the token refuses within the block."""
    with _one_at_a_time:
        pkcs11 = _library()
        token = _token(key.module, key.token)
        _refuse_refused(key)
        try:
            with _session(pkcs11, token, key, write) as session:
                _forget_refused()
                yield session
        except (pkcs11.PinIncorrect, pkcs11.PinLenRange, pkcs11.PinInvalid):
            _note_refused(key)
            raise TokenTrouble(_wrong_pin(key)) from None
        except pkcs11.PinLocked:
            raise TokenTrouble(
                f"The token “{key.token}” has locked its PIN after too many wrong ones. Whoever looks after it "
                f"unlocks it with the PIN of its security officer; then set the right one ({PIN} or {PIN_FILE})."
            ) from None
        except pkcs11.PKCS11Error as error:
            raise TokenTrouble(
                f"The token “{key.token}” did not do it ({_in_words(error)}). See that it is plugged in and its "
                "service runs, then try again."
            ) from None


def _session(pkcs11, token, key: TokenKey, write: bool):
    """Logged in, by asking once more where the token was plugged in anew meanwhile. A refused PIN is given once."""
    try:
        return token.open(rw=write, user_pin=key.pin)
    except (pkcs11.PinIncorrect, pkcs11.PinLenRange, pkcs11.PinInvalid, pkcs11.PinLocked):
        raise
    except pkcs11.PKCS11Error:
        pkcs11.lib(key.module).reinitialize()
        return _token(key.module, key.token).open(rw=write, user_pin=key.pin)


def _library():
    try:
        import pkcs11
    except ImportError:
        raise TokenTrouble(
            "The seal's key is in a PKCS#11 token, and the package that speaks to tokens is not installed: "
            f"`{INSTALL}`."
        ) from None
    return pkcs11


def _token(module: str, label: str):
    """The token of that label, there or plugged in since the program began."""
    pkcs11 = _library()
    if not Path(module).is_file():
        raise TokenTrouble(
            f"The library of the PKCS#11 token is not there: {module}. Install the token's software, or set {MODULE} "
            "to where its library lies."
        )
    try:
        library = pkcs11.lib(module)
        try:
            return library.get_token(token_label=label)
        except pkcs11.PKCS11Error:  # what the library found as it was loaded may have been changed since
            library.reinitialize()
            return library.get_token(token_label=label)
    except pkcs11.NoSuchToken:
        raise TokenTrouble(
            f"There is no token “{label}”. {_others(library)} Plug it in, see that its service runs, or set {TOKEN}."
        ) from None
    except pkcs11.MultipleTokensReturned:
        raise TokenTrouble(f"There are several tokens “{label}”. Take away all but one, or rename them.") from None
    except pkcs11.PKCS11Error as error:
        raise TokenTrouble(
            f"The library of the PKCS#11 token, {module}, cannot be used ({_in_words(error)}). Set {MODULE} to the "
            "library that belongs to the token, of this machine's kind."
        ) from None


def _others(library) -> str:
    pkcs11 = _library()
    try:
        labels = sorted(slot.get_token().label for slot in library.get_slots(token_present=True))
    except pkcs11.PKCS11Error:
        labels = []
    labels = [f"“{label}”" for label in labels if label]
    return f"There are: {', '.join(labels)}." if labels else "There is none at all."


def _in_words(error: Exception) -> str:
    text = str(error).strip()
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


# ------------------------------------------------------------------------------------------------- a refused PIN


def _refused_file() -> Path:
    return Path(settings.SEAL_DIR).parent / REFUSED


def _digest(key: TokenKey) -> str:
    return salted_hmac("audit.issue.seal.pin", f"{key.token}\n{key.pin}", algorithm="sha256").hexdigest()


def _refuse_refused(key: TokenKey) -> None:
    if was_refused(key):
        raise TokenTrouble(_wrong_pin(key))


def was_refused(key: TokenKey) -> bool:
    """Whether the token refused this very PIN before."""
    try:
        return constant_time_compare(_refused_file().read_text(encoding="ascii").strip(), _digest(key))
    except (OSError, UnicodeDecodeError):
        return False


def _note_refused(key: TokenKey) -> None:
    try:
        _refused_file().write_text(_digest(key) + "\n", encoding="ascii")
        _refused_file().chmod(0o600)
    except OSError:
        pass  # then it is tried again, and the token itself keeps count


def _forget_refused() -> None:
    try:
        _refused_file().unlink(missing_ok=True)
    except OSError:
        pass


def _wrong_pin(key: TokenKey) -> str:
    return (
        f"The token “{key.token}” refused the PIN. It is not tried again, since a token locks itself after a few "
        f"wrong ones: set the right one ({PIN} or {PIN_FILE}). If this one is right by now, delete {_refused_file()}."
    )


def troubles() -> list[str]:
    """What stands in the way of signing, as far as is seen without the PIN: a probe that asks often must try none."""
    try:
        key = said()
        with _one_at_a_time:
            _token(key.module, key.token)
        if was_refused(key):
            return [_wrong_pin(key)]
    except TokenTrouble as trouble:
        return [str(trouble)]
    return []
