"""The clinic's side of an inspector's link: make one for an issued binder, see who opened it, end it."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from records import clock, log
from records.doors import often
from records.forms.base import EntryForm
from records.forms.fields import Day, Line
from records.log.binders import LONGEST_LINK_DAYS, digest_of
from records.models import BinderIssue, InspectorLink, InspectorLinkEnd, InspectorLinkOpening
from records.views.base import answer_conflict, at_clinic, entry_page

PER_PAGE = 25
USUAL_DAYS = 14
OPENINGS_SHOWN = 20
TOKEN_BYTES = 32


class LinkForm(EntryForm):
    """For whom, and until when."""

    legend = (
        "Whoever has the address may read this binder without signing in, and nothing else, until it expires or you "
        "end it. Every opening is entered in the record."
    )

    for_whom = Line(
        "For whom",
        longest=200,
        required=True,
        help_text="The person and the office, such as “A. Inspector, county health department”.",
    )
    expires_on = Day("Last day it opens")

    def __init__(self, *args, ground, **kwargs):
        super().__init__(*args, ground=ground, **kwargs)
        today = ground.today
        self.initial.setdefault("expires_on", today + timedelta(days=USUAL_DAYS))
        last = today + timedelta(days=LONGEST_LINK_DAYS)
        self.fields["expires_on"].help_text = f"That day included, in {ground.zone}; {last} at the latest."


class EndLinkForm(EntryForm):
    reason = Line("Why it is ended", longest=500, required=True, help_text="Such as “the inspection is over”.")


def new_token() -> str:
    """The secret part of an address: 32 random bytes as 43 letters, digits, hyphens and underscores."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def _issue(ground, ref) -> BinderIssue:
    return get_object_or_404(BinderIssue, clinic=ground.clinic, ref=ref)


@often.at_most(30, "links for inspectors")
@at_clinic("manage")
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def make_link(request, ground, ref):
    """Make a link to an issued binder. The address is shown once, in answer to the form, and kept nowhere."""
    issue = _issue(ground, ref)
    if request.method != "POST":
        return _form(request, ground, issue, LinkForm(ground=ground))
    form = LinkForm(request.POST, ground=ground)
    if not form.is_valid():
        return _form(request, ground, issue, form)
    token = new_token()
    try:
        link = log.log_inspector_link(
            by=request.user, request_key=form.cleaned_data["request_key"], issue=issue, token=token, **form.values()
        )
    except log.SubmissionConflict as conflict:
        return answer_conflict(request, ground, form, conflict, "Make a link for an inspector")
    except log.Refused as refusal:
        form.take(refusal.problems)
        return _form(request, ground, issue, form)
    return _show_once(request, ground, link, token)


def _form(request, ground, issue, form):
    context = {"clinic": ground.clinic, "issue": issue, "form": form}
    return render(request, "audit/make_link.html", context, status=422 if form.is_bound else 200)


def _show_once(request, ground, link: InspectorLink, token: str):
    """The address with its square to scan; without them when the form was sent a second time."""
    known = digest_of(token) == link.digest
    address = request.build_absolute_uri(reverse("inspect", args=[token])) if known else ""
    context = {"clinic": ground.clinic, "link": link, "address": address, "square": _square(address) if known else ""}
    answer = render(request, "audit/link_made.html", context)
    answer["Cache-Control"] = "no-store"
    return answer


def _square(address: str) -> str:
    """The address as a QR code (ISO/IEC 18004), drawn in the page itself: no file of it is kept anywhere."""
    import segno

    drawn = segno.make(address, error="m", micro=False).svg_inline(
        scale=5, light="#fff", title="Square to scan with a telephone: the address above"
    )
    return mark_safe(drawn)  # noqa: S308 (made here from an address of this site alone)


@at_clinic("look")
@require_safe
def links(request, ground):
    """The links of the clinic, newest first, with their openings."""
    rows = InspectorLink.objects.filter(clinic=ground.clinic).order_by("-id")
    rows = rows.select_related("issue", "entry__logged_by", "entry__logged_for")
    rows = rows.prefetch_related(
        Prefetch("ends", InspectorLinkEnd.objects.select_related("entry__logged_by")),
        Prefetch("openings", InspectorLinkOpening.objects.order_by("id")),
        "counts",
    )
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "clinic": ground.clinic,
        "zone": ground.zone,
        "may_manage": ground.rights.may_manage,
        "page": page,
        "lines": [_line(link, ground.today) for link in page],
    }
    return render(request, "audit/links.html", context)


def _line(link: InspectorLink, today) -> dict:
    ends = list(link.ends.all())
    state = "ended" if ends else "expired" if today > link.expires_on else "open"
    opened = _openings(link)
    return {
        "link": link,
        "end": ends[0] if ends else None,
        "state": state,
        "openings": opened[:OPENINGS_SHOWN],
        "count": sum(each["times"] for each in opened),
        "more": sum(each["times"] for each in opened[OPENINGS_SHOWN:]),
    }


def _openings(link: InspectorLink) -> list[dict]:
    """What was opened on each day, newest first: when first, by which browser, how many times that day."""
    found = {}
    for row in link.openings.all():
        one = {"at": row.happened_at, "what": row.what, "agent": row.agent, "times": 1}
        days: list[dict] = found.setdefault((row.happened_on, row.what), [])
        if row.times is None:
            days.append(one)  # each opening had a row of its own once
        else:
            days[0]["times"] = row.times
    for count in link.counts.all():  # of a day whose number no entry says yet
        found[count.day, count.what][0]["times"] = count.times
    return sorted((one for days in found.values() for one in days), key=lambda one: one["at"], reverse=True)


@at_clinic("manage")
@require_http_methods(["GET", "HEAD", "POST"])
def end_link(request, ground, ref):
    """End a link, with the reason. What is ended stays in the list."""
    link = get_object_or_404(InspectorLink.objects.select_related("clinic"), clinic=ground.clinic, ref=ref)
    until = clock.local_day(clock.now(), ground.zone) > link.expires_on
    about = f"For {link.for_whom}, until {link.expires_on}" + (" (expired already)" if until else "")

    def write(**values):
        return log.end_inspector_link(link=link, **values)

    return entry_page(
        request, ground, EndLinkForm, write, title="End a link for an inspector", context={"about": about},
    )  # fmt: skip
