"""One clinic's binder made in a process of its own. Importing this needs no Django: nothing is set up by then."""

from __future__ import annotations

import hashlib
import logging
import time
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

LOG = logging.getLogger("audit.issue.jobs")


@dataclass(frozen=True, slots=True)
class Order:
    """One clinic's binder. `as_of` None is the clinic's own day of `known_at`, or today.

    `by` is the account that issues it, "" when it is only made and signed.
    """

    slug: str
    from_on: date
    to_on: date
    as_of: date | None
    known_at: datetime | None
    page: str
    file: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """`problem` says why there is no file and the way out, "" when there is one. `entry` is None: not issued."""

    slug: str
    file: str
    pages: int = 0
    seconds: float = 0.0
    sha256: str = ""
    forbidding: int = 0
    entry: int | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """What a new process must know to stand where this one stands: the database, the folders, the moment."""

    database: str
    folders: dict = field(default_factory=dict)
    moment: datetime | None = None


FOLDERS = ("DATA_DIR", "BLOBS_DIR", "SEAL_DIR")


def here() -> Place:
    """Where this process stands."""
    from django.conf import settings
    from django.db import connection

    from records import clock

    folders = {name: str(getattr(settings, name)) for name in FOLDERS}
    return Place(str(connection.settings_dict["NAME"]), folders, clock.stands())


def stand(place: Place) -> None:
    """Set up a new process to stand there."""
    import django
    from django.conf import settings

    settings.DATABASES["default"]["NAME"] = place.database
    for name, folder in place.folders.items():
        setattr(settings, name, Path(folder))
    django.setup()

    from records import clock

    clock.stand_at(place.moment)


def make_one(order: Order) -> Outcome:
    """Make, sign, enter if somebody issues it, write the file. Never raises: what went wrong is in the outcome."""
    from audit.issue.files import NotWritten

    from .run import NotMade

    started = time.monotonic()
    try:
        return _made(order, started)
    except (NotMade, NotWritten) as problem:
        return Outcome(order.slug, order.file, problem=str(problem))
    except Exception as fault:
        LOG.exception("The binder of %s failed.", order.slug)
        return Outcome(
            order.slug,
            order.file,
            problem=f"The program has a fault ({type(fault).__name__}: {fault}). Make this clinic's binder alone to "
            "see it whole, and show it to whoever looks after the program.",
        )


def _made(order: Order, started: float) -> Outcome:
    from audit.issue.files import write_whole
    from audit.issue.wish import Wish
    from records import clock
    from records.log.may_be_logged import zone_of
    from records.models import Account, Clinic

    from . import run

    clinic = Clinic.objects.get(slug=order.slug)
    account = Account.objects.get(username=order.by) if order.by else None
    if account:
        run.refuse_without_rights(account, clinic)
    as_of = order.as_of or clock.local_day(order.known_at or clock.now(), zone_of(clinic))
    wish = Wish(order.from_on, order.to_on, as_of, order.known_at, order.page)
    signed = run.make_signed(clinic, account, wish, lambda done, total, what: None)
    entry = None
    if account:
        entry = run.enter(signed, wish, clinic=clinic, account=account, request_key=run.new_key()).entry.number
    write_whole(Path(order.file), signed.content)
    return Outcome(
        order.slug,
        order.file,
        pages=signed.made.pages,
        seconds=time.monotonic() - started,
        sha256=hashlib.sha256(signed.content).hexdigest(),
        forbidding=signed.made.binder.forbidding,
        entry=entry,
    )
