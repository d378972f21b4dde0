"""How often somebody may try a pass phrase or a code: by name and address together, by name, and by address.

NIST SP 800-63B-4, section 3.2.2, allows at most 100 failed attempts in a row on one account; OWASP ASVS 4.0.3, 2.2.1,
at most 100 an hour. The numbers here are lower; that they are these is common practice, no source. A name is held for
one address long before it is held for all: else whoever knows a name could keep its person out.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q

from records import clock
from records.models import DoorEvent

from .events import digest_of_name

REFUSED = (
    "refused", "code refused", "signature refused", "pass phrase refused", "passkey refused",
    "passkey counter went back",
)  # fmt: skip
SHORT, LONG = timedelta(minutes=15), timedelta(hours=1)
MOST_OF_BOTH = 5  # refusals of one name from one address since it last got in, within SHORT
MOST_OF_ADDRESS = 60  # refusals from one address, whatever the names, within SHORT
MOST_OF_NAME = 30  # refusals of one name, from wherever, within LONG


def held_until(name: str, address: str) -> datetime | None:
    """Until when nothing that is typed for this name from this address is looked at; None when it may be tried.

    One query. What is refused while held does not count, so waiting always helps.
    """
    now, digest = clock.real(), digest_of_name(name)
    mine = Q(name=digest) | (Q(address=address) if address else Q(pk=None))
    rows = DoorEvent.objects.filter(mine, at__gt=now - LONG, what__in=(*REFUSED, "signed in")).order_by("at", "pk")
    rows = list(rows.values_list("name", "address", "what", "at"))
    both, of_name, of_address = [], [], []
    for its_name, its_address, what, at in rows:
        if what == "signed in":
            if its_name == digest and its_address == address:
                both.clear()
            continue
        if its_name == digest:
            of_name.append(at)
        if its_address == address and at > now - SHORT:
            of_address.append(at)
            if its_name == digest:
                both.append(at)
    ends = [
        _end(both, MOST_OF_BOTH, SHORT),
        _end(of_address, MOST_OF_ADDRESS, SHORT),
        _end(of_name, MOST_OF_NAME, LONG),
    ]
    until = max((end for end in ends if end is not None), default=None)
    return until if until is not None and until > now else None


def _end(refusals: list[datetime], most: int, span: timedelta) -> datetime | None:
    """When the oldest of the last `most` refusals is out of the span; None when there are fewer."""
    return refusals[-most] + span if len(refusals) >= most else None


def in_words(until: datetime) -> str:
    """How long to wait, rounded up."""
    minutes = max(1, -int((clock.real() - until).total_seconds() // 60))
    return f"{minutes} minute{'s' if minutes > 1 else ''}"
