"""What a server must be told before it starts. A laptop needs none of it."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

LAPTOP_KEY = "for-development-only-" + "x" * 40
KEY_LENGTH = 50  # characters; `check --deploy` asks for as many (security.W009)
KEY_DIFFERENT = 5  # different characters among them, as there
MAKE_KEY = "python3 -c 'import secrets; print(secrets.token_urlsafe(50))'"


def is_server(said: str) -> bool:
    """Whether STANDING_DEBUG, which says this, means a server.

    Raises ImproperlyConfigured for anything but 0 and 1: a slip opens nothing.
    """
    if said not in ("0", "1"):
        raise ImproperlyConfigured(f"STANDING_DEBUG is “{said}”. Set it to 0 on a server, to 1 on your own machine.")
    return said == "0"


def whole_number(name: str, said: str, *, least: int) -> int:
    """The number that the variable says. Raises ImproperlyConfigured for less than `least`, and for what is none."""
    if not (said.isascii() and said.isdigit() and int(said) >= least):
        raise ImproperlyConfigured(f"{name} is “{said}”. Set a whole number of {least} or more, or leave it out.")
    return int(said)


def refuse_unless_complete(env: Mapping[str, str]) -> None:
    """Raises ImproperlyConfigured, with all that is wrong and what to set, unless a server has what is its own."""
    wrong = [*_key(env), *_hosts(env), *_address(env), *_promises(env)]
    if wrong:
        raise ImproperlyConfigured(
            "With STANDING_DEBUG=0 this is a server, and it does not start yet. " + " ".join(wrong)
        )


def _key(env):
    key = env.get("STANDING_SECRET_KEY", "")
    if len(key) < KEY_LENGTH or len(set(key)) < KEY_DIFFERENT or key == LAPTOP_KEY:
        what = "is too short or too plain" if key else "is missing"
        yield (
            f"STANDING_SECRET_KEY {what}: set a secret of its own, of {KEY_LENGTH} characters or more, such as "
            f"{MAKE_KEY} prints, and keep it."
        )


def _hosts(env):
    hosts = [each.strip() for each in env.get("STANDING_HOSTS", "").split(",") if each.strip()]
    if not hosts:
        yield "STANDING_HOSTS is missing: set the names under which it is reached, such as standing.example."
    elif any(each in ("*", ".") for each in hosts):
        yield "STANDING_HOSTS lets any name in: set the names under which it is reached, without “*”."


def _address(env):
    address = env.get("STANDING_ADDRESS", "")
    secure = env.get("STANDING_SSL_REDIRECT", "1") == "1"
    parts = urlsplit(address)
    if not address:
        yield "STANDING_ADDRESS is missing: set how mails and labels name this site, such as https://standing.example."
    elif parts.scheme not in ("http", "https") or not parts.hostname or parts.path not in ("", "/"):
        yield f"STANDING_ADDRESS is “{address}”: set the beginning of every address, such as https://standing.example."
    elif secure and parts.scheme != "https":
        yield f"STANDING_ADDRESS is “{address}”, but every page is sent to HTTPS: let it begin with https://."


def _promises(env):
    preload = env.get("STANDING_HSTS_PRELOAD", "0") == "1"
    if preload and env.get("STANDING_HSTS_SUBDOMAINS", "0") != "1":
        yield "STANDING_HSTS_PRELOAD=1 binds every name under this one too: set STANDING_HSTS_SUBDOMAINS=1 as well."
