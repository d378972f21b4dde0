"""The forms of binders as people send them."""

from __future__ import annotations

import re
from html import unescape

from django.urls import reverse

DAYS = {"from": "2025-03-16", "to": "2026-03-16"}
WORKER = "another-machine 17"


def send(client, name, *args, **data):
    return client.post(reverse(name, args=args), data)


def fields_of(answer) -> dict[str, str]:
    """What the forms of a page would send as it stands: hidden and shown inputs."""
    found = re.findall(
        r'<input type="(?:hidden|date|text)"[^>]*? name="([^"]+)" value="([^"]*)"', answer.content.decode()
    )
    return {name: unescape(value) for name, value in found}
