"""Erasing a name on demand: an entry says who did it, when and why; the name itself is then gone from the record.

The digest of the name stays, so every entry that names the person still adds up, and nobody can tell the name from
it. What is not reached: names typed into free text, and files that were issued or filed.
"""

from __future__ import annotations

from records import access, clock
from records.models import Account, Entry, NameErasure, PersonText, fact_models

from . import may_be_logged
from .errors import NotYours, Problem
from .submission import answered, submission


def erase_name(*, by, request_key, organisation, name: PersonText, reason: str, asked_by: str = "") -> NameErasure:
    """Erase the name and enter that in the organisation's ledger, in one transaction.

    `by` manages the organisation, whose ledger names the person, or whose person it is. A name that was erased
    without an entry can be entered afterwards, with the day on which it was erased. Raises Refused, NotYours.
    """
    if not access.manages(by, organisation):
        raise NotYours(f"Only who says who belongs to {organisation} erases a name in its ledger.")
    if not (name.person.organisation_id == organisation.pk or _is_named(organisation, name)):
        raise NotYours(f"The ledger of {organisation} does not name this person.")
    zone = may_be_logged.zone_of(organisation)
    if not answered(by, request_key):
        may_be_logged.stop_on([*_problems(name, reason)])
    fields = {"name": name, "reason": reason, "asked_by": asked_by}
    with submission(organisation, by, request_key, "erasure of a name", fields) as s:
        if s.repeated:
            return s.first(NameErasure)
        day = name.erased_on or clock.today(zone)
        row = s.add(NameErasure(person=name.person, happened_on=day, zone=zone, **fields))
        PersonText.objects.filter(pk=name.pk).update(value="", salt="", erased_on=day)
    name.refresh_from_db()
    return row


def _problems(name: PersonText, reason: str):
    if not (reason or "").strip():
        yield Problem("reason", "Say why the name is erased: the record keeps the reason.")
    if NameErasure.objects.filter(name=name).exists():
        yield Problem("name", "This name was erased already, and an entry says so.")
    account = Account.objects.filter(person_id=name.person_id, is_active=True).first()
    if account is not None and name.erased_on is None and account.full_name == name.value:
        yield Problem(
            "name",
            f"The log-in “{account.username}” still signs with this name. Close it, or give it another name first.",
        )


def _is_named(organisation, name: PersonText) -> bool:
    """Whether an entry or a row of the organisation's ledger names the person so."""
    own = {"ledger__organisation": organisation}
    if Entry.objects.filter(logged_by=name, **own).exists():
        return True
    for model in fact_models():
        for field in model._meta.concrete_fields:
            if field.related_model is PersonText:
                where = {field.name: name, "entry__ledger__organisation": organisation}
                if model.objects.filter(**where).exists():
                    return True
    return False
