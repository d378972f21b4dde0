"""Mail about somebody's own log-in: sent apart from the page, so that how long it takes says nothing."""

from __future__ import annotations

import threading

from django.conf import settings
from django.core.mail import EmailMessage

# What its person is told of at once: it changes how one gets in, or shows that somebody else may have.
TOLD = frozenset({
    "pass phrase changed", "pass phrase reset", "second factor set up", "second factor taken away",
    "recovery code used", "mail address changed", "recovery codes made anew", "passkey added", "passkey removed",
    "passkey counter went back",
})  # fmt: skip
TEXT = """For {name}.

At {site}, for your log-in: {what}, on {at:%Y-%m-%d %H:%M} UTC, with {device} from {address}.

If that was you, do nothing. If it was not, choose a new pass phrase at once with “I have forgotten my pass phrase” on
the sign-in page, end all other sittings on the page “My log-in”, and tell whoever manages the people of your place.
"""


def send_apart(message: EmailMessage) -> None:
    """Send it by a thread of its own; what goes wrong with it is nobody's on this page."""
    threading.Thread(target=message.send, kwargs={"fail_silently": True}, name="mail", daemon=True).start()


def tell(event, to: str) -> None:
    """Tell the person of the event at this address, where it is one to tell of and there is an address."""
    if event.account is None or not to or event.what not in TOLD:
        return
    text = TEXT.format(
        name=event.account.full_name, site=settings.SITE_ADDRESS, what=event.what, at=event.at,
        device=event.device, address=event.address or "an address that is not known",
    )  # fmt: skip
    send_apart(EmailMessage(f"Your log-in: {event.what}", text, to=[to]))
