"""The first person, company and clinic of an empty database: all of it in one transaction, through `records.log`."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from django.contrib.auth.models import Permission
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from records import log
from records.ledger import triggers
from records.models import Account, Clinic, Entry, Organisation, ServiceCompany

# Under this each opening has its key, so that the same beginning has the same keys whenever it is asked for.
_KEYS = uuid.UUID("5f0c1a53-7c0e-4b8e-9a0d-0f6f6a3d2b11")


class NotEmpty(Exception):
    """The database holds people or organisations already: it was begun before, or it is another one's."""


@dataclass(frozen=True, slots=True)
class Named:
    """What an organisation is called: in words, and in addresses."""

    name: str
    slug: str

    def key(self, what: str) -> uuid.UUID:
        return uuid.uuid5(_KEYS, f"{what}/{self.slug}/{self.name}")


@dataclass(frozen=True, slots=True)
class Beginning:
    """At least one of `company` and `clinic`; `terms` are the clinic's `ClinicTerms` fields but its name.

    `since` is the first day of all of it. `looks`: the person may also look at all records on the administrator's
    site, and change nothing there.
    """

    username: str
    first_name: str
    last_name: str
    company: Named | None
    clinic: Named | None
    terms: dict | None
    since: date
    looks: bool = False

    @property
    def keys(self) -> list[uuid.UUID]:
        pairs = (("company", self.company), ("clinic", self.clinic))
        return [named.key(what) for what, named in pairs if named is not None]


@dataclass(frozen=True, slots=True)
class Begun:
    account: Account
    company: ServiceCompany | None
    clinic: Clinic | None


def is_there() -> bool:
    """Whether there may be a database: opening an embedded one that is not there makes its file."""
    return connection.vendor != "sqlite" or Path(connection.settings_dict["NAME"]).exists()


def is_set_up() -> bool:
    """Whether every migration is applied and the tables protect what is in them."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return False
    return not triggers.missing(connection)


def refuse_unless_empty(wanted: Beginning | None = None) -> None:
    """Raises NotEmpty. A database without tables is empty."""
    try:
        names = list(Organisation.objects.order_by("pk").values_list("name", flat=True)[:3])
        people = list(Account.objects.order_by("pk").values_list("username", flat=True)[:3])
    except DatabaseError:
        return
    if not names and not people:
        return
    held = ", ".join([*(f"“{name}”" for name in names), *(f"the log-in “{name}”" for name in people)])
    if wanted is not None and _was_begun(wanted):
        raise NotEmpty(
            f"This was begun already, just so: the database holds {held}. Nothing was written again. "
            f"Sign in as “{wanted.username}” and go on."
        )
    raise NotEmpty(
        f"This database holds {held} already, and one is begun once; nothing was written. To go on with it, sign in: "
        "people come in by invitation, and a company's dispatcher opens further clinics on the company's page. For a "
        "record of its own, name another, empty folder, such as STANDING_DATA=$HOME/standing (on PostgreSQL another "
        "PGDATABASE), and run the command again. Never mix the demo with real records."
    )


def _was_begun(wanted: Beginning) -> bool:
    entries = Entry.objects.filter(request_key__in=wanted.keys, account__username=wanted.username)
    return entries.count() == len(wanted.keys) == Organisation.objects.count()


def begin(wanted: Beginning, phrase: str) -> Begun:
    """Write all of it or nothing. Raises NotEmpty, or what the writers raise.

    With a company the person is its dispatcher, and a clinic beside it is one that the company serves: it waits for a
    coordinator of its own. With a clinic alone the person is its coordinator.
    """
    with transaction.atomic():
        refuse_unless_empty(wanted)
        account = Account.objects.create_user(
            wanted.username, password=phrase, first_name=wanted.first_name, last_name=wanted.last_name
        )
        if wanted.looks:
            _let_look(account)
        company = _company(wanted, account) if wanted.company else None
        clinic = _clinic(wanted, account, company) if wanted.clinic else None
    return Begun(account, company, clinic)


def _company(wanted: Beginning, account: Account) -> ServiceCompany:
    named = wanted.company
    return log.open_company(
        by=account, request_key=named.key("company"), slug=named.slug, name=named.name, effective_on=wanted.since
    )


def _clinic(wanted: Beginning, account: Account, company: ServiceCompany | None) -> Clinic:
    named = wanted.clinic
    common = {
        "by": account, "request_key": named.key("clinic"), "slug": named.slug, "name": named.name,
        "effective_on": wanted.since, "terms": wanted.terms,
    }  # fmt: skip
    return log.open_served_clinic(company=company, **common) if company else log.open_clinic(**common)


def _let_look(account: Account) -> None:
    account.is_staff = True
    account.save(update_fields=["is_staff"])
    looking = Permission.objects.filter(content_type__app_label="records", codename__startswith="view_")
    account.user_permissions.set(looking)
