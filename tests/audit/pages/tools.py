"""Opening a page as somebody and reading it."""

from __future__ import annotations

import re

from django.urls import reverse

from tests import world as made

# Signing in, rights, the clinic; for a binder also the papers on file and the heads of the ledgers it names.
BEYOND_GATHER = 12
INSIDERS = (*made.CLINIC_ROLES, *made.COMPANY_ROLES)
OUTSIDERS = ("other-coordinator", "other-dispatcher", "nobody")


def signed_in(client, world, role: str):
    client.force_login(world.people[role])
    return client


def get(client, name: str, *args, **query):
    return client.get(reverse(name, args=args), query)


def text_of(answer) -> str:
    """The words of a page as a reader gets them."""
    without = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", without)


def pages_of(world) -> list[tuple[str, list]]:
    slug = world.clinic.slug
    return [("clinic", [slug]), ("unit", [slug, world.unit.ref]), ("make-draft", [slug]), ("answers", [slug])]
