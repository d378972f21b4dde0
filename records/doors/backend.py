"""Whose name and pass phrase fit, within limits. The only way to sign in with a pass phrase, whatever page asks."""

from __future__ import annotations

from django.contrib.auth.backends import ModelBackend
from django.core.exceptions import PermissionDenied

from records.models import Account

from . import events, throttle
from .where import address_of


class Door(ModelBackend):
    """Says on the request why not, as `request.door`: "held", with `request.door_until`, or "closed"."""

    def authenticate(self, request, username=None, password=None, **more):
        """The account, or None. Raises PermissionDenied while nothing is looked at, so that no other way is tried."""
        if request is None or not username or password is None:
            return None
        until = throttle.held_until(username, address_of(request))
        account = Account.objects.filter(username=username).first()
        if until is not None:
            request.door, request.door_until = "held", until
            _note_held(request, account, username)
            raise PermissionDenied
        if account is None:
            Account().set_password(password)  # takes as long as looking at one that is there
        elif account.check_password(password):
            if self.user_can_authenticate(account):
                return account
            request.door = "closed"
            events.note("closed", request, account=account)
            return None
        events.note("refused", request, account=account, name=username)
        return None

    def user_can_authenticate(self, user) -> bool:
        """Not a log-in that was closed, nor one of somebody who left and has nothing to open any more."""
        return user.is_active and not events.is_left(user)

    def get_user(self, user_id):
        """The account of a sitting. One query: that a place is left is asked of each page by itself."""
        user = Account.objects.filter(pk=user_id).first()
        return user if user is not None and user.is_active else None


def _note_held(request, account, name: str) -> None:
    """Once for each time that it is held, so that trying on and on fills nothing."""
    last = events.DoorEvent.objects.filter(name=events.digest_of_name(name), address=address_of(request))
    newest = last.order_by("-at", "-pk").values_list("what", flat=True).first()
    if newest != "held back":
        events.note("held back", request, account=account, name=name)
