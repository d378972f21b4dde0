"""What the log may not hold: addresses that open something by themselves, and the codes in them."""

from __future__ import annotations

import logging
import re

# Inspectors' links, invitations, calendars, links to choose a pass phrase: what follows is the key.
_KEYS = re.compile(r"(/(?:inspect|invitation|calendar)/|/forgotten/[^/\s\"']+/)([^/\s\"'.?]+)")


def without_secrets(text: str) -> str:
    """The text with the secret part of each such address left out."""
    return _KEYS.sub(r"\1…", text)


class WithoutSecrets(logging.Formatter):
    """Leaves them out of the whole line, its traceback included."""

    def format(self, record: logging.LogRecord) -> str:
        return without_secrets(super().format(record))
