"""A binder as it is issued, with its data inside, and a link to it; without a signature, which no page reads."""

from __future__ import annotations

import hashlib
from datetime import timedelta

from audit.issue.make import make
from audit.issue.wish import Wish
from audit.pages.links import new_token
from records import log
from tests import world as made

FROM = made.TODAY - timedelta(days=365)


def issue_of(world, content: bytes | None = None, role: str = "coordinator"):
    """An issued binder of the last year. Settings must name a folder for files."""
    wish = Wish(FROM, made.TODAY, made.TODAY)
    body = make(world.clinic, wish).body if content is None else content
    return log.log_binder_issue(
        by=world.people[role], request_key=made.key(), clinic=world.clinic, from_on=FROM, to_on=made.TODAY,
        as_of=made.TODAY, page="letter", pages=3, body_sha256=hashlib.sha256(body).hexdigest(), content=body,
        certificate="0" * 64, ledger_number=1,
    )  # fmt: skip


def link_to(world, issue, *, until=None, role: str = "coordinator"):
    """A link and its token."""
    token = new_token()
    link = log.log_inspector_link(
        by=world.people[role], request_key=made.key(), issue=issue, for_whom="A. Inspector, Invented County",
        expires_on=until or made.TODAY + timedelta(days=14), token=token,
    )  # fmt: skip
    return link, token
