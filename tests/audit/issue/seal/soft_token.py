"""A token in software (Debian's softhsm2), made for the tests of one process in a folder of its own."""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

from tests import programs

# With letters: digits alone stand by chance in a moment or a hash.
PIN, OFFICER = "kettle 482913", "bellows 91827364"
TOKEN, KEY = "standing test", "seal"
PLACES = ("/usr/lib/softhsm/libsofthsm2.so", "/usr/lib/*/softhsm/libsofthsm2.so", "/usr/lib64/softhsm/libsofthsm2.so")


@cache
def folder() -> Path:
    """The folder of this process's tokens. The library reads where it is when it is loaded, so there is one."""
    made = Path(tempfile.mkdtemp(prefix="tokens-"))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    (made / "tokens").mkdir()
    (made / "softhsm2.conf").write_text(f"directories.tokendir = {made / 'tokens'}\nobjectstore.backend = file\n")
    os.environ["SOFTHSM2_CONF"] = str(made / "softhsm2.conf")
    return made


def module() -> str:
    """The path of its library. Skips the test where the program is missing, or fails it where it must be there."""
    programs.wanted("softhsm2")
    found = [str(path) for place in PLACES for path in Path("/").glob(place.lstrip("/"))]
    assert found, "softhsm2-util is there, and its library is not"
    return found[0]


def make(label: str = TOKEN) -> None:
    """A new, empty token of that name."""
    folder()
    words = ["--init-token", "--free", "--label", label, "--pin", PIN, "--so-pin", OFFICER]
    subprocess.run([programs.wanted("softhsm2"), *words], check=True, capture_output=True)


def empty() -> None:
    """No token at all, as when it is unplugged."""
    for each in (folder() / "tokens").iterdir():
        shutil.rmtree(each)
