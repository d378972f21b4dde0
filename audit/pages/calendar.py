"""A person's calendar: the file that a calendar program fetches, and the page on which its address is made."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from audit.models import CalendarFeed
from audit.planning.calendar_file import MOST, Change, ToRead, calendar_of, digest_of, new_token
from audit.planning.reach import Due, changing, due_of, reached, to_read
from records import clock
from records.doors import often


@require_safe
def calendar_file(request, token: str):
    """The due items of whoever made the address, by what that account may see now. No signing in.

    The answer to an unknown address, to one that was ended and to that of a closed account is the same.
    """
    if often.guesses_used_up(request, "calendar"):
        return often.refuse(request, "calendars that are not there")
    feed = CalendarFeed.objects.select_related("account").filter(digest=digest_of(token)).first()
    # Who left gets an empty one, so that nothing stays in their program; `reached` asks what they may see now.
    if feed is None or not feed.account.is_active:
        often.guessed_wrong(request, "calendar")
        raise Http404("no such calendar")

    def address_of(item: Due) -> str:
        return request.build_absolute_uri(page_of(item))

    def read_at(at, line) -> ToRead:
        return ToRead(at, line, request.build_absolute_uri(reverse("day", args=[at.clinic.slug])))

    def change_at(at, unit) -> Change:
        return Change(at, unit, request.build_absolute_uri(reverse("unit", args=[at.clinic.slug, unit.unit])))

    places = list(reached(feed.account))
    items = [item for at in places for item in due_of(at)]
    reads = [read_at(at, line) for at in places for line in to_read(at)]
    changes = [change_at(at, unit) for at in places for unit in changing(at)]
    body = calendar_of(feed.account.full_name, items, address_of, reads, changes)
    return HttpResponse(
        body,
        content_type="text/calendar; charset=utf-8",
        headers={
            "Content-Disposition": 'inline; filename="due-items.ics"',
            "Cache-Control": "private, no-store",
            "Referrer-Policy": "no-referrer",
            "X-Content-Type-Options": "nosniff",
        },
    )


def page_of(item: Due) -> str:
    """The page of the unit, of the clinic for what is the place's own."""
    slug = item.at.clinic.slug
    return reverse("unit", args=[slug, item.unit.unit]) if item.unit else reverse("clinic", args=[slug])


@often.at_most(20, "addresses of calendars")
@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def my_calendar(request):
    """Make an address (a new one ends the one before), or end it. It is shown once, in answer to the form."""
    if request.method == "POST" and request.POST.get("do") == "end":
        CalendarFeed.objects.filter(account=request.user).delete()
        messages.success(request, "Your calendar’s address was ended. Programs that ask there find nothing.")
        return redirect("my-calendar")
    if request.method == "POST" and request.POST.get("do") == "make":
        return _show(request, _make(request))
    return _show(request, "", status=422 if request.method == "POST" else 200)


def _make(request) -> str:
    token = new_token()
    CalendarFeed.objects.update_or_create(
        account=request.user, defaults={"digest": digest_of(token), "made_at": clock.now()}
    )
    return request.build_absolute_uri(reverse("calendar-file", args=[token]))


def _show(request, address: str, status: int = 200):
    context = {
        "address": address,
        "webcal": f"webcal:{address.partition(':')[2]}" if address else "",
        "feed": CalendarFeed.objects.filter(account=request.user).first(),
        "most": MOST,
        "problem": status != 200,
    }
    return render(request, "audit/my_calendar.html", context, status=status)
