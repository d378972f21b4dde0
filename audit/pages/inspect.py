"""What an inspector's link opens: the answers of one issued binder, to be read on a telephone, and its file.

No account is needed: the address is the key. Only a digest of it is kept. Whatever is wrong with an address, the
answer is one and the same page.
"""

from __future__ import annotations

import re
import uuid
from collections import Counter
from functools import wraps
from hmac import compare_digest

from django.shortcuts import render
from django.views.decorators.http import require_safe

from audit.binder.answers import SHORT
from audit.binder.written_on_paper import moment
from audit.issue.contents_told import NoContents, contents_in, told
from audit.judge.judgement import Word
from records import clock, log
from records.doors import often
from records.files import blobs
from records.log import may_be_logged
from records.log.binders import digest_of, why_closed
from records.models import InspectorLink

from .answers import SLUGS
from .binders import file_of

TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
# Openings of one kind by one browser within the same ten minutes count once: turning a telephone loads a page again.
SAME_OPENING_SECONDS = 600
_CLOSED_TO_OTHERS = {
    "Referrer-Policy": "no-referrer",  # the address is the key: no other site may learn it
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "private, no-store",
}


def _opens(view):
    """The link that the token opens, or one page that says no more than that it opens nothing."""

    @wraps(view)
    @require_safe
    def wrapped(request, token: str):
        if often.guesses_used_up(request, "inspect"):
            return _closed_to_others(often.refuse(request, "links that do not open"))
        link, status = _link(token)
        if status == 404:
            often.guessed_wrong(request, "inspect")
        try:
            answer = view(request, link, token) if link else None
        except log.Refused:  # it was ended in this very moment
            answer, status = None, 410
        if answer is None:
            answer = render(request, "audit/inspect_closed.html", status=status)
        return _closed_to_others(answer)

    return wrapped


def _closed_to_others(answer):
    for name, value in _CLOSED_TO_OTHERS.items():
        answer[name] = value
    return answer


def _link(token: str) -> tuple[InspectorLink | None, int]:
    """The link when it opens, else None and why as a status: 404 never was one, 410 ended or expired.

    Looked up by digest: how long that takes says nothing about the token itself.
    """
    if not TOKEN.fullmatch(token):
        return None, 404
    digest = digest_of(token)
    rows = InspectorLink.objects.select_related("clinic", "issue__clinic", "entry__account", "entry__logged_for")
    link = rows.filter(digest=digest).first()
    if link is None or not compare_digest(link.digest, digest):
        return None, 404
    today = clock.today(may_be_logged.zone_of(link.clinic))
    return (None, 410) if why_closed(link, today) else (link, 200)


def _log_opening(request, link: InspectorLink, what: str) -> None:
    """Enter or count the opening; nothing is shown where that failed. Asking for the head of a page opens nothing."""
    if request.method != "GET":
        return
    agent = request.headers.get("User-Agent", "")
    span = int(clock.now().timestamp()) // SAME_OPENING_SECONDS
    key = uuid.uuid5(link.ref, f"{what} {span} {agent}")
    log.log_link_opening(request_key=key, link=link, what=what, agent=agent)


@_opens
def inspect(request, link: InspectorLink, token: str):
    """The answers, as the issued binder states them."""
    issue = link.issue
    try:
        states, problem = told(contents_in(blobs.read(issue.clinic, issue.file_sha256))), ""
    except (OSError, ValueError) as fault:
        states, problem = None, _problem(fault)
    _log_opening(request, link, "answers")
    context = {"link": link, "issue": issue, "token": token, "states": states, "problem": problem}
    if states:
        context |= {
            "known": moment(states.known_at) if states.known_at else "",
            "units": [{"unit": unit, "word": Word(unit.word)} for unit in states.units],
            "answers": [{"answer": a, "slug": SLUGS.get(a.answer.lower(), "note")} for a in states.answers],
            "counts": Counter(a.answer.lower() for a in states.answers).most_common(),
            "short": [a for a in states.answers if a.answer.lower() in SHORT],
        }
    return render(request, "audit/inspect.html", context, status=200 if states else 410)


def _problem(fault: Exception) -> str:
    if isinstance(fault, NoContents):
        return "The answers cannot be read out of the file of this binder. The file itself is offered below."
    return "The file of this binder is not in its place. Ask the clinic; the record says that it was issued."


@_opens
def inspect_binder(request, link: InspectorLink, token: str):
    """The signed file as it was kept."""
    _log_opening(request, link, "binder")
    return file_of(request, link.issue)
