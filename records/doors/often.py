"""How often something may be asked for: so many times within a span, by one account or one address."""

from __future__ import annotations

from functools import wraps

from django.db import IntegrityError, transaction
from django.db.models import F
from django.shortcuts import render
from django.utils.crypto import salted_hmac

from records import clock
from records.models import Taken

from .where import address_of

HOUR = 3600


def end_of_span(seconds: int) -> int:
    """The second (Unix time) at which the span of so many seconds ends that is running now; not part of it."""
    return (int(clock.real().timestamp()) // seconds + 1) * seconds


def forget_what_is_over() -> None:
    """Take away every count of a span that is over, whoever it was for: nobody is held to it any more."""
    Taken.objects.filter(span__lte=int(clock.real().timestamp())).delete()


def is_too_often(what: str, who: str, most: int, seconds: int = HOUR) -> bool:
    """Count once more; whether that is more than `most` within this span of the clock."""
    key = salted_hmac("records.doors.often", f"{what} {who}", algorithm="sha256").hexdigest()
    span = end_of_span(seconds)
    if not Taken.objects.filter(key=key, span=span).update(count=F("count") + 1):
        forget_what_is_over()
        try:
            with transaction.atomic():
                Taken.objects.create(key=key, span=span, count=1)
        except IntegrityError:  # somebody counted at the same moment
            Taken.objects.filter(key=key, span=span).update(count=F("count") + 1)
    return Taken.objects.filter(key=key, span=span, count__gt=most).exists()


def is_used_up(what: str, who: str, most: int, seconds: int = HOUR) -> bool:
    """Whether it was counted `most` times within this span already. Counts nothing."""
    key = salted_hmac("records.doors.often", f"{what} {who}", algorithm="sha256").hexdigest()
    span = end_of_span(seconds)
    return Taken.objects.filter(key=key, span=span, count__gte=most).exists()


def refuse(request, what: str):
    """The page that says so, with the way out; status 429."""
    return render(request, "records/too_often.html", {"what": what}, status=429)


def at_most(most: int, what: str, *, methods=("POST",), seconds: int = HOUR):
    """A view that one account, or without one an address, may ask for so often an hour with these methods.

    `what` is said in words. Not for forms that a device sends by itself: what waits there must never be turned away.
    """

    def decorate(view):
        @wraps(view)
        def wrapped(request, *args, **kwargs):
            if request.method in methods:
                known = request.user.is_authenticated
                who = f"account {request.user.pk}" if known else f"address {address_of(request)}"
                if is_too_often(what, who, most, seconds):
                    return refuse(request, what)
            return view(request, *args, **kwargs)

        return wrapped

    return decorate


def guesses_used_up(request, what: str, most: int = 60) -> bool:
    """Whether this address has asked for so many addresses of secrets within the hour that were none."""
    return is_used_up(f"guess {what}", address_of(request), most)


def guessed_wrong(request, what: str) -> None:
    """Count an address of a secret that was none."""
    is_too_often(f"guess {what}", address_of(request), 0)
