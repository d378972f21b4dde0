"""What a database holds: nothing, the demo, or something that the demo must not touch."""

from __future__ import annotations

from records.models import Account, Ledger, Organisation

from .story import Story


class ForeignData(Exception):
    """The database holds something that is not the demo."""


def state_of(story: Story) -> str:
    """ "empty" or "loaded". Raises ForeignData when it holds anything else; nothing is written."""
    own = {story.ref("organisation", o["slug"]) for o in story.organisations}
    there = dict(Organisation.objects.values_list("ref", "name"))
    foreign = sorted(name for ref, name in there.items() if ref not in own)
    if foreign:
        raise ForeignData(_words(f"“{foreign[0]}”" + (f" and {len(foreign) - 1} more" if foreign[1:] else "")))
    if not there:
        account = Account.objects.order_by("pk").first()
        if account is not None:
            raise ForeignData(_words(f"the log-in “{account.username}”"))
        return "empty"
    if set(there) != own or Ledger.objects.filter(number__gt=0).count() != len(own):
        raise ForeignData(_words("part of a demo"))
    return "loaded"


def _words(what: str) -> str:
    return (
        f"This database already holds {what}, which is not the demo. The demo is never mixed with real records, so "
        "nothing was loaded. Set STANDING_DATA to another, empty folder and run the command again, such as "
        "STANDING_DATA=/tmp/demo python manage.py demo"
    )
