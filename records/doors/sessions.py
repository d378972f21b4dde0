"""Sittings: a browser that is signed in, for so long at most, and for so long without being used.

The store of sessions in the database, with whose it is, since when, and when it was last used. That is written at
most once in five minutes, so that looking at a page writes nothing. Moments are real ones.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import DatabaseError

from records import clock
from records.models import Sitting

SEEN_EVERY = timedelta(minutes=5)


class SessionStore(DatabaseStore):
    """`is_use`: whether a request by it counts as using it; what a device asks by itself does not."""

    is_use = True
    _row = None

    @classmethod
    def get_model_class(cls):
        return Sitting

    def load(self):
        row = self.model.objects.filter(session_key=self.session_key, expire_date__gt=clock.real()).first()
        if row is None:
            self._session_key = None
            return {}
        self._row = row
        now = clock.real()
        if self.is_use and now - row.seen_at >= SEEN_EVERY:
            row.seen_at, row.expire_date = now, _ends(row.began_at, now)
            try:
                self.model.objects.filter(pk=row.pk).update(seen_at=now, expire_date=row.expire_date)
            except DatabaseError:
                pass  # a database that takes nothing now still lets people read; the sitting ends earlier
        return self.decode(row.session_data)

    def create_model_instance(self, data):
        """A sitting begins anew with whoever signs in."""
        account, now, row = data.get(SESSION_KEY), clock.real(), self._row
        account = int(account) if account else None
        goes_on = row is not None and row.account_id == account
        began = row.began_at if goes_on else now
        self._row = self.model(
            session_key=self._get_or_create_session_key(), session_data=self.encode(data), account_id=account,
            began_at=began, seen_at=now, expire_date=_ends(began, now),
        )  # fmt: skip
        return self._row

    def get_expiry_age(self, **_) -> int:
        """How long the browser keeps the cookie, in seconds; the store may end the sitting before."""
        return int(settings.SITTING_LONGEST.total_seconds())


def _ends(began, now):
    return min(began + settings.SITTING_LONGEST, now + settings.SITTING_IDLE)


class SittingMiddleware(SessionMiddleware):
    """What a device asks by itself, such as whether anything waits, keeps no sitting alive."""

    def process_request(self, request):
        super().process_request(request)
        request.session.is_use = request.path not in settings.SITTING_NOT_USED_BY


def of_account(account) -> list:
    """The sittings of an account that have not ended, the one used last first, each with what it said of itself."""
    rows = list(Sitting.objects.filter(account=account, expire_date__gt=clock.real()).order_by("-seen_at"))
    for row in rows:
        said = SessionStore().decode(row.session_data)
        row.device, row.address = said.get("device", ""), said.get("address", "")
    return rows


def end_all(account, but: str = "") -> int:
    """End every sitting of the account but the one of that key; the number of them."""
    return Sitting.objects.filter(account=account).exclude(session_key=but).delete()[0]
